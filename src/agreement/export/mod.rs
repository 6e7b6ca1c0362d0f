//! In: a result and its curves. Out: files for other programs, units, frame and sequence stated.

mod c3d_file;
mod long_csv;

pub use c3d_file::to_c3d;
pub use long_csv::{COLUMNS, long_csv};

/// The frame, for whoever opens an export.
pub const FRAME: &str = "World, right-handed: X along the target line to the target, Z up, Y = Z x X. A left-hander's world is mirrored in X. Segments: x to the lead side, y to the back, z up along the segment.";
/// The sequence of angles, likewise.
pub const SEQUENCE: &str = "R = Rz(-turn) Ry(side) Rx(forward): turn first (+ closed), then side bend (+ to the lead side), then forward bend (+ to the ball).";
