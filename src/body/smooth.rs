//! Zero-lag smoothing of a rotation on SO(3): a forward filter and a backward pass (Rauch, Tung
//! and Striebel 1965) in the error state, for a constant angular velocity disturbed by white noise.
//!
//! State: `world_from_segment` R and angular velocity ω in the world, rad/s. Error: R_true =
//! exp(δ)·R. Readings of any number of views enter at their own times, each with its covariance.

use nalgebra::{Matrix3, Matrix6, Rotation3, Vector3, Vector6};

use crate::math::rotation::log;
use crate::math::stats::student_weight;

/// One reading of a segment's rotation.
#[derive(Clone, Copy, Debug)]
pub struct TurnReading {
    /// Seconds on the result's clock.
    pub time_s: f64,
    /// Number of the view that it comes from.
    pub view: usize,
    /// The rotation as read.
    pub world_from_segment: Rotation3<f64>,
    /// Of the rotation vector in the world, rad².
    pub covariance: Matrix3<f64>,
}

/// The smoothed state at a reading's time.
#[derive(Clone, Copy, Debug)]
pub struct Smoothed {
    /// Seconds on the result's clock.
    pub time_s: f64,
    /// The smoothed rotation.
    pub world_from_segment: Rotation3<f64>,
    /// Radians a second, in the world.
    pub velocity: Vector3<f64>,
    /// Covariance of (δ, ω) by the filter alone, as if the readings' errors were independent.
    pub covariance: Matrix6<f64>,
}

/// How the segment may move.
#[derive(Clone, Copy, Debug)]
pub struct Motion {
    /// Standard deviation of the angular acceleration about each axis, rad/s², held over 1/60 s.
    pub acceleration: f64,
    /// Longest time without a reading that is bridged, seconds.
    pub max_gap_s: f64,
    /// Degrees of freedom of the Student weights against outliers.
    pub student_nu: f64,
}

/// Time over which the stated acceleration is held, seconds.
const HELD_S: f64 = 1.0 / 60.0;
/// Rounds of re-weighting.
const ROUNDS: usize = 3;

/// Rotation, angular velocity and their covariance.
type State = (Rotation3<f64>, Vector3<f64>, Matrix6<f64>);

struct Step {
    time_s: f64,
    predicted: State,
    filtered: State,
    /// From the step before.
    transition: Matrix6<f64>,
}

/// Smooths readings in order of time. The result is one list for each stretch without a gap.
/// Also returns the final weight of each reading (1 for a usual one, near 0 for an outlier).
pub fn smooth(readings: &[TurnReading], motion: &Motion) -> (Vec<Vec<Smoothed>>, Vec<f64>) {
    smooth_shared(readings, &vec![1.0; readings.len()], motion)
}

/// The same where each reading's information is divided by its share, because its neighbours err
/// alike. Whether it is an outlier is asked by its own covariance.
pub fn smooth_shared(
    readings: &[TurnReading],
    shares: &[f64],
    motion: &Motion,
) -> (Vec<Vec<Smoothed>>, Vec<f64>) {
    let mut weights = vec![1.0; readings.len()];
    let mut stretches = Vec::new();
    let mut start = 0;
    for end in 1..=readings.len() {
        let broken = end == readings.len()
            || readings[end].time_s - readings[end - 1].time_s > motion.max_gap_s;
        if !broken {
            continue;
        }
        let part = &readings[start..end];
        let weight = &mut weights[start..end];
        let mut smoothed = Vec::new();
        for round in 0..=ROUNDS {
            let worth: Vec<f64> = weight
                .iter()
                .zip(&shares[start..end])
                .map(|(w, share)| w / share)
                .collect();
            smoothed = smooth_stretch(part, &worth, motion);
            if round < ROUNDS {
                reweigh(part, &smoothed, weight, motion.student_nu);
            }
        }
        if !smoothed.is_empty() {
            stretches.push(smoothed);
        }
        start = end;
    }
    (stretches, weights)
}

fn reweigh(readings: &[TurnReading], smoothed: &[Smoothed], weights: &mut [f64], nu: f64) {
    for ((reading, state), weight) in readings.iter().zip(smoothed).zip(weights) {
        let d = log(&(reading.world_from_segment * state.world_from_segment.inverse()));
        if let Some(inverse) = reading.covariance.try_inverse() {
            *weight = student_weight((d.transpose() * inverse * d)[0], 3.0, nu).min(1.0);
        }
    }
}

