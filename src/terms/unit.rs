//! Units of the numbers in a result.

use serde::{Deserialize, Serialize};

/// The unit of a number, with its name in files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Unit {
    /// Of angles.
    #[serde(rename = "deg")]
    Degrees,
    /// Of turning speeds.
    #[serde(rename = "deg/s")]
    DegreesPerSecond,
    /// Of durations.
    #[serde(rename = "s")]
    Seconds,
    /// Duration of the backswing over that of the downswing.
    #[serde(rename = "backswing : downswing")]
    BackToDown,
    /// Hundredths of the distance between the ankles at address.
    #[serde(rename = "% of stance width")]
    StanceWidthPercent,
    /// Of lengths, where the stature is known.
    #[serde(rename = "cm")]
    Centimetres,
}

impl Unit {
    /// What stands behind a number for people, with the space that belongs before it.
    pub fn suffix(self) -> &'static str {
        match self {
            Self::Degrees => "°",
            Self::DegreesPerSecond => "°/s",
            Self::Seconds => " s",
            Self::BackToDown => " to 1",
            Self::StanceWidthPercent => " % of stance width",
            Self::Centimetres => " cm",
        }
    }

    /// Decimals that a number of this unit is told with.
    pub fn decimals(self) -> usize {
        match self {
            Self::Seconds => 2,
            Self::BackToDown => 1,
            Self::Degrees
            | Self::DegreesPerSecond
            | Self::StanceWidthPercent
            | Self::Centimetres => 0,
        }
    }
}
