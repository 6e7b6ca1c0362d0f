//! In: the frames of one clip. Out: a [`ViewTrack`]: for every frame the golfer's 33 landmarks and
//! the torso network's reading, with where the region of interest was. Nothing here knows where the
//! camera stands: rotations stay in the camera of the crop.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod choose;
mod contradiction;
mod crop;
mod detector;
mod error;
mod flips;
mod grid;
mod landmarks;
mod library;
mod moved;
mod observation;
mod observe;
mod oddness;
mod passes;
mod provider;
mod reading;
mod run_on;
mod runners;
mod scan;
mod search;
mod session;
mod sight;
mod stillness;
mod torso;
mod tracker;
mod upright;

pub use crop::sample_crop;
pub use detector::{Detection, decode_detections};
pub use error::PoseError;
pub use flips::FlipAugmentation;
pub use grid::Window;
pub use observation::{
    Keypoint, Observation, Person, Region, TorsoPoint, TorsoReading, ViewTrack, body_height_px,
    landmark,
};
pub use observe::observe;
pub use oddness::{Oddness, oddness};
pub use provider::Provider;
pub use reading::{Closer, Reading};
pub use runners::Runners;
pub use scan::scan;
pub use session::{ModelFiles, open as open_session, try_runtime};
