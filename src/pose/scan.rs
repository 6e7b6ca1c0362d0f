//! A quick look through a long clip: the landmark network alone, some times a second.

use std::path::Path;

use super::choose::{Among, likely, nearest, who_swings};
use super::error::PoseError;
use super::observation::{Observation, Person};
use super::search::{Effort, Finder};
use super::session::ModelFiles;
use crate::clip::FrameReader;
use crate::config::Pipeline;
use crate::progress::Cancel;

/// Follows the golfer through a clip, one frame in `every_s` seconds of playback. Frames in which
/// nobody is seen hold nobody; nothing is read of the torso's turn but what the landmarks tell.
///
/// # Errors
/// [`PoseError`] when the clip can't be read or a network can't be run.
pub fn scan(
    path: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    every_s: f64,
    cancel: &Cancel,
) -> Result<Vec<Observation>, PoseError> {
    let mut finder = Finder::open(files, &pipeline.pose)?;
    // Where several people are there, the one who swings.
    let mut golfer = who_swings(
        path,
        (&pipeline.clip, &pipeline.pose),
        (0.0, f64::INFINITY),
        Among::First,
        &mut finder,
        cancel,
    )?
    .order
    .first()
    .map(|golfer| golfer.chosen)
    .filter(|chosen| chosen.people > 1)
    .map(|chosen| chosen.region);
    let mut seen_all = Vec::new();
    let mut region = None;
    let mut next_s = 0.0;
    let mut thorough_s = 0.0;
    let mut wait_s = pipeline.pose.search_tiles_every_s;
    for frame in FrameReader::open(path, &pipeline.clip)? {
        let frame = frame?;
        if cancel.requested() {
            return Err(PoseError::Stopped);
        }
        if frame.time_s < next_s {
            continue;
        }
        next_s = frame.time_s + every_s * 0.999;
        let mut observation = Observation::nobody(&frame);
        let at = match region {
            Some(r) => Some(r),
            None => {
                let effort = if frame.time_s >= thorough_s {
                    thorough_s = frame.time_s + wait_s;
                    wait_s *= 2.0;
                    Effort::Thorough
                } else {
                    Effort::Quick
                };
                let found = finder.people(&frame.image, effort, None)?;
                nearest(likely(found, &frame.image, &pipeline.pose), golfer)
            }
        };
        if let Some(at) = at {
            let seen = finder.read(&frame.image, &at)?;
            region = seen.next_region(&frame.image, &pipeline.pose);
            if region.is_some() {
                wait_s = pipeline.pose.search_tiles_every_s;
                golfer = golfer.and(region);
                observation.person = Some(Person {
                    presence: seen.presence,
                    region: at,
                    landmarks: seen.keypoints,
                    world_m: seen.world_m,
                    torso: None,
                });
            }
        }
        seen_all.push(observation);
    }
    Ok(seen_all)
}
