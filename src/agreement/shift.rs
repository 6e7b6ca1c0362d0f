//! How far one clock is ahead of another, and what it is found from.

use super::interpolate::Samples;

/// Grid of the search, seconds.
pub(super) const STEP_S: f64 = 0.005;
/// Rates that differ by less than this are not told: on 22 rendered clips the estimate's own errors
/// alone looked like up to 7 %.
const MIN_RATE_DIFFERENCE: f64 = 0.10;
/// Half-width that no interval goes below, seconds: half a millisecond of reading of clocks.
pub(super) const FLOOR_S: f64 = 0.0005;

/// Two series of one angle, each on its own clock, degrees.
#[derive(Clone, Debug)]
pub struct TurnPair {
    /// Our curve.
    pub ours: Samples,
    /// The sensor's.
    pub sensor: Samples,
}

/// The shift with its 95 % interval: sensor's clock less ours, seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// The best shift.
    pub s: f64,
    /// Low end of the interval.
    pub low: f64,
    /// High end of the interval.
    pub high: f64,
    /// Correlation of turn speeds at this shift.
    pub correlation: f64,
    /// Rate of the sensor's clock over ours, less 1, with a 95 % half-width, where it could be told.
    pub rate_error: Option<(f64, f64)>,
}

impl Shift {
    /// Half the width of the interval, seconds.
    pub fn half_width(&self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// The rate error where it is both sure and large enough to matter.
    pub fn notable_rate_error(&self) -> Option<f64> {
        self.rate_error
            .filter(|(e, half)| e.abs() > MIN_RATE_DIFFERENCE && e.abs() > *half)
            .map(|(e, _)| e)
    }
}
