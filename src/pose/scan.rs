//! A quick look through a long clip: where the hands are, some times a second.

use std::path::Path;

use super::choose::{Among, likely, nearest, who_swings};
use super::error::PoseError;
use super::landmarks;
use super::search::{Effort, Finder};
use super::session::ModelFiles;
use crate::clip::FrameReader;
use crate::config::Pipeline;
use crate::progress::Cancel;

/// Where the middle of the hands is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandSample {
    /// Seconds of playback since the clip's first frame.
    pub time_s: f64,
    /// From the middle of the hips, in golfer heights; x right, y down in the picture.
    pub x_heights: f64,
    /// Downwards, golfer heights.
    pub y_heights: f64,
    /// The same with the depth that the landmark network guesses: x right, y down, z away.
    pub space_heights: [f64; 3],
}

/// Follows the golfer's hands through a clip, one frame in `every_s` seconds of playback. Moments
/// where nobody is seen are left out.
///
/// # Errors
/// [`PoseError`] when the clip can't be read or a network can't be run.
pub fn scan_hands(
    path: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    every_s: f64,
    cancel: &Cancel,
) -> Result<Vec<HandSample>, PoseError> {
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
    .filter(|chosen| chosen.people > 1)
    .map(|chosen| chosen.region);
    let mut samples = Vec::new();
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
        let at = match region {
            Some(r) => r,
            None => {
                let effort = if frame.time_s >= thorough_s {
                    thorough_s = frame.time_s + wait_s;
                    wait_s *= 2.0;
                    Effort::Thorough
                } else {
                    Effort::Quick
                };
                let found = finder.people(&frame.image, effort, None)?;
                match nearest(likely(found, &frame.image, &pipeline.pose), golfer) {
                    Some(r) => r,
                    None => continue,
                }
            }
        };
        let seen = finder.read(&frame.image, &at)?;
        region = seen.next_region(&frame.image, &pipeline.pose);
        if region.is_none() {
            continue;
        }
        wait_s = pipeline.pose.search_tiles_every_s;
        golfer = golfer.and(region);
        if let (Some([x_heights, y_heights]), Some(space_heights)) = (
            landmarks::hands(&seen.keypoints),
            landmarks::hands_in_space(&seen.world_m),
        ) {
            samples.push(HandSample {
                time_s: frame.time_s,
                x_heights,
                y_heights,
                space_heights,
            });
        }
    }
    Ok(samples)
}
