//! Units of the numbers in a result.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The unit of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Of angles.
    Degrees,
    /// Of turning speeds.
    DegreesPerSecond,
    /// Of durations.
    Seconds,
    /// Duration of the backswing over that of the downswing.
    BackToDown,
    /// Hundredths of the distance between the ankles at address.
    StanceWidthPercent,
    /// Of lengths, where the stature is known.
    Centimetres,
}

impl Unit {
    const ALL: [Self; 6] = [
        Self::Degrees,
        Self::DegreesPerSecond,
        Self::Seconds,
        Self::BackToDown,
        Self::StanceWidthPercent,
        Self::Centimetres,
    ];

    /// The name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::Degrees => "deg",
            Self::DegreesPerSecond => "deg/s",
            Self::Seconds => "s",
            Self::BackToDown => "backswing : downswing",
            Self::StanceWidthPercent => "% of stance width",
            Self::Centimetres => "cm",
        }
    }

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

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.key())
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let key = String::deserialize(d)?;
        let known = Self::ALL.into_iter().find(|u| u.key() == key);
        known.ok_or_else(|| D::Error::custom(format!("\"{key}\" is no unit")))
    }
}
