//! Limb joints in the world, from two rays, and the angles that need no world.

use nalgebra::{Matrix3, Vector2, Vector3};

use crate::camera::Camera;

/// A joint with its covariance, metres and m².
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorldJoint {
    /// Place in the world, metres.
    pub at: Vector3<f64>,
    /// Its covariance in the world, m².
    pub covariance: Matrix3<f64>,
}

/// The point nearest to the rays of several cameras, each weighed by its angular precision.
///
/// `seen`: camera, pixel, sigma in pixels. `None` for fewer than two rays or rays so near parallel
/// (within about 3°) that depth is a guess.
pub fn triangulate(seen: &[(&Camera, Vector2<f64>, f64)]) -> Option<WorldJoint> {
    if seen.len() < 2 {
        return None;
    }
    let mut weights = vec![1.0; seen.len()];
    let mut joint = None;
    // The metric error of a ray grows with depth: one pass to find it, a second to use it.
    for _ in 0..2 {
        let mut a = Matrix3::zeros();
        let mut b = Vector3::zeros();
        for ((camera, px, _), w) in seen.iter().zip(&weights) {
            let ray = camera.ray(px);
            let across = Matrix3::identity() - ray * ray.transpose();
            a += across * *w;
            b += across * camera.position_m * *w;
        }
        let eigen = a.symmetric_eigenvalues();
        if eigen.min() <= 1e-3 * eigen.max() {
            return None;
        }
        let covariance = a.try_inverse()?;
        let at = covariance * b;
        for ((camera, _, sigma), w) in seen.iter().zip(&mut weights) {
            let depth = (at - camera.position_m).norm();
            *w = (camera.focal_px / (sigma.max(1e-3) * depth.max(0.1))).powi(2);
        }
        joint = Some(WorldJoint { at, covariance });
    }
    joint
}

/// 180° less the angle hip–knee–ankle, radians: 0 straight, positive flexed; with its gradient's
/// variance from the joints' covariances. `None` when a limb has no length.
pub fn knee_flexion(hip: &WorldJoint, knee: &WorldJoint, ankle: &WorldJoint) -> Option<(f64, f64)> {
    let value = flexion(&hip.at, &knee.at, &ankle.at)?;
    let mut variance = 0.0;
    let points = [hip, knee, ankle];
    for (which, joint) in points.iter().enumerate() {
        let mut gradient = Vector3::zeros();
        for k in 0..3 {
            let mut moved = [hip.at, knee.at, ankle.at];
            moved[which][k] += 1e-5;
            gradient[k] = (flexion(&moved[0], &moved[1], &moved[2])? - value) / 1e-5;
        }
        variance += (gradient.transpose() * joint.covariance * gradient)[0];
    }
    Some((value, variance))
}

pub(super) fn flexion(
    hip: &Vector3<f64>,
    knee: &Vector3<f64>,
    ankle: &Vector3<f64>,
) -> Option<f64> {
    let u = (hip - knee).try_normalize(1e-6)?;
    let w = (ankle - knee).try_normalize(1e-6)?;
    Some(std::f64::consts::PI - u.dot(&w).clamp(-1.0, 1.0).acos())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Attitude;
    use crate::terms::Role;

    #[test]
    fn parallel_rays_give_no_point() {
        let a = Camera {
            focal_px: 1000.0,
            centre_px: Vector2::new(270.0, 480.0),
            world_from_camera: Attitude::default().world_from_camera(Role::FaceOn),
            position_m: Vector3::new(0.1, -4.0, 1.0),
        };
        let px = Vector2::new(300.0, 500.0);
        assert_eq!(triangulate(&[(&a, px, 1.0), (&a, px, 1.0)]), None);
        assert_eq!(triangulate(&[(&a, px, 1.0)]), None);
    }

    #[test]
    fn a_straight_leg_has_no_flexion_and_a_right_angle_ninety() {
        let j = |x: f64, y: f64, z: f64| WorldJoint {
            at: Vector3::new(x, y, z),
            covariance: Matrix3::from_diagonal_element(1e-4),
        };
        let (straight, _) =
            knee_flexion(&j(0.0, 0.0, 0.9), &j(0.0, 0.0, 0.5), &j(0.0, 0.0, 0.1)).expect("lengths");
        assert!(straight.abs() < 1e-6);
        let (bent, variance) =
            knee_flexion(&j(0.0, 0.0, 0.9), &j(0.0, 0.0, 0.5), &j(0.0, 0.4, 0.5)).expect("lengths");
        assert!((bent.to_degrees() - 90.0).abs() < 1e-6);
        assert!(variance > 0.0);
    }
}
