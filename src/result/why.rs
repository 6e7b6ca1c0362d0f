//! Why a number can't be told.

use serde::{Deserialize, Serialize};

/// Why a number can't be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// How fast the clip was filmed is in doubt, so seconds and speeds are.
    ClockInDoubt,
    /// A moment that the number counts from or to was not seen.
    MomentNotSeen,
    /// Hips, shoulders or knees were not seen there, or the angle has no meaning there.
    NotSeen,
    /// The interval is too wide, and the two views contradict each other there.
    ViewsContradict,
    /// The pictures are unlike those that the networks learned from, so that no interval can be stood by.
    OddPictures,
    /// The interval is too wide, mostly because the moment itself is not sharp.
    MomentUnsure,
    /// The interval is too wide from one view; a second one would narrow it.
    OneView,
    /// The interval is too wide, for no single reason.
    TooWide,
}

impl Why {
    /// All, in the order in which they are told.
    pub const ALL: [Self; 8] = [
        Self::ClockInDoubt,
        Self::MomentNotSeen,
        Self::NotSeen,
        Self::ViewsContradict,
        Self::OddPictures,
        Self::MomentUnsure,
        Self::OneView,
        Self::TooWide,
    ];

    /// The name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::ClockInDoubt => "clock_in_doubt",
            Self::MomentNotSeen => "moment_not_seen",
            Self::NotSeen => "not_seen",
            Self::ViewsContradict => "views_contradict",
            Self::OddPictures => "odd_pictures",
            Self::MomentUnsure => "moment_unsure",
            Self::OneView => "one_view",
            Self::TooWide => "too_wide",
        }
    }

    /// The reason of a name in files.
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|w| w.key() == key)
    }
}
