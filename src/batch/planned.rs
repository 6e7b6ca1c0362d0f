//! What is to be measured: swings and the clips that show them.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::paths;
use crate::measure::Refusal;
use crate::result::Told;
use crate::terms::Role;

/// Whether a ball was struck, by the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SwingKind {
    /// A strike was heard.
    Ball,
    /// There is sound, and no strike in it.
    Practice,
    /// There is no sound to tell by.
    NoSound,
}

impl SwingKind {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Self::Ball => "ball",
            Self::Practice => "practice (no strike heard)",
            Self::NoSound => "no sound",
        }
    }
}

/// One view of a planned swing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlannedClip {
    /// Below the folder of clips.
    #[serde(rename = "path", with = "paths")]
    pub relative: PathBuf,
    /// Of the whole file.
    pub sha256: String,
    /// `None`: found from the pictures.
    pub role: Option<Role>,
    /// From and to, seconds of playback; `None` for the whole clip.
    pub part: Option<(f64, f64)>,
}

/// One swing that is to be measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlannedSwing {
    /// Folder of its result.
    pub name: String,
    /// Whose it is and what was tried.
    #[serde(flatten)]
    pub told: Told,
    /// When filming began, seconds since 1970, where a clip tells.
    pub created_unix_s: Option<f64>,
    /// Whether a ball was struck.
    pub kind: SwingKind,
    /// One or two views.
    pub clips: Vec<PlannedClip>,
    /// Why these clips belong together, for the coach.
    pub why: String,
    /// Seconds of clip that are to be read.
    pub length_s: f64,
}

/// A clip that nothing can be read from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Unreadable {
    /// Below the folder of clips.
    #[serde(with = "paths")]
    pub path: PathBuf,
    /// What happened, to which file, what to do.
    #[serde(flatten)]
    pub refusal: Refusal,
}

impl Unreadable {
    /// Its path for people, and why.
    pub(super) fn told(&self) -> (String, Refusal) {
        let path = self.path.to_string_lossy().into_owned();
        (path, self.refusal.clone())
    }
}

/// A file that was left out as asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Skipped {
    /// Below the folder of clips.
    #[serde(with = "paths")]
    pub path: PathBuf,
}

/// What a folder holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// In the order of their clips.
    pub swings: Vec<PlannedSwing>,
    /// Clips that nothing can be read from, and why.
    pub unreadable: Vec<Unreadable>,
    /// Left out, as the corrections file asks.
    pub skipped: Vec<Skipped>,
    /// Doubts about the plan as a whole.
    pub notes: Vec<String>,
}

/// A path as corrections write it.
pub(super) fn slashed(path: &Path) -> String {
    path.to_string_lossy().replace('\\', "/")
}
