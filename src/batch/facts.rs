//! What is known of a clip before it is measured. Worked out in a worker process.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::scan::{self, FoundSwing};
use crate::clip::{ClipError, ClipInfo, FrameReader, Strike, find_strikes, probe, read_sound};
use crate::config::BatchConfig;
use crate::math::stats::bounds;
use crate::measure::Refusal;
use crate::pose::ModelFiles;
use crate::progress::Cancel;
use crate::worker::Inspection;

/// What the file itself tells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Inspected {
    pub info: ClipInfo,
    pub strikes: Vec<Strike>,
    /// Swings of a long clip; empty for a short one, which is one swing.
    pub swings: Vec<FoundSwing>,
}

/// A clip of the folder.
#[derive(Clone, Debug, PartialEq)]
pub struct ClipFacts {
    /// Below the folder of clips.
    pub relative: PathBuf,
    pub sha256: String,
    /// What was found in it, or why there is nothing.
    pub found: Result<Inspected, Refusal>,
}

impl ClipFacts {
    /// When filming began, seconds since 1970, as the phone's clock says.
    pub fn created_unix_s(&self) -> Option<f64> {
        self.found.as_ref().ok()?.info.created_unix_s
    }
}

/// Reads what a clip tells without measuring it. Clips that are long, or in which several balls are
/// heard, are searched for swings with the landmark network; others cost only their sound.
///
/// # Errors
/// One sentence with the file's name and what to do.
pub fn inspect(job: &Inspection, cancel: &Cancel) -> Result<Inspected, Refusal> {
    let (path, pipeline) = (Path::new(&job.clip), &job.pipeline);
    let failed = |e: ClipError| Refusal::failed(e.to_string());
    let info = probe(path, &pipeline.clip).map_err(failed)?;
    let strikes = read_sound(path, &pipeline.clip)
        .map_err(failed)?
        .map_or_else(Vec::new, |s| find_strikes(&s, &pipeline.clip));
    let scale = time_scale(&info);
    let real_s = info.duration_s.unwrap_or(f64::INFINITY) / scale;
    let swings = if may_hold_several(&strikes, real_s, scale, &pipeline.batch) {
        let files = ModelFiles::find().map_err(|e| Refusal::from(&e))?;
        scan::find_swings(path, &files, pipeline, &strikes, scale, cancel)
            .map_err(|e| Refusal::from(&e))?
    } else {
        Vec::new()
    };
    if job.frames {
        for frame in FrameReader::open(path, &pipeline.clip).map_err(failed)? {
            frame.map_err(failed)?;
        }
    }
    Ok(Inspected {
        info,
        strikes,
        swings,
    })
}

/// A clip of `real_s` seconds is longer than one swing, or strikes are heard in it that lie farther
/// apart than one swing's sounds do.
fn may_hold_several(
    strikes: &[Strike],
    real_s: f64,
    time_scale: f64,
    config: &BatchConfig,
) -> bool {
    let heard = strikes.iter().map(|s| s.time_s / time_scale);
    let apart = bounds(heard).is_some_and(|(first, last)| last - first > config.swing_gap_s);
    real_s > config.single_swing_s || apart
}

/// Playback seconds for each real second, as far as the file tells.
pub(super) fn time_scale(info: &ClipInfo) -> f64 {
    match info.capture_fps {
        Some(capture) if info.fps > 0.0 && capture > 1.5 * info.fps => capture / info.fps,
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_balls_in_a_short_clip_ask_for_a_look() {
        let config = crate::config::Pipeline::default().batch;
        let at = |times: &[f64]| -> Vec<Strike> {
            times
                .iter()
                .map(|t| Strike {
                    time_s: *t,
                    sigma_s: 0.001,
                    prominence_db: 30.0,
                })
                .collect()
        };
        assert!(!may_hold_several(&[], 5.0, 1.0, &config));
        assert!(!may_hold_several(&at(&[1.5, 2.2]), 5.0, 1.0, &config));
        assert!(may_hold_several(&at(&[1.5, 4.0]), 6.0, 1.0, &config));
        // Stretched eight times the same two sounds lie 0.3 s apart.
        assert!(!may_hold_several(&at(&[1.5, 4.0]), 6.0, 8.0, &config));
        assert!(may_hold_several(&[], 30.0, 1.0, &config));
    }
}
