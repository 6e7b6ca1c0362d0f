//! In: tracks of one or two views and their cameras. Out: pelvis and thorax rotations in the world
//! with covariances, smoothed on SO(3), and limb joints. Gaps stay gaps.

mod overlay;

pub use overlay::{Overlay, OverlayFrame, SegmentPose};
