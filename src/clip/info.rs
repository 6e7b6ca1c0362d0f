//! What a clip is made of, as plain values.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize, Serializer};

use super::picture::Picture;

fn lossy<S: Serializer>(path: &Path, s: S) -> Result<S::Ok, S::Error> {
    s.serialize_str(&path.to_string_lossy())
}

/// What the container and the first decoded frame say about a clip.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ClipInfo {
    /// In files a name that is in no encoding is written with marks for what can't be.
    #[serde(serialize_with = "lossy")]
    pub file: PathBuf,
    /// Size in pixels as displayed, after the display matrix.
    pub width: u32,
    /// Height of the display picture, pixels.
    pub height: u32,
    /// Clockwise turn applied to the stored picture, degrees: 0, 90, 180 or 270.
    pub rotation_deg: u32,
    /// True when the display matrix mirrors the picture.
    pub mirrored: bool,
    /// Average frame rate of playback, frames per second.
    pub fps: f64,
    /// Rate of filming, if the phone wrote it (`com.android.capture.fps` and the like).
    pub capture_fps: Option<f64>,
    /// Length by the container, seconds of playback; `None` where it does not say.
    pub duration_s: Option<f64>,
    /// Creation time by the container, seconds since 1970 UTC.
    pub created_unix_s: Option<f64>,
    /// 35 mm equivalent focal length in mm, if the phone wrote it.
    pub focal_35mm: Option<f64>,
    /// Name of the codec, as FFmpeg has it.
    pub codec: String,
    /// Bits of a colour.
    pub bits: u32,
    /// Whether there is a track of sound.
    pub has_sound: bool,
}

/// One decoded frame in display orientation.
#[derive(Debug)]
pub struct Frame {
    /// Counted from 0 in display order.
    pub index: usize,
    /// Seconds of playback since the clip's first frame (not yet scaled for slow motion).
    pub time_s: f64,
    /// The picture.
    pub image: Picture,
}

/// A clip's sound, mixed to one channel.
#[derive(Clone, Debug, Default)]
pub struct Sound {
    /// Samples a second.
    pub rate_hz: f64,
    /// Samples in −1..1.
    pub samples: Vec<f32>,
    /// Time of the first sample on the clock of [`Frame::time_s`].
    pub start_s: f64,
}

/// A short loud sound that may be club on ball.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Strike {
    /// When it reached the phone, on the clock of [`Frame::time_s`].
    pub time_s: f64,
    /// Standard deviation of that time, seconds.
    pub sigma_s: f64,
    /// Peak over the background's level, decibels.
    pub prominence_db: f64,
}
