//! Roles of phones, moments of a swing, hands.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Where a camera stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// In front of the golfer, looking at the chest.
    FaceOn,
    /// Behind the hands, looking towards the target.
    DownTheLine,
}

impl Role {
    /// Both, in the order in which they are shown.
    pub const ALL: [Self; 2] = [Self::FaceOn, Self::DownTheLine];

    /// The name in files: `face_on`, `down_the_line`.
    pub fn key(self) -> &'static str {
        match self {
            Self::FaceOn => "face_on",
            Self::DownTheLine => "down_the_line",
        }
    }

    /// The name for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::FaceOn => "face-on",
            Self::DownTheLine => "down-the-line",
        }
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

/// The views that a result rests on: intervals and biases differ between these.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ViewMode {
    /// Both roles, fused.
    TwoView,
    /// One face-on view.
    FaceOn,
    /// One down-the-line view.
    DownTheLine,
}

impl ViewMode {
    /// The mode of views in these roles.
    pub fn of(roles: impl IntoIterator<Item = Role>) -> Self {
        let mut roles = roles.into_iter();
        match (roles.next(), roles.next()) {
            (Some(Role::FaceOn), None) => Self::FaceOn,
            (Some(Role::DownTheLine), None) => Self::DownTheLine,
            _ => Self::TwoView,
        }
    }

    /// The name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::TwoView => "two_view",
            Self::FaceOn => "face_on",
            Self::DownTheLine => "down_the_line",
        }
    }

    /// The name for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::TwoView => "two views",
            Self::FaceOn => "face-on only",
            Self::DownTheLine => "down-the-line only",
        }
    }
}

/// The four moments of a swing, in order of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// The last still moment before the club moves.
    Address,
    /// Where thorax and hands turn back.
    Top,
    /// The strike.
    Impact,
    /// The first still moment afterwards.
    Finish,
}

impl Event {
    /// All, in order of time.
    pub const ALL: [Self; 4] = [Self::Address, Self::Top, Self::Impact, Self::Finish];

    /// The name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::Address => "address",
            Self::Top => "top",
            Self::Impact => "impact",
            Self::Finish => "finish",
        }
    }

    /// The name as a heading.
    pub fn words(self) -> &'static str {
        match self {
            Self::Address => "Address",
            Self::Top => "Top",
            Self::Impact => "Impact",
            Self::Finish => "Finish",
        }
    }

    /// The moment within a sentence: "at the top".
    pub fn at_words(self) -> &'static str {
        match self {
            Self::Address => "at address",
            Self::Top => "at the top",
            Self::Impact => "at impact",
            Self::Finish => "at the finish",
        }
    }
}

impl fmt::Display for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.key())
    }
}

/// Which way the golfer swings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Handedness {
    /// The left side leads.
    Right,
    /// The right side leads; the world is mirrored in X before anything is measured.
    Left,
}

impl Handedness {
    /// The name in files and on the command line: `right`, `left`.
    pub fn key(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::Left => "left",
        }
    }
}
