//! One clip through the networks: in passes over chosen frames where its clock allows it, else, or where
//! that was asked for, every frame from a decoder thread with a bounded queue. The landmark network
//! goes from frame to frame, the torso network runs beside it on threads of its own.

use std::path::Path;

use crossbeam_channel::{Sender, bounded};

use super::choose::{Among, Chosen, Looked, who_swings};
use super::error::PoseError;
use super::grid::Grid;
use super::observation::{Observation, ViewTrack};
use super::oddness::oddness;
use super::passes::Passes;
use super::reading::{Clip, Pass, Reading};
use super::runners::Lane;
use super::search::Finder;
use super::session::ModelFiles;
use super::tracker::{Pace, Tracker};
use super::upright::{BodyTilt, body_tilt};
use crate::clip::{
    ClipError, ClipInfo, Frame, FrameReader, FrameTimes, Strike, breaks_off, find_strikes, probe,
    read_sound,
};
use crate::config::checksum::sha256;
use crate::config::{ClipConfig, Pipeline};
use crate::file_error::At;
use crate::progress::{Cancel, Progress};
use crate::warning::{ODD_PICTURES, Warning};

/// Fewest frames that can hold a swing.
const FEWEST_FRAMES: usize = 10;

/// Runs all networks over a clip.
///
/// # Errors
/// [`PoseError`] where the clip can't be read, nobody is in it, a network fails, or it was stopped.
pub fn observe(
    path: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    reading: Reading<'_>,
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
        pipeline,
        reading,
        span_s: (from_s, to_s),
        name: &name,
    };
    let times = if reading.every_frame {
        None
    } else {
        FrameTimes::read(path)?
    };
    let sparse = times
        .as_ref()
        .and_then(|t| Some((t, Grid::of(t, &pipeline.pose)?)));
    let follow = |chosen, finder: &mut Finder<'_>| {
        if let Some(sparse) = sparse {
            let passes = Passes::new(&clip, sparse, chosen, finder);
            if let Some(pass) = passes.run(&strikes, progress, cancel)? {
                return Ok(pass);
            }
        }
        clip.follow(chosen, finder, &strikes, progress, cancel)
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
    let swings = |pass: &Pass| (reading.shows)(&pass.observations, &strikes, pipeline);
    let may_swing = |one: &Looked| (reading.may_show)(&one.looks, &strikes, pipeline);
    let first = among(Among::First, &mut finder)?;
    let chosen = first.order.first().map(|golfer| golfer.chosen);
    // Where as many as can be were followed, looking again would show the same people.
    let mut all = first.full.then_some(first.order);
    let mut pass = follow(chosen, &mut finder)?;
    if chosen.is_none_or(|c| c.people < 2)
        && pass.others
        && pass.end.is_ok()
        && let Some(known) = pass.first_region()
    {
        // Somebody came to be seen later: whoever swings is the golfer.
        let found = among(Among::All(known), &mut finder)?.order;
        let other = found.iter().find(|one| may_swing(one));
        if let Some(other) = other.filter(|one| !pass.followed(&one.chosen)) {
            progress.begin(&name, total);
            pass = follow(Some(other.chosen), &mut finder)?;
        }
        all = Some(found);
    }
    if pass.end.is_ok()
        && let Some(known) = pass.first_region()
        && !swings(&pass)
    {
        // Perhaps the golfer is somebody smaller, behind who is nearer to the camera.
        let found = match all {
            Some(found) => found,
            None => {
                finder.forget();
                among(Among::All(known), &mut finder)?.order
            }
        };
        let others: Vec<Chosen> = found
            .iter()
            .filter(|one| !pass.followed(&one.chosen) && may_swing(one))
            .map(|one| one.chosen)
            .collect();
        tracing::debug!(of = found.len(), may = others.len(), "others who may swing");
        for other in others.into_iter().take(pipeline.pose.most_others) {
            progress.begin(&name, total);
            let next = follow(Some(other), &mut finder)?;
            if next.end.is_ok() && swings(&next) {
                pass = next;
                break;
            }
        }
    }
    finish(path, info, sha256, strikes, pass, pipeline)
}

