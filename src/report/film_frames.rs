//! Frames of an annotated video at moments that are wanted.

use std::path::Path;

use image::RgbImage;

use super::{ReportError, jpeg};
use crate::clip::FrameReader;
use crate::config::Pipeline;
use crate::progress::Cancel;

/// A frame this close to a moment, seconds, may be the nearest one to it.
const NEAR_S: f64 = 0.05;

/// The frame nearest to each wanted moment, scaled down to `side` pixels. `wanted`: numbers of the
/// caller's own with seconds of the video, growing; those that the video does not cover are left out.
///
/// # Errors
/// Where the video can't be read, and where it was stopped.
pub fn at(
    path: &Path,
    wanted: &[(usize, f64)],
    pipeline: &Pipeline,
    cancel: &Cancel,
) -> Result<Vec<(usize, RgbImage)>, ReportError> {
    let mut out = Vec::new();
    let mut next = 0;
    let mut before: Option<(f64, RgbImage)> = None;
    for frame in FrameReader::open(path, &pipeline.clip)? {
        if cancel.requested() {
            return Err(ReportError::Stopped);
        }
        let frame = frame?;
        let Some(t) = wanted.get(next).map(|w| w.1) else {
            break;
        };
        if t - frame.time_s > NEAR_S {
            continue;
        }
        let now = jpeg::shrink(&frame.image.shown(), pipeline.report.scrub_long_side_px)?;
        while let Some((i, t)) = wanted.get(next).copied()
            && t <= frame.time_s
        {
            let picture = match &before {
                Some((b, picture)) if t - b < frame.time_s - t => picture,
                _ => &now,
            };
            out.push((i, picture.clone()));
            next += 1;
        }
        before = Some((frame.time_s, now));
    }
    // The last moment may lie within a frame of the video's end.
    if let (Some((i, t)), Some((b, picture))) = (wanted.get(next).copied(), before)
        && t - b < NEAR_S
    {
        out.push((i, picture));
    }
    Ok(out)
}
