//! What one view contributes to the search for the cameras. Everything is already as a
//! right-hander's: a left-hander's views were mirrored before.

use nalgebra::Vector2;

use crate::pair::{RotationSample, Seen};
use crate::terms::Role;

/// Joints whose picture positions both views must agree on, as indices of [`JointSample::points`].
pub const JOINTS: usize = 10;

/// Points that stand still at address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StillPoint {
    /// Ankle nearer the target.
    AnkleLead,
    /// Ankle farther from it.
    AnkleTrail,
    /// Toes nearer the target.
    ToeLead,
    /// Toes farther from it.
    ToeTrail,
    /// Midway between the hip joints.
    HipMiddle,
    /// The head's middle.
    Head,
}

impl StillPoint {
    /// All, in the order of [`ViewData::still`].
    pub const ALL: [Self; STILL_POINTS] = [
        Self::AnkleLead,
        Self::AnkleTrail,
        Self::ToeLead,
        Self::ToeTrail,
        Self::HipMiddle,
        Self::Head,
    ];
}

/// Number of [`StillPoint`]s.
pub const STILL_POINTS: usize = 6;

/// Joints at one instant.
#[derive(Clone, Debug)]
pub struct JointSample {
    /// Seconds on the view's own clock.
    pub time_s: f64,
    /// Display pixels with their standard deviation; `None` where hidden.
    pub points: [Seen; JOINTS],
}

/// One view's share of the problem.
#[derive(Clone, Debug)]
pub struct ViewData {
    /// Where the camera stands.
    pub role: Role,
    /// Where the camera is expected round the golfer, against the role's place: radians, positive
    /// counter-clockwise seen from above.
    pub azimuth: f64,
    /// Size of the display picture, pixels.
    pub size_px: Vector2<f64>,
    /// Focal length in pixels where the file tells it.
    pub focal_px: Option<f64>,
    /// Median picture positions while the golfer stands at address.
    pub still: [Seen; STILL_POINTS],
    /// What the torso network read while the swing moves.
    pub rotations: Vec<RotationSample>,
    /// Joints while the swing moves.
    pub joints: Vec<JointSample>,
}
