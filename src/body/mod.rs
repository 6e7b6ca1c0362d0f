//! In: tracks of one or two views and their cameras. Out: pelvis and thorax rotations in the world
//! with covariances, smoothed on SO(3), and limb joints. Gaps stay gaps.

mod joints;
mod overlay;
mod segment;
mod smooth;

pub use joints::{WorldJoint, knee_flexion, triangulate};
pub use overlay::{Overlay, OverlayFrame, SegmentPose};
pub use segment::{Fused, ViewReadings, disagreement, expected_disagreement, fuse};
pub use smooth::{Motion, Reading, Smoothed, smooth};
