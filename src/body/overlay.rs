//! What is drawn over a view's frames: the fused body seen again by that view's camera.

use nalgebra::{Matrix3, Vector3};

use crate::terms::Role;

/// A segment as one camera sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SegmentPose {
    /// Where the segment's centre is in the picture, display pixels.
    pub centre_px: [f64; 2],
    /// Pixels a metre at the segment's depth.
    pub px_per_m: f64,
    /// Depth of the centre, metres; for perspective.
    pub depth_m: f64,
    /// Columns: the segment's lead-side, back and up axes; rows: x right, y down, z into the
    /// scene, in a camera turned to look at the segment's centre.
    pub camera_from_segment: Matrix3<f64>,
}

impl SegmentPose {
    /// Picture position, display pixels, of a point given in the segment's frame, metres.
    pub fn project(&self, point_m: [f64; 3]) -> [f64; 2] {
        let p = self.camera_from_segment * Vector3::from(point_m);
        let shrink = self.depth_m / (self.depth_m + p.z).max(0.1);
        [
            self.centre_px[0] + p.x * self.px_per_m * shrink,
            self.centre_px[1] + p.y * self.px_per_m * shrink,
        ]
    }
}

/// One frame of one view.
#[derive(Clone, Debug, PartialEq)]
pub struct OverlayFrame {
    /// Number of the frame in the clip.
    pub index: usize,
    /// Seconds of playback of the view's own clip.
    pub clip_time_s: f64,
    /// Seconds on the result's clock.
    pub time_s: f64,
    /// Pelvis, thorax; `None` in a gap.
    pub segments: [Option<SegmentPose>; 2],
    /// The 25 points of [`crate::pose::TorsoPoint`] in their order, smoothed, display pixels, sides
    /// as filmed: trunk and head by the torso network; elbows, wrists, knees and ankles by the
    /// landmark network, `None` while hidden. Empty in a gap of the torso network.
    pub points_px: Vec<Option<[f64; 2]>>,
    /// Nose, eyes, ears and mouth by the landmark network, display pixels; empty in a gap.
    pub face_px: Vec<[f64; 2]>,
}

/// One view's drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Overlay {
    /// Which view.
    pub role: Role,
    /// The clip that the frames are drawn over.
    pub file: std::path::PathBuf,
    /// Its frames that were read, in order.
    pub frames: Vec<OverlayFrame>,
}
