//! What an uploaded swing is, kept beside its clips.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::file_error::FileError;
use crate::measure::Refusal;
use crate::result::{TypedIn, write_json};
use crate::terms::Role;

/// An upload: who and what, and what came of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Ticket {
    /// Its number, and its folder's name.
    pub id: String,
    /// Name of the result's folder.
    pub name: String,
    /// Texts as typed.
    #[serde(default)]
    pub player: String,
    /// The day, `2026-05-14`.
    #[serde(default)]
    pub lesson: String,
    /// What was tried.
    #[serde(default)]
    pub label: String,
    /// With which club.
    #[serde(default)]
    pub club: String,
    /// With its unit.
    #[serde(default)]
    pub ball_speed: String,
    /// With its unit.
    #[serde(default)]
    pub carry: String,
    /// Anything else.
    #[serde(default)]
    pub notes: String,
    /// Views and their file names inside the upload's folder.
    pub clips: Vec<(Role, String)>,
    /// When it had come in whole, seconds since 1970.
    #[serde(default)]
    pub arrived_unix_s: f64,
    /// The upload of the other phone with which it was measured as one swing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
    /// Why there is no result, once that is known.
    pub nothing: Option<Refusal>,
}

const TICKET: &str = "upload.json";

impl Ticket {
    /// The ticket in an upload's folder.
    pub fn read(folder: &Path) -> Option<Self> {
        let bytes = std::fs::read(folder.join(TICKET)).ok()?;
        serde_json::from_slice(&bytes).ok()
    }

    /// Writes it into an upload's folder.
    ///
    /// # Errors
    /// Where the folder can't be written.
    pub fn write(&self, folder: &Path) -> Result<(), FileError> {
        write_json(&folder.join(TICKET), self)
    }

    /// Writes it where nobody waits for it: a failure is told to the log alone.
    pub fn keep(&self, folder: &Path) {
        if let Err(e) = self.write(folder) {
            tracing::warn!("{e}");
        }
    }

    /// What goes into the result.
    pub fn typed_in(&self) -> TypedIn {
        let text = |t: &str| Some(t.to_owned());
        TypedIn {
            player: text(&self.player),
            lesson: self.lesson.parse().ok(),
            label: text(&self.label),
            club: text(&self.club),
            notes: text(&self.notes),
            stature_cm: None,
            ball_speed: text(&self.ball_speed),
            carry: text(&self.carry),
        }
        .tidied()
    }

    /// Whether an earlier upload may show the same swing from the other side: one clip each, of the
    /// two sides, of one player trying one thing, within some minutes.
    pub fn may_show_what(&self, earlier: &Self, within_s: f64) -> bool {
        let ([mine], [theirs]) = (self.clips.as_slice(), earlier.clips.as_slice()) else {
            return false;
        };
        let same = |a: &str, b: &str| a.trim().to_lowercase() == b.trim().to_lowercase();
        let apart_s = self.arrived_unix_s - earlier.arrived_unix_s;
        self.id != earlier.id
            && mine.0 != theirs.0
            && same(&self.player, &earlier.player)
            && same(&self.label, &earlier.label)
            && (0.0..=within_s).contains(&apart_s)
    }
}
