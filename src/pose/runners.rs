//! Threads that run the torso network, shared by the clips that are read at the same time: while one
//! view is through, all of them work for the other.

use std::collections::BTreeMap;
use std::thread::JoinHandle;

use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use ort::session::Session;

use super::contradiction::Contradiction;
use super::error::PoseError;
use super::flips::FlipAugmentation;
use super::observation::Region;
use super::session::ModelFiles;
use super::torso::{self, Read};
use crate::config::PoseConfig;

/// What came of a crop, with the number that it was sent under.
type Back = (usize, Result<Read, PoseError>);

/// A crop that waits for the torso network.
struct Job {
    number: usize,
    rows: Vec<f32>,
    region: Region,
    images: FlipAugmentation,
    contradicted: bool,
    back: Sender<Back>,
}

/// The threads.
pub struct Runners {
    queue: Option<Sender<Job>>,
    threads: Vec<JoinHandle<()>>,
    gives_landmarks: bool,
    hold_three: bool,
}

/// Crops that wait for each thread; one is 0.8 MB.
const WAITING: usize = 4;

impl Runners {
    /// Threads for the network, `count` of them, at least one.
    ///
    /// # Errors
    /// [`PoseError`] where it can't be opened.
    pub fn start(files: &ModelFiles, count: usize) -> Result<Self, PoseError> {
        let count = count.max(1);
        // The first tells what the file holds. The others are opened where the first crop comes: a clip that is
        // refused before costs neither their time nor their memory.
        let first = torso::open(files)?;
        let (gives_landmarks, hold_three) =
            (torso::gives_landmarks(&first), torso::holds_three(&first));
        let (queue, jobs) = bounded::<Job>(WAITING * count);
        let mut sessions = vec![Some(first)];
        sessions.resize_with(count, || None);
        let threads = sessions
            .into_iter()
            .map(|session| {
                let (jobs, files) = (jobs.clone(), files.clone());
                std::thread::spawn(move || work(session, &files, &jobs))
            })
            .collect();
        Ok(Self {
            queue: Some(queue),
            threads,
            gives_landmarks,
            hold_three,
        })
    }

    /// Whether the network reads landmarks beside the torso, so that it can follow a golfer alone.
    pub(super) fn give_landmarks(&self) -> bool {
        self.gives_landmarks
    }

    /// A way to send crops and to have the readings back.
    pub(super) fn lane(&self, config: &PoseConfig) -> Lane<'_> {
        let (back, done) = unbounded();
        let watch = self.hold_three && config.mirror_average;
        Lane {
            runners: self,
            back,
            done,
            sent: 0,
            runs: 0,
            contradiction: watch.then(|| Contradiction::new(config)),
            by_second: BTreeMap::new(),
            contradicted: false,
        }
    }
}

impl Drop for Runners {
    fn drop(&mut self) {
        self.queue = None;
        for thread in self.threads.drain(..) {
            // A thread that panicked gave no reading, which was told where it was missed.
            let _ = thread.join();
        }
    }
}

fn work(mut session: Option<Session>, files: &ModelFiles, jobs: &Receiver<Job>) {
    for job in jobs {
        let read = opened(&mut session, files).and_then(|session| {
            let (rows, region) = (&job.rows, &job.region);
            torso::read_crop(session, rows, region, job.images, job.contradicted)
        });
        // Whoever asked may have gone away.
        let _ = job.back.send((job.number, read));
    }
}

/// The session, opened where it is not yet.
fn opened<'s>(
    session: &'s mut Option<Session>,
    files: &ModelFiles,
) -> Result<&'s mut Session, PoseError> {
    match session {
        Some(session) => Ok(session),
        none => Ok(none.insert(torso::open(files)?)),
    }
}

/// One clip's crops on their way.
pub(super) struct Lane<'a> {
    runners: &'a Runners,
    back: Sender<Back>,
    done: Receiver<Back>,
    sent: usize,
    /// Runs of the network that were asked for so far.
    pub runs: usize,
    /// How far two networks contradict each other, where the file holds a third for that.
    contradiction: Option<Contradiction>,
    /// Crops that the second network read while that is asked, and what was to be read of them.
    by_second: BTreeMap<usize, FlipAugmentation>,
    /// The third network reads what was the second's.
    contradicted: bool,
}

