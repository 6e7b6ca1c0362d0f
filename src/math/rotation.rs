//! Rotations of body segments: the project's turn–side–forward sequence, and the exponential map.
//!
//! World frame: X to the target, Z up, Y = Z × X. Segment frame: x to the lead side, y to the
//! back, z up. `R = Rz(−turn) · Ry(side) · Rx(forward)`: for the pelvis this is the
//! rotation–obliquity–tilt order of Baker (2001), Gait & Posture 13:1–6.

use nalgebra::{Matrix3, Rotation3, UnitQuaternion, Vector3};

/// Turn, side bend and forward bend of a segment in the world, radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SegmentAngles {
    /// Positive closed, away from the target.
    pub turn: f64,
    /// Positive towards the lead side.
    pub side: f64,
    /// Positive towards the ball.
    pub forward: f64,
}

/// |side| beyond this (radians) leaves turn and forward bend without meaning: 89.9°.
const SIDE_LIMIT: f64 = 1.569_051;

impl SegmentAngles {
    /// `world_from_segment` for these angles.
    pub fn compose(&self) -> Rotation3<f64> {
        Rotation3::from_axis_angle(&Vector3::z_axis(), -self.turn)
            * Rotation3::from_axis_angle(&Vector3::y_axis(), self.side)
            * Rotation3::from_axis_angle(&Vector3::x_axis(), self.forward)
    }

    /// Angles of `world_from_segment`; `None` near |side| = 90°, where they are not observable.
    pub fn decompose(world_from_segment: &Rotation3<f64>) -> Option<Self> {
        let m = world_from_segment.matrix();
        let side = -m[(2, 0)].clamp(-1.0, 1.0).asin();
        if !side.is_finite() || side.abs() > SIDE_LIMIT {
            return None;
        }
        Some(Self {
            turn: -m[(1, 0)].atan2(m[(0, 0)]),
            side,
            forward: m[(2, 1)].atan2(m[(2, 2)]),
        })
    }
}

/// The nearest rotation to `m`, or `None` where `m` is not finite or has no nearest one.
pub fn nearest_rotation(m: &Matrix3<f64>) -> Option<Rotation3<f64>> {
    if !m.iter().all(|v| v.is_finite()) {
        return None;
    }
    let svd = m.svd(true, true);
    let (u, v_t) = (svd.u?, svd.v_t?);
    if svd.singular_values[1] < 1e-6 {
        return None;
    }
    let sign = (u * v_t).determinant().signum();
    let fix = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, sign));
    Some(Rotation3::from_matrix_unchecked(u * fix * v_t))
}

/// The rotation vector of `r`, radians. By quaternion: the matrix formula's arc cosine is not a
/// number for rotations within rounding of none.
pub fn log(r: &Rotation3<f64>) -> Vector3<f64> {
    UnitQuaternion::from_rotation_matrix(r).scaled_axis()
}

/// Wraps an angle to (−π, π].
pub fn wrap(angle: f64) -> f64 {
    let wrapped = angle.rem_euclid(std::f64::consts::TAU);
    if wrapped > std::f64::consts::PI {
        wrapped - std::f64::consts::TAU
    } else {
        wrapped
    }
}

/// Makes a series of angles continuous: steps of more than π are taken as wraps.
pub fn unwrap(angles: &mut [f64]) {
    for i in 1..angles.len() {
        let step = wrap(angles[i] - angles[i - 1]);
        angles[i] = angles[i - 1] + step;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn closed_turn_takes_the_lead_side_away_from_the_body_front() {
        // A right-hander faces −Y; turned closed by 90°, the lead (left) side points to the ball, −Y.
        let r = SegmentAngles {
            turn: std::f64::consts::FRAC_PI_2,
            side: 0.0,
            forward: 0.0,
        }
        .compose();
        let lead = r * Vector3::x();
        assert!((lead - Vector3::new(0.0, -1.0, 0.0)).norm() < 1e-12);
    }

    #[test]
    fn side_bend_at_ninety_degrees_is_not_observable() {
        let r = Rotation3::from_axis_angle(&Vector3::y_axis(), std::f64::consts::FRAC_PI_2);
        assert_eq!(SegmentAngles::decompose(&r), None);
    }

    proptest! {
        #[test]
        fn the_rotation_vector_is_a_number_down_to_nothing(x in -3.0..3.0f64, y in -0.5..0.5f64, exponent in -18..0i32) {
            let v = Vector3::new(x, y, 0.3) * 10f64.powi(exponent);
            let r = Rotation3::from_scaled_axis(v) * Rotation3::from_euler_angles(0.3, 0.2, 1.0);
            let d = log(&(r * Rotation3::from_euler_angles(0.3, 0.2, 1.0).inverse()));
            prop_assert!((d - v).norm() < 1e-9 + 1e-9 * v.norm());
        }

        #[test]
        fn mirroring_negates_turn_and_side_and_keeps_forward_bend(turn in -3.1..3.1f64, side in -1.4..1.4f64, forward in -1.4..1.4f64) {
            // Left-hander: the world is mirrored in X, and the segment's lead axis with it.
            let a = SegmentAngles { turn, side, forward };
            let flip = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, 1.0));
            let mirrored = nearest_rotation(&(flip * a.compose().matrix() * flip)).expect("a rotation");
            let b = SegmentAngles::decompose(&mirrored).expect("side is away from the pole");
            prop_assert!((wrap(a.turn + b.turn)).abs() < 1e-9);
            prop_assert!((a.side + b.side).abs() < 1e-9);
            prop_assert!((a.forward - b.forward).abs() < 1e-9);
        }

        #[test]
        fn unwrap_leaves_no_jump(start in -3.0..3.0f64, steps in proptest::collection::vec(-3.0..3.0f64, 1..50)) {
            let mut truth = vec![start];
            for s in &steps { truth.push(truth[truth.len() - 1] + s); }
            let mut seen: Vec<f64> = truth.iter().map(|a| wrap(*a)).collect();
            unwrap(&mut seen);
            for (a, b) in truth.iter().zip(&seen) {
                prop_assert!(((a - truth[0]) - (b - seen[0])).abs() < 1e-9);
            }
        }
    }
}
