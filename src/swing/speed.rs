//! How fast a segment turns, and its fastest opening.

use crate::body::Fused;
use crate::find::Moment;
use crate::math::rotation::SegmentAngles;

/// Step of the search for a reversal or a peak, seconds: far below a frame.
pub const STEP_S: f64 = 1.0 / 480.0;

/// Turn and turn rate of a fused segment; radians and radians a second.
pub fn turn_and_rate(fused: &Fused, t: f64) -> Option<(f64, f64)> {
    let s = fused.at(t)?;
    let a = SegmentAngles::decompose(&s.world_from_segment)?;
    let x = s.world_from_segment.matrix().column(0).into_owned();
    let flat = x.x * x.x + x.y * x.y;
    let v = s.velocity.cross(&x);
    // turn = −atan2(x.y, x.x)
    Some((a.turn, -(x.x * v.y - x.y * v.x) / flat.max(1e-6)))
}

/// Times and opening speeds, radians a second, between two times; gaps are passed over.
fn openings(fused: &Fused, from_s: f64, to_s: f64) -> impl Iterator<Item = (f64, f64)> {
    let n = ((to_s - from_s) / STEP_S).max(0.0) as usize;
    (0..=n)
        .map(move |k| from_s + k as f64 * STEP_S)
        .filter_map(|t| Some((t, -turn_and_rate(fused, t)?.1)))
}

/// Time of the fastest opening between two times, the first of several.
pub fn fastest_opening(fused: &Fused, from_s: f64, to_s: f64) -> Option<f64> {
    openings(fused, from_s, to_s)
        .min_by(|a, b| b.1.total_cmp(&a.1))
        .map(|(t, _)| t)
}

/// A peak of turning speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// When.
    pub at: Moment,
    /// Opening speed, radians a second, positive, and its standard deviation.
    pub rate: f64,
    /// Its standard deviation, radians a second.
    pub rate_sigma: f64,
}

/// Largest opening speed between top and a little after impact. `None` in a gap.
pub fn peak_opening(fused: &Fused, from_s: f64, to_s: f64) -> Option<Peak> {
    let rates: Vec<(f64, f64)> = openings(fused, from_s, to_s).collect();
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
        at: Moment {
            time_s,
            sigma_s: (width / 12f64.sqrt()).max(1.0 / 240.0),
        },
        rate,
        rate_sigma,
    })
}