impl Lane<'_> {
    /// Sends a crop; waits while enough are waiting.
    pub fn send(
        &mut self,
        number: usize,
        rows: Vec<f32>,
        region: Region,
        images: FlipAugmentation,
    ) -> Result<(), PoseError> {
        let wanted = images;
        let images = match self.contradiction.as_mut() {
            Some(c) => c.images(wanted),
            None => wanted,
        };
        if self.contradiction.is_some() && images != FlipAugmentation::Plain {
            self.by_second.insert(number, wanted);
        }
        let job = Job {
            number,
            rows,
            region,
            images,
            contradicted: self.contradicted,
            back: self.back.clone(),
        };
        let sent = self.runners.queue.as_ref().map(|q| q.send(job).is_ok());
        self.sent += 1;
        self.runs += images.runs();
        sent.filter(|ok| *ok).map(|_| ()).ok_or_else(stopped)
    }

    /// Reads one crop and waits for it. Nothing else of this lane may be under way.
    pub fn read(
        &mut self,
        rows: Vec<f32>,
        region: Region,
        images: FlipAugmentation,
    ) -> Result<Read, PoseError> {
        self.send(0, rows, region, images)?;
        self.readings()?.pop().map(|r| r.1).ok_or_else(stopped)
    }

    /// The readings of all that was sent since the last time.
    pub fn readings(&mut self) -> Result<Vec<(usize, Read)>, PoseError> {
        // A thread that died gives nothing back, and no other sender keeps this waiting.
        let (back, done) = unbounded();
        drop(std::mem::replace(&mut self.back, back));
        let done = std::mem::replace(&mut self.done, done);
        let all = done
            .iter()
            .map(|(number, read)| Ok((number, read?)))
            .collect::<Result<Vec<_>, PoseError>>()?;
        if let Some(c) = self.contradiction.as_mut() {
            c.take(all.iter().filter_map(|(_, read)| read.apart_rad));
        }
        let sent = std::mem::take(&mut self.sent);
        if all.len() == sent {
            Ok(all)
        } else {
            Err(stopped())
        }
    }
}

impl Lane<'_> {
    /// Leaves what is the second network's to the third from now on where it and the first contradict each other
    /// over what was read so far: then the numbers of crops that the second one read, and what was to be read of
    /// them, for they are to be read again.
    pub fn leave_second(&mut self) -> Option<BTreeMap<usize, FlipAugmentation>> {
        self.contradiction.take_if(|c| c.is_far())?;
        tracing::debug!("the networks contradict each other: the third reads for the second");
        self.contradicted = true;
        Some(std::mem::take(&mut self.by_second))
    }
}

fn stopped() -> PoseError {
    PoseError::Network("a thread that ran the torso network stopped unexpectedly".into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_lanes_have_their_own_readings_back_whoever_ran_them() {
        let files = ModelFiles::find().expect("the models");
        let runners = Runners::start(&files, 2).expect("they start");
        let config = crate::config::Pipeline::from_text("").expect("valid").pose;
        let region = Region {
            centre_px: [128.0; 2],
            side_px: 256.0,
            roll_rad: 0.0,
        };
        let crop = |shade: f32| vec![shade; 3 * torso::INPUT * torso::INPUT];
        std::thread::scope(|scope| {
            for lane in 0..2usize {
                let (runners, config) = (&runners, &config);
                scope.spawn(move || {
                    let mut mine = runners.lane(config);
                    for round in 0..2 {
                        let numbers: Vec<usize> =
                            (0..3).map(|k| 100 * lane + 10 * round + k).collect();
                        for n in &numbers {
                            mine.send(*n, crop(*n as f32 / 255.0), region, FlipAugmentation::Plain)
                                .expect("sent");
                        }
                        let mut back = mine.readings().expect("read");
                        back.sort_by_key(|r| r.0);
                        assert_eq!(back.iter().map(|r| r.0).collect::<Vec<_>>(), numbers);
                        assert!(back.iter().all(|r| r.1.torso.is_some()));
                    }
                });
            }
        });
    }
}
