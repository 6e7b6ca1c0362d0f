//! One view's own curve of a segment: smoothed with robust weights within the view, whatever its
//! frame rate, with the network's standard deviation of each angle beside it.

use nalgebra::{Matrix3, Rotation3, Vector3};

use super::smooth::{Motion, Smoothed, TurnReading, smooth_shared, state_at};
use crate::config::BodyConfig;
use crate::math::rotation::{SegmentAngles, unwrap, wrap};
use crate::math::series::{interpolate, within};
use crate::terms::Role;

/// The three angles turn, side bend, forward bend, radians.
pub fn angles_of(r: &Rotation3<f64>) -> Option<[f64; 3]> {
    SegmentAngles::decompose(r).map(|a| [a.turn, a.side, a.forward])
}

/// Gradient of each angle to a small rotation in the world: rows turn, side, forward.
pub fn angle_gradients(r: &Rotation3<f64>) -> Option<[Vector3<f64>; 3]> {
    const STEP: f64 = 1e-5;
    let mut gradient = [Vector3::zeros(); 3];
    for k in 0..3 {
        let mut d = Vector3::zeros();
        d[k] = STEP;
        let moved = |d: Vector3<f64>| angles_of(&(Rotation3::from_scaled_axis(d) * r));
        let (more, less) = (moved(d)?, moved(-d)?);
        for (g, (m, l)) in gradient.iter_mut().zip(more.iter().zip(&less)) {
            g[k] = wrap(m - l) / (2.0 * STEP);
        }
    }
    Some(gradient)
}

/// A view's curve.
#[derive(Clone, Debug)]
pub struct ViewCurve {
    /// Where the camera stands.
    pub role: Role,
    /// The smoothed rotation over time, a list for each stretch without a gap.
    pub stretches: Vec<Vec<Smoothed>>,
    times: Vec<f64>,
    /// Turn from the reference time, continuous, radians.
    turn: Vec<f64>,
    /// The network's standard deviation of each angle, a local mean, radians.
    sigma: [Vec<f64>; 3],
    /// Half of what every other reading differs by in turn from the rest, radians, without sign.
    sides: Vec<f64>,
}

impl ViewCurve {
    /// `readings` of one view in order of time; turn is counted from `from_s`.
    pub fn new(role: Role, readings: &[TurnReading], from_s: f64, config: &BodyConfig) -> Self {
        let motion = Motion {
            acceleration: config.acceleration_deg_s2.to_radians(),
            max_gap_s: config.max_gap_s,
            student_nu: config.student_nu,
        };
        let shares = shares(readings, config.reading_s);
        let (stretches, weights) = smooth_shared(readings, &shares, &motion);
        let times: Vec<f64> = readings.iter().map(|r| r.time_s).collect();
        let mut turn: Vec<f64> = Vec::with_capacity(times.len());
        let mut variance: [Vec<f64>; 3] = Default::default();
        let mut left: Vec<f64> = Vec::with_capacity(times.len());
        let states = stretches.iter().flatten();
        for ((reading, weight), state) in readings.iter().zip(&weights).zip(states) {
            let r = &state.world_from_segment;
            let last = turn.last().copied().unwrap_or(0.0);
            turn.push(angles_of(r).map_or(last, |a| a[0]));
            let read = angles_of(&reading.world_from_segment).map_or(last, |a| a[0]);
            left.push(angles_of(r).map_or(0.0, |a| wrap(read - a[0])));
            let gradients = angle_gradients(r);
            for (k, v) in variance.iter_mut().enumerate() {
                let own = gradients.map(|g| quadratic(&g[k], &reading.covariance));
                // A reading that the view's others contradict is worth less.
                v.push(own.unwrap_or(f64::NAN) / weight.clamp(0.05, 1.0));
            }
        }
        unwrap(&mut turn);
        let mut curve = Self {
            role,
            stretches,
            sigma: variance.map(|v| local_mean(&times, &v, config.instant_s)),
            sides: by_turns(&times, &left, config.sides_half_s),
            times,
            turn,
        };
        let from = curve.turn_at(from_s);
        for t in &mut curve.turn {
            *t -= from;
        }
        curve
    }

    /// The smoothed state at `t`, seconds on the result's clock; `None` in a gap.
    pub fn state_at(&self, t: f64) -> Option<Smoothed> {
        state_at(&self.stretches, t)
    }

    /// Turn, side and forward bend at `t`, radians; `None` in a gap.
    pub fn angles_at(&self, t: f64) -> Option<[f64; 3]> {
        angles_of(&self.state_at(t)?.world_from_segment)
    }

    /// Turn from the reference time as this view reads it, radians; held beyond the ends.
    pub fn turn_at(&self, t: f64) -> f64 {
        held(&self.times, &self.turn, t)
    }

    /// The network's standard deviation of an angle (0 turn, 1 side, 2 forward), radians.
    pub fn sigma_at(&self, angle: usize, t: f64) -> f64 {
        held(&self.times, &self.sigma[angle], t)
    }

    /// How far apart frames read plain and frames read mirrored are in turn round `t`, radians.
    pub fn sides_at(&self, t: f64) -> f64 {
        held(&self.times, &self.sides, t)
    }

    /// Seconds to the nearer end of the stretch that `t` lies in; `None` in a gap.
    pub fn depth(&self, t: f64) -> Option<f64> {
        self.stretches.iter().find_map(|s| {
            let (first, last) = (s.first()?.time_s, s.last()?.time_s);
            (first..=last)
                .contains(&t)
                .then(|| (t - first).min(last - t))
        })
    }
}

fn quadratic(g: &Vector3<f64>, covariance: &Matrix3<f64>) -> f64 {
    (g.transpose() * covariance * g)[0]
}

fn held(times: &[f64], values: &[f64], t: f64) -> f64 {
    let (Some(first), Some(last)) = (times.first(), times.last()) else {
        return 0.0;
    };
    interpolate(times, values, t.clamp(*first, *last)).unwrap_or(0.0)
}

/// What each reading's information is divided by, so that all are worth one every `reading_s`:
/// errors of neighbouring frames are alike, and twice as many frames tell no more.
fn shares(readings: &[TurnReading], reading_s: f64) -> Vec<f64> {
    let last = readings.len().saturating_sub(1);
    (0..readings.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            let span = readings[b].time_s - readings[a].time_s;
            let step = if b > a {
                span / (b - a) as f64
            } else {
                reading_s
            };
            // A lone reading after a gap is no better than a usual one.
            (reading_s / step.max(1e-4)).max(0.5)
        })
        .collect()
}

/// Half of the difference of the means of every other value, within ±`half_s` of each time.
fn by_turns(times: &[f64], values: &[f64], half_s: f64) -> Vec<f64> {
    times
        .iter()
        .map(|t| {
            let near = within(times, t - half_s, t + half_s);
            let n = near.len().max(1) as f64;
            let sum: f64 = near
                .map(|i| if i % 2 == 0 { values[i] } else { -values[i] })
                .sum();
            (sum / n).abs()
        })
        .collect()
}

/// Root of the mean of the finite variances within ±`half_s` of each time.
fn local_mean(times: &[f64], variance: &[f64], half_s: f64) -> Vec<f64> {
    times
        .iter()
        .map(|t| {
            let near: Vec<f64> = variance[within(times, t - half_s, t + half_s)]
                .iter()
                .copied()
                .filter(|v| v.is_finite())
                .collect();
            // No angle can be read near its pole: as unsure as can be.
            let n = near.len() as f64;
            if near.is_empty() {
                1.0
            } else {
                (near.iter().sum::<f64>() / n).sqrt()
            }
        })
        .collect()
}
