//! What one view contributes to the search for the cameras. Everything is already as a
//! right-hander's: a left-hander's views were mirrored before.

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};

use super::model::{Camera, camera_from_crop};
use crate::result::Role;

/// Joints whose picture positions both views must agree on, as indices of [`JointSample::points`].
pub const JOINTS: usize = 10;

/// Points that stand still at address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub enum StillPoint {
    AnkleLead = 0,
    AnkleTrail = 1,
    ToeLead = 2,
    ToeTrail = 3,
    HipMiddle = 4,
    Head = 5,
}

pub const STILL_POINTS: usize = 6;

/// A picture position with its standard deviation, pixels.
pub type Seen = Option<(Vector2<f64>, f64)>;

/// The torso network's two rotations at one instant.
#[derive(Clone, Debug)]
pub struct RotationSample {
    /// Seconds of real time on the view's own clock.
    pub time_s: f64,
    /// Centre of the crop, pixels.
    pub crop_centre_px: Vector2<f64>,
    pub crop_from_segment: [Rotation3<f64>; 2],
    /// Standard deviations about the crop camera's axes, radians.
    pub sigma: [[f64; 3]; 2],
}

impl RotationSample {
    /// `world_from_segment` and its covariance (of the rotation vector in the world) for `camera`.
    pub fn in_world(&self, segment: usize, camera: &Camera) -> (Rotation3<f64>, Matrix3<f64>) {
        let ray = camera.ray_in_camera(&self.crop_centre_px);
        let world_from_crop = camera.world_from_camera * camera_from_crop(&ray);
        let s = self.sigma[segment];
        let variance = Matrix3::from_diagonal(&Vector3::new(s[0] * s[0], s[1] * s[1], s[2] * s[2]));
        let w = world_from_crop.matrix();
        (
            world_from_crop * self.crop_from_segment[segment],
            w * variance * w.transpose(),
        )
    }
}

/// Joints at one instant.
#[derive(Clone, Debug)]
pub struct JointSample {
    pub time_s: f64,
    pub points: [Seen; JOINTS],
}

/// One view's share of the problem.
#[derive(Clone, Debug)]
pub struct ViewData {
    pub role: Role,
    /// Size of the display picture, pixels.
    pub size_px: Vector2<f64>,
    /// Focal length in pixels where the file tells it.
    pub focal_px: Option<f64>,
    /// Median picture positions while the golfer stands at address.
    pub still: [Seen; STILL_POINTS],
    pub rotations: Vec<RotationSample>,
    pub joints: Vec<JointSample>,
}
