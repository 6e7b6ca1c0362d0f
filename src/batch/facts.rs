//! What is known of a clip before it is measured. Worked out in a worker process.
#![cfg_attr(
    not(test),
    deny(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)
)]

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::scan;
use crate::clip::{ClipInfo, Strike, find_strikes, probe, read_sound};
use crate::config::Pipeline;
use crate::pose::ModelFiles;
use crate::progress::Cancel;

/// A swing found in a long clip, seconds of playback.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoundSwing {
    /// When the hands were fastest.
    pub fastest_s: f64,
    pub from_s: f64,
    pub to_s: f64,
}

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
    /// What was found in it, or the sentence that says why it can't be read.
    pub found: Result<Inspected, String>,
}

impl ClipFacts {
    /// When filming began, seconds since 1970, as the phone's clock says.
    pub fn created_unix_s(&self) -> Option<f64> {
        self.found.as_ref().ok()?.info.created_unix_s
    }
}

/// Reads what a clip tells without measuring it. Long clips are searched for swings with the
/// landmark network; short ones cost only their sound.
///
/// # Errors
/// One sentence with the file's name and what to do.
pub fn inspect(path: &Path, pipeline: &Pipeline, cancel: &Cancel) -> Result<Inspected, String> {
    let info = probe(path, &pipeline.clip).map_err(|e| e.to_string())?;
    let strikes = read_sound(path, &pipeline.clip)
        .map_err(|e| e.to_string())?
        .map_or_else(Vec::new, |s| find_strikes(&s, &pipeline.clip));
    let scale = time_scale(&info);
    let real_s = info.duration_s.unwrap_or(f64::INFINITY) / scale;
    let swings = if real_s > pipeline.batch.single_swing_s {
        let files = ModelFiles::find().map_err(|e| e.to_string())?;
        scan::find_swings(path, &files, pipeline, scale, cancel).map_err(|e| e.to_string())?
    } else {
        Vec::new()
    };
    Ok(Inspected {
        info,
        strikes,
        swings,
    })
}

/// Playback seconds for each real second, as far as the file tells.
pub(super) fn time_scale(info: &ClipInfo) -> f64 {
    match info.capture_fps {
        Some(capture) if info.fps > 0.0 && capture > 1.5 * info.fps => capture / info.fps,
        _ => 1.0,
    }
}
