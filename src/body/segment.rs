//! From the views' readings to one smoothed rotation of each segment in the world.

use nalgebra::{Matrix3, Matrix6, Vector3};

use super::belief::Belief;
use super::smooth::{Smoothed, TurnReading, state_at};
use super::view_curve::ViewCurve;
use crate::camera::Camera;
use crate::config::{BodyConfig, Learned, Segment};
use crate::math::rotation::log;
use crate::pair::RotationSample;
use crate::terms::Role;

/// One view's readings with its camera and clock.
#[derive(Clone, Copy, Debug)]
pub struct ViewReadings<'a> {
    /// Where the camera stands.
    pub role: Role,
    /// What the torso network read, in the view's own time.
    pub samples: &'a [RotationSample],
    /// The camera.
    pub camera: &'a Camera,
    /// Seconds to add to the view's clock.
    pub offset_s: f64,
}

/// A segment's smoothed rotation and what it rests on.
#[derive(Clone, Debug)]
pub struct Fused {
    /// The smoothed rotation over time, a list for each stretch without a gap.
    pub stretches: Vec<Vec<Smoothed>>,
    /// All readings in order of time.
    pub readings: Vec<TurnReading>,
}

impl Fused {
    /// The smoothed state at `t`, seconds on the result's clock; `None` in a gap.
    pub fn at(&self, t: f64) -> Option<Smoothed> {
        state_at(&self.stretches, t)
    }
}

/// Least step of the fused curve, seconds: a downswing's turn is even over far more.
const KNOT_S: f64 = 1.0 / 130.0;
/// Half the step over which the fused curve's rate is taken, seconds.
const RATE_S: f64 = 0.002;

/// Fuses one segment. Turn is counted from `from_s`, about the takeaway.
pub fn fuse(
    views: &[ViewReadings<'_>],
    segment: Segment,
    from_s: f64,
    learned: &Learned,
    config: &BodyConfig,
) -> (Fused, Belief) {
    let floor = config.sigma_floor_deg.to_radians().powi(2);
    let each: Vec<Vec<TurnReading>> = views
        .iter()
        .enumerate()
        .map(|(view, v)| {
            let read = |sample: &RotationSample| {
                let (rotation, covariance) = v.camera.world_from_segment(sample, segment);
                TurnReading {
                    time_s: sample.time_s + v.offset_s,
                    view,
                    world_from_segment: rotation,
                    covariance: covariance + Matrix3::from_diagonal_element(floor),
                }
            };
            let mut readings: Vec<TurnReading> = v.samples.iter().map(read).collect();
            readings.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
            readings
        })
        .collect();
    let curves: Vec<ViewCurve> = views
        .iter()
        .zip(&each)
        .map(|(v, readings)| ViewCurve::new(v.role, readings, from_s, config))
        .collect();
    let belief = Belief::new(curves, segment, from_s, learned, config);
    let mut readings: Vec<TurnReading> = each.into_iter().flatten().collect();
    readings.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let stretches = stretches(&belief, &readings, config.max_gap_s);
    let fused = Fused {
        stretches,
        readings,
    };
    (fused, belief)
}

/// The fused curve at the readings' times, a list for each stretch without a gap.
fn stretches(belief: &Belief, readings: &[TurnReading], max_gap_s: f64) -> Vec<Vec<Smoothed>> {
    let mut out: Vec<Vec<Smoothed>> = Vec::new();
    let last = readings.last().map_or(0.0, |r| r.time_s);
    for reading in readings {
        let t = reading.time_s;
        let before = out.last().and_then(|s| s.last()).map(|s| s.time_s);
        if before.is_some_and(|b| t - b < KNOT_S) && t < last {
            continue;
        }
        let Some(state) = knot(belief, t) else {
            continue;
        };
        match out.last_mut() {
            Some(stretch) if before.is_some_and(|b| t - b <= max_gap_s) => stretch.push(state),
            _ => out.push(vec![state]),
        }
    }
    out
}

fn knot(belief: &Belief, t: f64) -> Option<Smoothed> {
    let here = belief.rotation(t)?;
    let (before, after) = (belief.rotation(t - RATE_S), belief.rotation(t + RATE_S));
    let steps = f64::from(u8::from(before.is_some()) + u8::from(after.is_some()));
    let velocity = if steps > 0.0 {
        let turned = after.unwrap_or(here) * before.unwrap_or(here).inverse();
        log(&turned) / (steps * RATE_S)
    } else {
        Vector3::zeros()
    };
    // The filters' own covariance, each view with its weight in the turn.
    let w = belief.weights(0, t)?;
    let covariance = belief
        .curves
        .iter()
        .zip(w)
        .filter_map(|(c, w)| Some(c.state_at(t)?.covariance * (w * w)))
        .fold(Matrix6::zeros(), |sum, c| sum + c);
    Some(Smoothed {
        time_s: t,
        world_from_segment: here,
        velocity,
        covariance,
    })
}
