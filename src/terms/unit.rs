//! Units of the numbers in a result.

use super::keyed;

keyed! {
    /// The unit of a number.
    pub enum Unit {
        /// Of angles.
        Degrees = "deg",
        /// Of turning speeds.
        DegreesPerSecond = "deg/s",
        /// Of durations.
        Seconds = "s",
        /// Duration of the backswing over that of the downswing.
        BackToDown = "backswing : downswing",
        /// Hundredths of the distance between the ankles at address.
        StanceWidthPercent = "% of stance width",
        /// Of lengths, where the stature is known.
        Centimetres = "cm",
    }
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
