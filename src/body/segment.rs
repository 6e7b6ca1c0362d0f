//! From the views' readings to one smoothed rotation of each segment in the world.

use nalgebra::{Matrix3, Rotation3};

use super::smooth::{Motion, Reading, Smoothed, smooth, state_at};
use crate::camera::Camera;
use crate::config::BodyConfig;
use crate::math::rotation::log;
use crate::pair::RotationSample;

/// One view's readings with its camera and clock.
#[derive(Clone, Copy, Debug)]
pub struct ViewReadings<'a> {
    pub samples: &'a [RotationSample],
    pub camera: &'a Camera,
    /// Seconds to add to the view's clock.
    pub offset_s: f64,
}

/// A segment's smoothed rotation and what it rests on.
#[derive(Clone, Debug)]
pub struct Fused {
    pub stretches: Vec<Vec<Smoothed>>,
    /// All readings in order of time, and their final weights.
    pub readings: Vec<Reading>,
    pub weights: Vec<f64>,
}

impl Fused {
    pub fn at(&self, t: f64) -> Option<Smoothed> {
        state_at(&self.stretches, t)
    }

    /// Covariance of a reading near `t` when the views are combined but not the frames: errors of
    /// neighbouring frames are alike, so time does not average them away. Rad².
    pub fn network_covariance(&self, t: f64, window_s: f64) -> Option<Matrix3<f64>> {
        let mut information = Matrix3::zeros();
        let views = self.readings.iter().map(|r| r.view).max()? + 1;
        let mut any = false;
        for view in 0..views {
            let (mut sum, mut n) = (Matrix3::zeros(), 0.0);
            for (r, w) in self.readings.iter().zip(&self.weights) {
                if r.view == view && (r.time_s - t).abs() <= window_s {
                    sum += r.covariance / w.clamp(0.05, 1.0);
                    n += 1.0;
                }
            }
            if n > 0.0
                && let Some(inverse) = (sum / n).try_inverse()
            {
                information += inverse;
                any = true;
            }
        }
        if any { information.try_inverse() } else { None }
    }
}

/// Fuses one segment (0 pelvis, 1 thorax).
pub fn fuse(views: &[ViewReadings<'_>], segment: usize, config: &BodyConfig) -> Fused {
    let mut readings: Vec<Reading> = Vec::new();
    for (view, v) in views.iter().enumerate() {
        let floor = config.sigma_floor_deg.to_radians().powi(2);
        for sample in v.samples {
            let (rotation, covariance) = v.camera.world_from_segment(sample, segment);
            readings.push(Reading {
                time_s: sample.time_s + v.offset_s,
                view,
                world_from_segment: rotation,
                covariance: covariance + Matrix3::from_diagonal_element(floor),
            });
        }
    }
    readings.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let motion = Motion {
        acceleration: config.acceleration_deg_s2.to_radians(),
        max_gap_s: config.max_gap_s,
        student_nu: config.student_nu,
    };
    let (stretches, weights) = smooth(&readings, &motion);
    Fused {
        stretches,
        readings,
        weights,
    }
}

/// Mean disagreement of two views' readings of one segment about the vertical near `t`, radians:
/// view 0 less view 1, positive when view 0 reads more closed. `None` with one view.
pub fn disagreement(fused: &Fused, t: f64, window_s: f64) -> Option<f64> {
    let mean = |view: usize, about: &Rotation3<f64>| {
        let turns: Vec<f64> = fused
            .readings
            .iter()
            .filter(|r| r.view == view && (r.time_s - t).abs() <= window_s)
            .map(|r| -log(&(r.world_from_segment * about.inverse())).z)
            .collect();
        (!turns.is_empty()).then(|| turns.iter().sum::<f64>() / turns.len() as f64)
    };
    let about = fused.at(t)?.world_from_segment;
    Some(mean(0, &about)? - mean(1, &about)?)
}

/// Standard deviation of two views' difference about the vertical near `t`, radians.
pub fn expected_disagreement(fused: &Fused, t: f64, window_s: f64) -> Option<f64> {
    let mut sum = 0.0;
    for view in 0..2 {
        let near: Vec<f64> = fused
            .readings
            .iter()
            .filter(|r| r.view == view && (r.time_s - t).abs() <= window_s)
            .map(|r| r.covariance[(2, 2)])
            .collect();
        if near.is_empty() {
            return None;
        }
        sum += near.iter().sum::<f64>() / near.len() as f64;
    }
    Some(sum.sqrt())
}
