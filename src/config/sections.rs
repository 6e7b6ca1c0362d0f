//! One struct a room. Units are in the names; reasons stand in `pipelines/two-view.toml`.

use serde::{Deserialize, Serialize};

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClipConfig {
    /// Decoded frames that may wait for the networks.
    pub queue_frames: usize,
    /// Longest clip that is read, seconds of playback.
    pub max_duration_s: f64,
    /// Largest picture that is decoded, pixels.
    pub max_pixels: u64,
    /// Most frames that are read.
    pub max_frames: usize,
    /// A strike is at least this much louder than the background, decibels.
    pub strike_min_db: f64,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PoseConfig {
    /// Detector score (probability) for a person.
    pub detector_min_score: f64,
    /// Overlap (intersection over union) above which two detections are one person.
    pub detector_max_overlap: f64,
    /// Landmark presence (probability) below which the region is lost.
    pub min_presence: f64,
    /// Frames to wait between detector calls while nobody is found.
    pub search_every_frames: usize,
    /// Side of the torso crop over the distance from mid-hip to the farthest of head and ankles.
    pub torso_crop_scale: f64,
    /// Largest movement of any pixel's brightness, 0..255, below which a frame counts as still.
    pub still_threshold: f64,
    /// While still, one frame in so many is read.
    pub still_every_frames: usize,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairConfig {}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CameraConfig {}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BodyConfig {}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SwingConfig {}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IntervalConfig {}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReportConfig {
    /// Quality of the annotated video (constant rate factor, lower is better).
    pub video_crf: u32,
}
