//! The result of one swing, as it stands in `swing.json`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::clock::Clock;
use super::numbers::{Estimate, Moment, Quantity};
use super::typed_in::{Lesson, TypedIn};
use crate::terms::{Event, Handedness, Measure, Role};
use crate::warning::Warning;

/// Schema name and version. A reader refuses any but this and [`SCHEMA_1`].
pub const SCHEMA: &str = "quarterturn.swing/2";

/// The version before, which said of no number whether it is of use. It is still read.
pub const SCHEMA_1: &str = "quarterturn.swing/1";

/// One clip that the result rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ViewEntry {
    /// Which view it was measured as.
    pub role: Role,
    /// File name without its folder.
    pub file: String,
    /// SHA-256 of the clip, hexadecimal.
    pub sha256: String,
    /// When filming began, seconds since 1970, where the file tells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filmed_unix_s: Option<f64>,
    /// Frames per second of real time.
    pub fps: f64,
    /// Seconds to add to this clip's own time to get the result's clock.
    pub offset_s: f64,
    /// 95 % half-width of the offset, seconds; absent for the first view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset_half_width_s: Option<f64>,
    /// Real seconds per second of playback is 1 / time_scale (8 for 240 fps shown at 30).
    #[serde(default = "one")]
    pub time_scale: f64,
    /// Width of the display picture, pixels.
    pub width: u32,
    /// Height of the display picture, pixels.
    pub height: u32,
    /// Share of frames between address and finish with a reading, 0..1.
    pub coverage: f64,
    /// Where it was found to stand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub camera: Option<CameraEntry>,
}

fn one() -> f64 {
    1.0
}

/// Where a phone was found to stand, relative to the golfer and the target line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraEntry {
    /// Focal length in pixels of the display picture, and where it comes from.
    pub focal_px: f64,
    /// `file`, or `swing and prior`.
    pub focal_from: String,
    /// Direction from the golfer to the camera, degrees from the exact role (0 is exactly in role).
    pub azimuth_off_role: Estimate,
    /// Looking up, degrees.
    pub pitch: Estimate,
    /// Turned clockwise as the photographer sees it, degrees.
    pub roll: Estimate,
    /// Metres from the golfer, where scale is known.
    pub distance_m: Option<f64>,
    /// Rows: x right, y down, z into the scene of the camera, in the world frame.
    pub camera_from_world: [[f64; 3]; 3],
}

/// Duration of the two parts of the swing and their ratio.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tempo {
    /// Takeaway to top.
    pub backswing: Quantity,
    /// Top to impact.
    pub downswing: Quantity,
    /// The first over the second.
    pub ratio: Quantity,
}

/// Fastest opening of each segment in the downswing and which came first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TurnSpeed {
    /// Of the hips.
    pub pelvis: Quantity,
    /// Of the rib cage.
    pub thorax: Quantity,
    /// Time of the pelvis's peak less the thorax's, seconds; negative: pelvis first.
    pub pelvis_before_thorax: Quantity,
    /// `pelvis`, `thorax` or `can't tell`.
    pub first: String,
}

/// How far hips and shoulders (rib cage) turned from one moment to a later one; needs no address.
/// Degrees, + closing, − opening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Between {
    /// The earlier moment.
    pub from: Event,
    /// The later moment.
    pub to: Event,
    /// Turn of the hips.
    pub pelvis_turn: Estimate,
    /// Turn of the rib cage.
    pub thorax_turn: Estimate,
}

/// The whole result of one swing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SwingResult {
    /// [`SCHEMA`].
    pub schema: String,
    /// Version of the program that measured.
    pub tool_version: String,
    /// SHA-256 of each network's file that read the clips, by its name; empty in results of versions
    /// that did not write it.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub models: BTreeMap<String, String>,
    /// What the networks ran on: `processor`, `cuda` and the like; absent in results of versions
    /// that did not write it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ran_on: Option<String>,
    /// Name of the swing.
    pub name: String,
    /// Which way the golfer swings.
    pub handedness: Handedness,
    /// `user` or `pictures`.
    pub handedness_from: String,
    /// What the result's seconds count from, in words.
    pub clock: String,
    /// Whether those seconds are real ones.
    #[serde(default)]
    pub real_time: Clock,
    /// The sequence of the angles, stated wherever angles are shown.
    pub angle_order: String,
    /// The clips that it rests on; the first carries the clock.
    pub views: Vec<ViewEntry>,
    /// When each moment was, of those that were seen.
    pub events: BTreeMap<Event, Moment>,
    /// Angles at each event.
    pub at: BTreeMap<Event, BTreeMap<Measure, Estimate>>,
    /// Turns from one moment that was seen to the next.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub between: Vec<Between>,
    /// Sway of the hip midpoint from address at each event: percent of stance width and,
    /// when stature is known, centimetres.
    #[serde(default)]
    pub sway: BTreeMap<Event, Vec<Quantity>>,
    /// Durations of back- and downswing; absent where a moment was not seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tempo: Option<Tempo>,
    /// Speed and order of the openings; absent where they were not seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_speed: Option<TurnSpeed>,
    /// Largest separation between top and impact, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak_separation: Option<Estimate>,
    /// When that was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak_separation_at: Option<Moment>,
    /// When the pelvis and the thorax each stopped going back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pelvis_top: Option<Moment>,
    /// The same of the thorax.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thorax_top: Option<Moment>,
    /// What the coach typed in.
    #[serde(default)]
    pub typed_in: TypedIn,
    /// Which studio calibration was applied, if any, and what it did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration: Option<String>,
    /// Doubts, each with a code for programs and a sentence for people.
    pub warnings: Vec<Warning>,
}

impl SwingResult {
    /// The day of the lesson as typed in, or the day of filming (UTC) where a clip tells it.
    pub fn lesson(&self) -> Option<Lesson> {
        let filmed = || {
            self.views
                .iter()
                .find_map(|v| Lesson::of_unix_s(v.filmed_unix_s?))
        };
        self.typed_in.lesson.or_else(filmed)
    }
}
