//! What the user may say about a swing, and what can go wrong.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::camera::Camera;
use crate::config::Pipeline;
use crate::pair::RoleError;
use crate::result::TypedIn;
use crate::terms::{Handedness, Role};

/// A camera and a clock that are known: for experiments on swings with known truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    pub role: Role,
    /// In the world of a right-hander (a left-hander's world is mirrored in X).
    pub camera: Camera,
    /// When the clip starts on a clock common to all views, seconds.
    pub starts_s: f64,
}

/// Options of one measurement.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Options {
    pub name: String,
    /// Clips with the role that the user gave, if any. One or two.
    #[serde(skip)]
    pub clips: Vec<(PathBuf, Option<Role>)>,
    /// For each clip the part that holds the swing, from and to, seconds of playback. May be
    /// shorter than `clips`: what is missing is read whole.
    #[serde(skip)]
    pub parts: Vec<Option<(f64, f64)>>,
    pub handed: Option<Handedness>,
    /// Playback seconds for each real second, when the user knows it.
    pub time_scale: Option<f64>,
    pub stature_cm: Option<f64>,
    pub typed_in: TypedIn,
    pub pipeline: Pipeline,
    /// Read every frame, also where nothing moves.
    pub every_frame: bool,
    /// Threads for the networks.
    pub jobs: usize,
    /// Print propagated intervals without calibrated factors; for calibration itself.
    pub uncalibrated: bool,
    /// Cameras to take as they are; those of all views or none.
    #[serde(skip)]
    pub known: Vec<Known>,
}

/// Why a swing could not be measured. One sentence each: what happened, to which file, what to do.
#[derive(Debug, thiserror::Error)]
pub enum MeasureError {
    #[error(transparent)]
    Pose(#[from] crate::pose::PoseError),
    #[error("{files}: {source}.")]
    Roles { files: String, source: RoleError },
    #[error(
        "{file}: there is no swing in this clip: nobody in it turns as in a golf swing. If there is one, film it whole, head to feet in the picture, and do not trim it."
    )]
    NoSwing { file: String },
    #[error(
        "{file}: the golfer was lost from sight at {at_s:.1} s of {of_s:.1} s and did not come back, before a whole swing was seen. Film the golfer whole, head to feet, until the finish."
    )]
    Left { file: String, at_s: f64, of_s: f64 },
    #[error(
        "{0}: the same clip was given twice under two names. Give the other view, or this one alone."
    )]
    SameClip(String),
    #[error("give one or two clips, not {0}.")]
    Clips(usize),
    #[error("stopped by the user.")]
    Stopped,
}