fn smooth_stretch(readings: &[TurnReading], weights: &[f64], motion: &Motion) -> Vec<Smoothed> {
    let Some(first) = readings.first() else {
        return Vec::new();
    };
    let q = motion.acceleration.powi(2) * HELD_S;
    let mut p = Matrix6::zeros();
    // Nothing is known before the first reading.
    p.fixed_view_mut::<3, 3>(0, 0).fill_diagonal(10.0);
    p.fixed_view_mut::<3, 3>(3, 3).fill_diagonal(400.0);
    let mut state = (first.world_from_segment, Vector3::zeros(), p);
    let mut steps: Vec<Step> = Vec::with_capacity(readings.len());
    let mut last = first.time_s;
    for (reading, weight) in readings.iter().zip(weights) {
        let dt = (reading.time_s - last).max(0.0);
        last = reading.time_s;
        let (predicted, transition) = predict(&state, dt, q);
        let covariance = reading.covariance / weight.max(1e-6);
        state = update(&predicted, reading, &covariance);
        steps.push(Step {
            time_s: reading.time_s,
            predicted,
            filtered: state,
            transition,
        });
    }
    backward(&steps)
}

fn predict(state: &State, dt: f64, q: f64) -> (State, Matrix6<f64>) {
    let (r, w, p) = state;
    let turn = Rotation3::from_scaled_axis(w * dt);
    let mut f = Matrix6::identity();
    f.fixed_view_mut::<3, 3>(0, 0).copy_from(turn.matrix());
    f.fixed_view_mut::<3, 3>(0, 3).fill_diagonal(dt);
    let mut noise = Matrix6::zeros();
    noise
        .fixed_view_mut::<3, 3>(0, 0)
        .fill_diagonal(q * dt.powi(3) / 3.0);
    noise
        .fixed_view_mut::<3, 3>(0, 3)
        .fill_diagonal(q * dt.powi(2) / 2.0);
    noise
        .fixed_view_mut::<3, 3>(3, 0)
        .fill_diagonal(q * dt.powi(2) / 2.0);
    noise
        .fixed_view_mut::<3, 3>(3, 3)
        .fill_diagonal(q * dt + 1e-12);
    ((turn * r, *w, f * p * f.transpose() + noise), f)
}

fn update(predicted: &State, reading: &TurnReading, covariance: &Matrix3<f64>) -> State {
    let (r, w, p) = predicted;
    let innovation = log(&(reading.world_from_segment * r.inverse()));
    let s = p.fixed_view::<3, 3>(0, 0) + covariance;
    let Some(s_inverse) = s.try_inverse() else {
        return *predicted;
    };
    let gain = p.fixed_view::<6, 3>(0, 0) * s_inverse;
    let d = gain * innovation;
    let rotation = Rotation3::from_scaled_axis(d.fixed_rows::<3>(0).into_owned()) * r;
    let mut keep = Matrix6::identity();
    {
        let mut left = keep.fixed_view_mut::<6, 3>(0, 0);
        left -= gain;
    }
    // Joseph's form keeps the covariance symmetric and positive.
    let p = keep * p * keep.transpose() + gain * covariance * gain.transpose();
    (rotation, w + d.fixed_rows::<3>(3), p)
}

fn backward(steps: &[Step]) -> Vec<Smoothed> {
    let Some(last) = steps.last() else {
        return Vec::new();
    };
    let mut out = vec![Smoothed {
        time_s: last.time_s,
        world_from_segment: last.filtered.0,
        velocity: last.filtered.1,
        covariance: last.filtered.2,
    }];
    for k in (0..steps.len() - 1).rev() {
        let (r, w, p) = &steps[k].filtered;
        let next = &steps[k + 1];
        let later = out[out.len() - 1];
        let (rp, wp, pp) = &next.predicted;
        let (mut rotation, mut velocity, mut covariance) = (*r, *w, *p);
        if let Some(inverse) = pp.try_inverse() {
            let c = p * next.transition.transpose() * inverse;
            let mut d = Vector6::zeros();
            d.fixed_rows_mut::<3>(0)
                .copy_from(&log(&(later.world_from_segment * rp.inverse())));
            d.fixed_rows_mut::<3>(3).copy_from(&(later.velocity - wp));
            let d = c * d;
            rotation = Rotation3::from_scaled_axis(d.fixed_rows::<3>(0).into_owned()) * r;
            velocity = w + d.fixed_rows::<3>(3);
            covariance = p + c * (later.covariance - pp) * c.transpose();
        }
        out.push(Smoothed {
            time_s: steps[k].time_s,
            world_from_segment: rotation,
            velocity,
            covariance,
        });
    }
    out.reverse();
    out
}

