//! One clip through the networks: a decoder thread, a bounded queue, the landmark network from
//! frame to frame, and the torso network beside it when there are threads to spare.

use std::path::Path;

use crossbeam_channel::{Receiver, Sender, bounded};

use super::choose::{Among, Chosen, who_swings};
use super::error::PoseError;
use super::observation::{Observation, TorsoReading, ViewTrack};
use super::oddness::oddness;
use super::search::Finder;
use super::session::{self, ModelFiles};
use super::torso;
use super::tracker::{Crop, Tracker};
use super::upright::{Lie, lie};
use crate::clip::{
    ClipError, ClipInfo, Frame, FrameReader, Strike, breaks_off, find_strikes, probe, read_sound,
};
use crate::config::checksum::sha256;
use crate::config::{ClipConfig, Pipeline};
use crate::file_error::At;
use crate::progress::{Cancel, Progress};
use crate::warning::Warning;

/// Fewest frames that can hold a swing.
const FEWEST_FRAMES: usize = 10;

/// How a clip is to be read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Read every frame, also where nothing moves.
    pub every_frame: bool,
    /// Threads for networks (decoding has its own).
    pub jobs: usize,
    /// Only this part of the clip, from and to, seconds of playback. Times stay the clip's own.
    pub part: Option<(f64, f64)>,
}

/// Runs all networks over a clip.
///
/// # Errors
/// [`PoseError`]: the clip can't be read, a network is missing, nobody is in the picture, or it was stopped.
pub fn observe(
    path: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    reading: Reading,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<ViewTrack, PoseError> {
    let (from_s, to_s) = reading.part.unwrap_or((0.0, f64::INFINITY));
    let info = probe(path, &pipeline.clip)?;
    let sha256 = sha256(path).at(path).map_err(ClipError::Io)?;
    let mut strikes = read_sound(path, &pipeline.clip)?
        .map_or_else(Vec::new, |s| find_strikes(&s, &pipeline.clip));
    strikes.retain(|s| (from_s..=to_s).contains(&s.time_s));
    let name = path
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let total = info
        .duration_s
        .map(|d| ((d.min(to_s) - from_s).max(0.0) * info.fps).round() as u64);
    progress.begin(&name, total);
    let clip = Clip {
        path,
        files,
        pipeline,
        reading,
        span_s: (from_s, to_s),
        name: &name,
    };
    let mut finder = Finder::open(files, &pipeline.pose)?;
    let among = |among, finder: &mut Finder<'_>| {
        who_swings(
            path,
            (&pipeline.clip, &pipeline.pose),
            (from_s, to_s),
            among,
            finder,
            cancel,
        )
    };
    let chosen = among(Among::First, &mut finder)?;
    let mut pass = clip.follow(chosen, finder, progress, cancel)?;
    if chosen.is_none_or(|c| c.people < 2) && pass.tracker.others && pass.end.is_ok() {
        // Somebody came to be seen later: whoever swings is the golfer.
        let found = among(Among::All, &mut pass.tracker.finder)?;
        if let Some(other) = found.filter(|c| !pass.followed(c)) {
            progress.begin(&name, total);
            let finder = pass.tracker.finder;
            pass = clip.follow(Some(other), finder, progress, cancel)?;
        }
    }
    finish(path, info, sha256, strikes, pass, pipeline)
}

/// A clip that is read, perhaps more than once.
struct Clip<'a> {
    path: &'a Path,
    files: &'a ModelFiles,
    pipeline: &'a Pipeline,
    reading: Reading,
    span_s: (f64, f64),
    name: &'a str,
}

/// What following one person through the clip gave.
struct Pass<'a> {
    tracker: Tracker<'a>,
    observations: Vec<Observation>,
    readings: Vec<(usize, Option<TorsoReading>)>,
    end: Result<(), PoseError>,
}

impl Pass<'_> {
    /// Whether this is the person who was followed.
    fn followed(&self, chosen: &Chosen) -> bool {
        let then = self
            .observations
            .iter()
            .filter(|o| o.time_s >= chosen.since_s)
            .find_map(|o| o.person.as_ref());
        then.is_some_and(|p| p.region.holds_whom(&chosen.region))
    }
}

