//! One measure of one swing as a number with a variance, and what the swings of one session share
//! of their errors.

use crate::config::Learned;
use crate::interval::Z95;
use crate::terms::{Event, Measure, ViewMode};

/// A value with the half-width of its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwingValue {
    /// In the measure's unit.
    pub value: f64,
    /// Half-width of the 95 % interval, in the same unit.
    pub half: f64,
}

impl SwingValue {
    /// Of a value and its interval, whose two sides may differ a little.
    pub fn new((value, low, high): (f64, f64, f64)) -> Self {
        Self {
            value,
            half: (high - low) / 2.0,
        }
    }

    /// Variance of its error.
    pub fn variance(self) -> f64 {
        (self.half / Z95).powi(2)
    }
}

/// The part of the errors' variance that the swings of one session share: the correlation of their
/// errors. `low` and `high` bound it; each statement takes the end that is unfavourable to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The least that it may be.
    pub low: f64,
    /// The most probable.
    pub likely: f64,
    /// The most that it may be.
    pub high: f64,
}

impl Share {
    /// Nothing was learnt: it may be all or nothing.
    pub const UNKNOWN: Self = Self {
        low: 0.0,
        likely: 0.5,
        high: 1.0,
    };

    /// What was learnt from pairs of swings with known truth, for swings that were filmed alike from
    /// one place. Of swings that were not, the body and its clothes may be shared still, and the
    /// cameras' places not: all that is known is that it is no more than `high`.
    pub fn learnt(
        learned: &Learned,
        mode: ViewMode,
        measure: Measure,
        event: Event,
        one_place: bool,
    ) -> Self {
        let find = |e: Option<Event>| {
            learned
                .shared
                .iter()
                .find(|s| s.mode == mode && s.measure == measure && s.event == e)
        };
        let Some(found) = find(Some(event)).or_else(|| find(None)) else {
            return Self::UNKNOWN;
        };
        let within = |v: f64| v.clamp(0.0, 1.0);
        let high = within(found.high);
        let low = if one_place { within(found.low) } else { 0.0 };
        Self {
            low: low.min(high),
            likely: within(found.share).clamp(low.min(high), high),
            high,
        }
    }
}
