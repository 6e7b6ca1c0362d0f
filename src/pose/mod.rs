//! In: the frames of one clip. Out: a [`ViewTrack`]: for every frame the golfer's 33 landmarks and
//! the torso network's reading, with where the region of interest was. Nothing here knows where the
//! camera stands: rotations stay in the camera of the crop.

mod observation;

pub use observation::{
    Keypoint, Observation, Person, Region, Segment, TorsoPoint, TorsoReading, ViewTrack, landmark,
};
