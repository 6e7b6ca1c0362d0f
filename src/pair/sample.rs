//! What a view saw at one instant, as a right-hander's.

use nalgebra::{Rotation3, Vector2};

/// A picture position with its standard deviation, pixels.
pub type Seen = Option<(Vector2<f64>, f64)>;

/// The torso network's two rotations at one instant.
#[derive(Clone, Debug)]
pub struct RotationSample {
    /// Seconds of real time on the view's own clock.
    pub time_s: f64,
    /// Centre of the crop, pixels.
    pub crop_centre_px: Vector2<f64>,
    /// Of pelvis and thorax.
    pub crop_from_segment: [Rotation3<f64>; 2],
    /// Standard deviations about the crop camera's axes, radians.
    pub sigma: [[f64; 3]; 2],
}
