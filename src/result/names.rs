//! The names that the result file uses, each in one place.

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

/// The four moments of a swing, in order of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    Address,
    Top,
    Impact,
    Finish,
}

impl Event {
    pub const ALL: [Self; 4] = [Self::Address, Self::Top, Self::Impact, Self::Finish];

    pub fn key(self) -> &'static str {
        match self {
            Self::Address => "address",
            Self::Top => "top",
            Self::Impact => "impact",
            Self::Finish => "finish",
        }
    }
}

impl fmt::Display for Event {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.key())
    }
}

/// Every angle that is measured at an event and along the curve, degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    PelvisTurnFromAddress,
    ThoraxTurnFromAddress,
    Separation,
    SeparationFromAddress,
    PelvisTurn,
    ThoraxTurn,
    PelvisSideBend,
    PelvisForwardBend,
    ThoraxSideBend,
    ThoraxForwardBend,
    LeadKneeFlexion,
    TrailKneeFlexion,
    /// Turn of the line through the two shoulder joints, from address; shown beside the thorax's.
    ShoulderLineTurnFromAddress,
}

impl Measure {
    pub const ALL: [Self; 13] = [
        Self::PelvisTurnFromAddress,
        Self::ThoraxTurnFromAddress,
        Self::Separation,
        Self::SeparationFromAddress,
        Self::PelvisTurn,
        Self::ThoraxTurn,
        Self::PelvisSideBend,
        Self::PelvisForwardBend,
        Self::ThoraxSideBend,
        Self::ThoraxForwardBend,
        Self::LeadKneeFlexion,
        Self::TrailKneeFlexion,
        Self::ShoulderLineTurnFromAddress,
    ];

    /// The name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::PelvisTurnFromAddress => "pelvis_turn_from_address",
            Self::ThoraxTurnFromAddress => "thorax_turn_from_address",
            Self::Separation => "separation",
            Self::SeparationFromAddress => "separation_from_address",
            Self::PelvisTurn => "pelvis_turn",
            Self::ThoraxTurn => "thorax_turn",
            Self::PelvisSideBend => "pelvis_side_bend",
            Self::PelvisForwardBend => "pelvis_forward_bend",
            Self::ThoraxSideBend => "thorax_side_bend",
            Self::ThoraxForwardBend => "thorax_forward_bend",
            Self::LeadKneeFlexion => "lead_knee_flexion",
            Self::TrailKneeFlexion => "trail_knee_flexion",
            Self::ShoulderLineTurnFromAddress => "shoulder_line_turn_from_address",
        }
    }

    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|m| m.key() == key)
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.key())
    }
}