/// The state between two smoothed states, by constant velocity from the nearer one; `None` where
/// `t` lies outside every stretch.
pub fn state_at(stretches: &[Vec<Smoothed>], t: f64) -> Option<Smoothed> {
    for stretch in stretches {
        let (first, last) = (stretch.first()?, stretch.last()?);
        if t < first.time_s || t > last.time_s {
            continue;
        }
        let i = stretch.partition_point(|s| s.time_s <= t).saturating_sub(1);
        let a = stretch[i];
        let Some(b) = stretch.get(i + 1) else {
            return Some(a);
        };
        let span = b.time_s - a.time_s;
        if span <= 0.0 {
            return Some(a);
        }
        let f = (t - a.time_s) / span;
        // Cubic in the tangent space of a: honours both rotations and both velocities.
        let d = log(&(b.world_from_segment * a.world_from_segment.inverse()));
        let (h1, h2, h3) = (
            f * f * (3.0 - 2.0 * f),
            f * (1.0 - f) * (1.0 - f),
            f * f * (f - 1.0),
        );
        let v = d * h1 + (a.velocity * h2 + b.velocity * h3) * span;
        return Some(Smoothed {
            time_s: t,
            world_from_segment: Rotation3::from_scaled_axis(v) * a.world_from_segment,
            velocity: a.velocity * (1.0 - f) + b.velocity * f,
            covariance: a.covariance * (1.0 - f) + b.covariance * f,
        });
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn motion() -> Motion {
        Motion {
            acceleration: 4000f64.to_radians(),
            max_gap_s: 0.12,
            student_nu: 4.0,
        }
    }

    fn reading(t: f64, turn: f64) -> TurnReading {
        TurnReading {
            time_s: t,
            view: 0,
            world_from_segment: Rotation3::from_axis_angle(&Vector3::z_axis(), turn),
            covariance: Matrix3::from_diagonal_element(0.05f64.powi(2)),
        }
    }

    #[test]
    fn a_steady_turn_is_followed_without_lag() {
        let readings: Vec<TurnReading> = (0..60)
            .map(|i| reading(i as f64 / 60.0, i as f64 * 0.05))
            .collect();
        let (stretches, _) = smooth(&readings, &motion());
        let state = state_at(&stretches, 0.5).expect("inside");
        let turn = log(&state.world_from_segment).z;
        assert!((turn - 1.5).abs() < 2e-3, "{turn}");
        assert!((state.velocity.z - 3.0).abs() < 0.05);
    }

    #[test]
    fn an_outlier_is_weighed_down() {
        let mut readings: Vec<TurnReading> =
            (0..60).map(|i| reading(i as f64 / 60.0, 0.0)).collect();
        readings[30] = reading(0.5, 1.0);
        let (stretches, weights) = smooth(&readings, &motion());
        assert!(weights[30] < 0.1, "{}", weights[30]);
        let state = state_at(&stretches, 0.5).expect("inside");
        assert!(log(&state.world_from_segment).norm() < 0.03);
    }

    /// The torso network reads crops of close frames plain and mirrored by turns, see [`crate::pose::FlipAugmentation`].
    #[test]
    fn an_error_that_changes_sides_from_frame_to_frame_averages_out() {
        for fps in [50.0, 60.0, 120.0, 240.0] {
            let error = 0.06;
            let swing = |t: f64| 1.5 * (5.0 * t).sin();
            let smoothed = |error: f64| {
                let readings: Vec<TurnReading> = (0..(2.0 * fps) as usize)
                    .map(|i| {
                        let t = i as f64 / fps;
                        reading(t, swing(t) + if i % 2 == 0 { error } else { -error })
                    })
                    .collect();
                let (stretches, _) = smooth(&readings, &motion());
                stretches.into_iter().next().expect("one stretch")
            };
            let middle = |s: &Smoothed| (0.3..1.7).contains(&s.time_s);
            for (with, without) in smoothed(error).iter().zip(&smoothed(0.0)) {
                let apart = log(&(with.world_from_segment * without.world_from_segment.inverse()));
                if middle(with) {
                    assert!(
                        apart.norm() < 0.02 * error,
                        "{fps} {}",
                        apart.norm() / error
                    );
                    // 2 degrees a second, where a downswing turns at 500.
                    let rate = (with.velocity - without.velocity).norm();
                    assert!(rate.to_degrees() < 2.0, "{fps} {rate}");
                }
            }
        }
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let readings: Vec<TurnReading> = (0..20)
            .chain(40..60)
            .map(|i| reading(i as f64 / 60.0, 0.0))
            .collect();
        let (stretches, _) = smooth(&readings, &motion());
        assert_eq!(stretches.len(), 2);
        assert!(state_at(&stretches, 0.5).is_none());
    }
}
