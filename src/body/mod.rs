//! In: tracks of one or two views and their cameras. Out: pelvis and thorax rotations in the world
//! with covariances, smoothed on SO(3), and limb joints. Gaps stay gaps.

mod belief;
mod joints;
mod overlay;
mod segment;
mod smooth;
mod view_curve;
mod world_joints;

pub use belief::Belief;
pub use joints::{WorldJoint, knee_flexion, triangulate};
pub use overlay::{Overlay, OverlayFrame, SegmentPose};
pub use segment::{Fused, ViewReadings, fuse};
pub use smooth::{Motion, Smoothed, TurnReading, smooth};
pub use view_curve::{angle_gradients, angles_of};
pub use world_joints::{WorldJoints, knee_of_one_view};