impl<'a> Clip<'a> {
    /// Follows the golfer, who was chosen or is the likeliest, through all networks.
    fn follow(
        &self,
        chosen: Option<Chosen>,
        finder: Finder<'a>,
        progress: &dyn Progress,
        cancel: &Cancel,
    ) -> Result<Pass<'a>, PoseError> {
        let (path, files, pipeline, name) = (self.path, self.files, self.pipeline, self.name);
        let Reading {
            every_frame, jobs, ..
        } = self.reading;
        let (from_s, to_s) = self.span_s;
        let mut tracker = Tracker::new(finder, &pipeline.pose, every_frame);
        if let Some(chosen) = chosen {
            tracker.start_from(chosen);
        }
        let torso_session = session::open(
            &files.torso,
            &files.runtime,
            &["rotation", "log_sigma", "points", "log_b"],
        )?;
        let (frames_in, frames) = bounded::<Result<Frame, ClipError>>(pipeline.clip.queue_frames);
        let (crops_in, crops) = bounded::<Crop>(pipeline.clip.queue_frames);
        let mut observations = Vec::new();
        let mut end: Result<(), PoseError> = Ok(());
        let readings = std::thread::scope(|scope| {
            // The scaler may not change threads, so the reader is opened where it is used.
            scope.spawn(move || decode(path, &pipeline.clip, (from_s, to_s), &frames_in));
            let mut inline: Vec<(usize, Option<TorsoReading>)> = Vec::new();
            let mut session = Some(torso_session);
            let worker = session
                .take_if(|_| jobs > 1)
                .map(|mut session| scope.spawn(move || torso_worker(&mut session, &crops)));
            let crops_in = worker.is_some().then_some(crops_in);
            for frame in frames.iter() {
                if cancel.requested() {
                    end = Err(PoseError::Stopped);
                }
                if end.is_err() {
                    break;
                }
                let step = frame.map_err(PoseError::from).and_then(|frame| {
                    let (observation, mut crop) = tracker.step(frame)?;
                    if let Some(c) = &mut crop {
                        // The frame keeps its number in the clip; readings find their observation.
                        c.index = observations.len();
                    }
                    match (crop, &crops_in, &mut session) {
                        (Some(crop), Some(queue), _) => {
                            // The worker only goes away with an error of its own, told below.
                            let _ = queue.send(crop);
                        }
                        (Some(crop), None, Some(s)) => {
                            inline.push((
                                crop.index,
                                torso::read(s, &crop.image, &crop.region, crop.images)?,
                            ));
                        }
                        _ => {}
                    }
                    Ok(observation)
                });
                match step {
                    Ok(o) => {
                        observations.push(o);
                        progress.advance(name, observations.len() as u64);
                    }
                    Err(e) => end = Err(e),
                }
            }
            // Dropping the receiver ends the decoder; dropping the sender ends the worker.
            drop(frames);
            drop(crops_in);
            match worker.map(std::thread::ScopedJoinHandle::join) {
                Some(Ok(result)) => result,
                Some(Err(_)) => Err(PoseError::Network(
                    "the torso worker stopped unexpectedly".into(),
                )),
                None => Ok(inline),
            }
        });
        Ok(Pass {
            tracker,
            observations,
            readings: readings?,
            end,
        })
    }
}

/// Gathers what one clip gave.
fn finish(
    path: &Path,
    info: ClipInfo,
    sha256: String,
    strikes: Vec<Strike>,
    pass: Pass<'_>,
    pipeline: &Pipeline,
) -> Result<ViewTrack, PoseError> {
    let Pass {
        tracker,
        mut observations,
        readings,
        end,
    } = pass;
    let mut warnings = tracker.warnings();
    match end {
        Ok(()) => {}
        // A clip that breaks off still counts when it holds enough.
        Err(PoseError::Clip(e @ ClipError::Decode { .. }))
            if observations.len() >= FEWEST_FRAMES =>
        {
            warnings.push(Warning::new(
                "clip_breaks_off",
                format!("{e} What came before was measured."),
            ));
        }
        Err(e) => return Err(e),
    }
    for (index, reading) in readings {
        if let Some(p) = observations.get_mut(index).and_then(|o| o.person.as_mut()) {
            p.torso = reading;
        }
    }
    // A frame that repeats its neighbour repeats its reading.
    for i in 1..observations.len() {
        if let Some([before, now]) = observations.get_mut(i - 1..=i)
            && now.repeated
            && before.person.is_some()
        {
            now.person.clone_from(&before.person);
        }
    }
    if observations.is_empty() {
        return Err(ClipError::NoPictures(path.to_owned()).into());
    }
    if observations.len() < FEWEST_FRAMES {
        return Err(ClipError::TooShort {
            path: path.to_owned(),
            frames: observations.len(),
        }
        .into());
    }
    if seen_s(&observations) < pipeline.pose.min_seen_s {
        return Err(PoseError::Nobody(path.to_owned()));
    }
    match lie(&observations) {
        Lie::Upright => {}
        Lie::Sideways => return Err(PoseError::Sideways(path.to_owned())),
        Lie::UpsideDown => return Err(PoseError::UpsideDown(path.to_owned())),
    }
    if let Some(odd) = oddness(&observations, &pipeline.odd).filter(|odd| odd.ratio > 1.0) {
        let file = path
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        warnings.push(Warning::new(
            "odd_pictures",
            format!(
                "{file}: the pictures are unlike those that the networks learned from: {}. The numbers may be further off than their intervals say. Film nearer, sharper, in better light, head to feet.",
                odd.why
            ),
        ));
    }
    if breaks_off(path) && warnings.iter().all(|w| w.code != "clip_breaks_off") {
        warnings.push(Warning::new(
            "clip_breaks_off",
            format!(
                "{}: the file breaks off before its end. What is there was measured; copy it from the phone again for the rest.",
                path.display()
            ),
        ));
    }
    Ok(ViewTrack {
        info,
        sha256,
        observations,
        strikes,
        people_seen: tracker.people_seen,
        warnings,
    })
}

fn decode(
    path: &Path,
    config: &ClipConfig,
    (from_s, to_s): (f64, f64),
    queue: &Sender<Result<Frame, ClipError>>,
) {
    let reader = match FrameReader::open(path, config) {
        Ok(reader) => reader,
        Err(error) => {
            // The other side went away: nobody is left to tell.
            let _ = queue.send(Err(error));
            return;
        }
    };
    for frame in reader {
        match &frame {
            Ok(f) if f.time_s < from_s => continue,
            Ok(f) if f.time_s > to_s => return,
            _ => {}
        }
        // The other side went away: it stopped or failed, and tells so itself.
        if queue.send(frame).is_err() {
            return;
        }
    }
}

fn torso_worker(
    session: &mut ort::session::Session,
    crops: &Receiver<Crop>,
) -> Result<Vec<(usize, Option<TorsoReading>)>, PoseError> {
    crops
        .iter()
        .map(|c| {
            Ok((
                c.index,
                torso::read(session, &c.image, &c.region, c.images)?,
            ))
        })
        .collect()
}
/// How long somebody is seen, seconds of playback.
fn seen_s(observations: &[Observation]) -> f64 {
    observations
        .array_windows()
        .filter(|[o, _]| o.person.is_some())
        .map(|[o, next]| next.time_s - o.time_s)
        .sum()
}