impl Clip<'_> {
    /// Follows the golfer, who was chosen or is the likeliest, through all frames.
    fn follow(
        &self,
        chosen: Option<Chosen>,
        finder: &mut Finder<'_>,
        strikes: &[Strike],
        progress: &dyn Progress,
        cancel: &Cancel,
    ) -> Result<Pass, PoseError> {
        let mut lane = self.lane();
        let pass = self.follow_by(&mut lane, chosen, finder, progress, cancel)?;
        let may = || (self.reading.may_show)(&pass.observations, strikes, self.pipeline);
        if pass.end.is_err() || !may() || lane.leave_second().is_none() {
            return Ok(pass);
        }
        self.follow_by(&mut lane, chosen, finder, progress, cancel)
    }

    fn follow_by(
        &self,
        lane: &mut Lane<'_>,
        chosen: Option<Chosen>,
        finder: &mut Finder<'_>,
        progress: &dyn Progress,
        cancel: &Cancel,
    ) -> Result<Pass, PoseError> {
        let (path, config, name) = (self.path, &self.pipeline.clip, self.name);
        let pace = if self.reading.every_frame {
            Pace::Every
        } else {
            Pace::Moving
        };
        let mut tracker = Tracker::new(finder, pace, self.one_network());
        if let Some(chosen) = chosen {
            tracker.start_from(chosen);
        }
        let (frames_in, frames) = bounded::<Result<Frame, ClipError>>(config.queue_frames);
        let mut observations = Vec::new();
        let mut end: Result<(), PoseError> = Ok(());
        std::thread::scope(|scope| {
            // The scaler may not change threads, so the reader is opened where it is used.
            scope.spawn(move || decode(path, config, self.span_s, &frames_in));
            for frame in frames.iter() {
                if cancel.requested() {
                    end = Err(PoseError::Stopped);
                }
                if end.is_err() {
                    break;
                }
                let step = frame.map_err(PoseError::from).and_then(|frame| {
                    // The frame keeps its number in the clip; readings find their observation.
                    tracker.step(frame, None, (observations.len(), lane))
                });
                match step {
                    Ok(o) => {
                        observations.push(o);
                        progress.advance(name, observations.len() as u64);
                    }
                    Err(e) => end = Err(e),
                }
            }
            // Dropping the receiver ends the decoder.
            drop(frames);
        });
        for (index, read) in lane.readings()? {
            if let Some(p) = observations
                .get_mut(index)
                .and_then(|o: &mut Observation| o.person.as_mut())
            {
                p.torso = read.torso;
            }
        }
        Ok(tracker.pass(observations, end))
    }
}

/// Gathers what one clip gave.
fn finish(
    path: &Path,
    info: ClipInfo,
    sha256: String,
    strikes: Vec<Strike>,
    pass: Pass,
    pipeline: &Pipeline,
) -> Result<ViewTrack, PoseError> {
    let Pass {
        people_seen,
        mut warnings,
        observations,
        end,
        ..
    } = pass;
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
    match body_tilt(&observations) {
        BodyTilt::Upright => {}
        BodyTilt::Sideways => return Err(PoseError::Sideways(path.to_owned())),
        BodyTilt::UpsideDown => return Err(PoseError::UpsideDown(path.to_owned())),
    }
    if let Some(odd) = oddness(&observations, &pipeline.odd).filter(|odd| odd.ratio > 1.0) {
        let file = path
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        warnings.push(Warning::new(
            ODD_PICTURES,
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
        people_seen,
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

/// How long somebody is seen, seconds of playback.
fn seen_s(observations: &[Observation]) -> f64 {
    // Frames that were not read are as those before them.
    let read: Vec<&Observation> = observations.iter().filter(|o| !o.repeated).collect();
    let last = observations.last().map_or(0.0, |o| o.time_s);
    let until = read.iter().skip(1).map(|o| o.time_s).chain([last]);
    read.iter()
        .zip(until)
        .filter(|(o, _)| o.person.is_some())
        .map(|(o, until)| until - o.time_s)
        .sum()
}
