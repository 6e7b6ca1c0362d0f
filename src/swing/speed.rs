//! The fastest opening of a segment in the downswing.

use super::events::{EventTime, turn_and_rate};
use crate::body::Fused;

/// A peak of turning speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// When.
    pub at: EventTime,
    /// Opening speed, radians a second, positive, and its standard deviation.
    pub rate: f64,
    /// Its standard deviation, radians a second.
    pub rate_sigma: f64,
}

const STEP_S: f64 = 1.0 / 480.0;

/// Largest opening speed between top and a little after impact. `None` in a gap.
pub fn peak_opening(fused: &Fused, from_s: f64, to_s: f64) -> Option<Peak> {
    let n = ((to_s - from_s) / STEP_S).max(0.0) as usize;
    let rates: Vec<(f64, f64)> = (0..=n)
        .map(|k| from_s + k as f64 * STEP_S)
        .filter_map(|t| Some((t, -turn_and_rate(fused, t)?.1)))
        .collect();
    let (time_s, rate) = rates.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let rate_sigma = fused.at(time_s)?.covariance[(5, 5)].max(0.0).sqrt();
    // The peak is anywhere that the speed is within one sigma of it.
    let near: Vec<f64> = rates
        .iter()
        .filter(|r| r.1 > rate - rate_sigma)
        .map(|r| r.0)
        .collect();
    let width = near.last().unwrap_or(&time_s) - near.first().unwrap_or(&time_s);
    Some(Peak {
        at: EventTime {
            time_s,
            sigma_s: (width / 12f64.sqrt()).max(1.0 / 240.0),
        },
        rate,
        rate_sigma,
    })
}
