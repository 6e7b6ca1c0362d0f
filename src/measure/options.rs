//! What the user may say about a swing, and what can go wrong.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::camera::Camera;
use crate::config::Pipeline;
use crate::pair::RoleError;
use crate::pose::Provider;
use crate::result::TypedIn;
use crate::terms::{Handedness, Role};

/// A camera and a clock that are known: for experiments on swings with known truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Which view it is.
    pub role: Role,
    /// In the world of a right-hander (a left-hander's world is mirrored in X).
    pub camera: Camera,
    /// When the clip starts on a clock common to all views, seconds.
    pub starts_s: f64,
}

/// Options of one measurement.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Options {
    /// Name of the swing and of its result's folder.
    pub name: String,
    /// Clips with the role that the user gave, if any. One or two.
    #[serde(skip)]
    pub clips: Vec<(PathBuf, Option<Role>)>,
    /// For each clip the part that holds the swing, from and to, seconds of playback. May be
    /// shorter than `clips`: what is missing is read whole.
    #[serde(skip)]
    pub parts: Vec<Option<(f64, f64)>>,
    /// The player's hand, when the user says it; the pictures decide where they differ.
    pub handed: Option<Handedness>,
    /// Playback seconds for each real second, when the user knows it.
    pub time_scale: Option<f64>,
    /// The player's stature, centimetres, when the user says it.
    pub stature_cm: Option<f64>,
    /// What is kept in the result as typed.
    pub typed_in: TypedIn,
    /// Every tunable constant.
    pub pipeline: Pipeline,
    /// What the networks are to run on.
    #[serde(default)]
    pub run_on: Provider,
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
    /// A clip can't be read, or nobody is in it.
    #[error(transparent)]
    Pose(#[from] crate::pose::PoseError),
    /// Which clip shows which side can't be told.
    #[error("{files}: {source}.")]
    Roles {
        /// The clips.
        files: String,
        /// Why not.
        source: RoleError,
    },
    /// Nobody in the clip swings.
    #[error(
        "{file}: there is no swing in this clip: nobody in it turns as in a golf swing. If there is one, film it whole, head to feet in the picture, and do not trim it."
    )]
    NoSwing {
        /// Which clip.
        file: String,
    },
    /// Who was followed went out of sight before a whole swing was seen.
    #[error(
        "{file}: there is no swing in this clip that was seen whole: who was followed went out of sight at {at_s:.1} s of {of_s:.1} s and did not come back. If there is one, film the golfer whole, head to feet, until the finish."
    )]
    Left {
        /// Which clip.
        file: String,
        /// When, seconds of playback.
        at_s: f64,
        /// The clip's length, seconds of playback.
        of_s: f64,
    },
    /// Both clips are one file, or copies of one.
    #[error(
        "{0}: the same clip was given twice under two names. Give the other view, or this one alone."
    )]
    SameClip(String),
    /// So many clips were given.
    #[error("give one or two clips, not {0}.")]
    Clips(usize),
    /// The user stopped it.
    #[error("stopped by the user.")]
    Stopped,
}
