//! Joints in the world at the first view's instants.

use nalgebra::Vector3;

use super::joints::{WorldJoint, triangulate};
use crate::camera::Camera;
use crate::math::series::between;
use crate::pair::{Instant, ViewSeries};
use crate::pose::TorsoPoint;

/// Two views, their cameras and clocks, asked for joints.
pub struct WorldJoints<'a> {
    views: &'a [ViewSeries],
    cameras: &'a [Camera],
    offset_s: f64,
    /// When the second view's instants are, seconds on its own clock.
    times_b: Vec<f64>,
    max_gap_s: f64,
}

impl<'a> WorldJoints<'a> {
    /// `offset_s`: seconds to add to the second view's clock; nothing is interpolated over more than
    /// `max_gap_s`. With one view every joint is `None`.
    pub fn new(
        views: &'a [ViewSeries],
        cameras: &'a [Camera],
        offset_s: f64,
        max_gap_s: f64,
    ) -> Self {
        let times = |v: &ViewSeries| v.instants.iter().map(|i| i.time_s).collect();
        Self {
            views,
            cameras,
            offset_s,
            times_b: views.get(1).map_or_else(Vec::new, times),
            max_gap_s,
        }
    }

    /// A joint at an instant of the first view; `None` where the second does not see it.
    pub fn at(&self, instant: &Instant, joint: TorsoPoint) -> Option<WorldJoint> {
        let ([_, second], [a, b]) = (self.views, self.cameras) else {
            return None;
        };
        let t = instant.time_s - self.offset_s;
        let (i, next, f) = between(&self.times_b, t, self.max_gap_s)?;
        let seen = |k: usize| second.instants.get(k)?.point(joint);
        let (pa, sigma_a) = instant.point(joint)?;
        let (p0, sigma_b) = seen(i)?;
        let (p1, _) = seen(next)?;
        let pb = p0 + (p1 - p0) * f;
        triangulate(&[(a, pa, sigma_a), (b, pb, sigma_b)])
    }

    /// The two joints' places along the target line, metres: by two rays, or by the face-on picture
    /// alone, taken at the depth of the feet. `None` where neither tells.
    pub fn along_line(&self, instant: &Instant, [a, b]: [TorsoPoint; 2]) -> Option<(f64, f64)> {
        use crate::terms::Role;
        let x: &dyn Fn(TorsoPoint) -> Option<f64> = match (self.views, self.cameras) {
            ([_, _], _) => &|joint| Some(self.at(instant, joint)?.at.x),
            ([view], [camera, ..]) if view.role == Role::FaceOn => {
                let scale = camera.position_m.xy().norm() / camera.focal_px;
                &move |joint| Some(instant.point(joint)?.0.x * scale)
            }
            _ => return None,
        };
        Some((x(a)?, x(b)?))
    }
}

/// Flexion of a knee from the landmark network's own 3D points, radians; `side`: 0 lead, 1 trail.
pub fn knee_of_one_view(instant: &Instant, side: usize) -> Option<f64> {
    use crate::pose::landmark::{ANKLE, HIP, KNEE};
    let at = |l: [usize; 2]| -> Option<&Vector3<f64>> { instant.world_m.get(l[side]) };
    super::joints::flexion(at(HIP)?, at(KNEE)?, at(ANKLE)?)
}
