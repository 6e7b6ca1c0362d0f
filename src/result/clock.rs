//! Whether the seconds of a result are real seconds.

use serde::{Deserialize, Serialize};

/// What a clip's clock rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockFrom {
    /// The user gave a time scale.
    User,
    /// The file says how fast it was filmed.
    File,
    /// The strike's sound fits the picture.
    Sound,
    /// Nothing tells: playback is taken for real time, as probable as the swing's own pace makes it.
    Assumed,
}

/// How sure it is that a second of the result is a second on the range. While it is in doubt,
/// durations and speeds are not usable; angles, the order of things and ratios are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// False: in doubt.
    pub known: bool,
    /// What it rests on.
    pub from: ClockFrom,
    /// Probability that the result's seconds are real ones, 0 to 1, where it was worked out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability: Option<f64>,
}

impl Clock {
    /// What stands behind a time of it: while it is in doubt, that is a place in the film and no time.
    pub fn of_playback(&self) -> &'static str {
        if self.known { "" } else { " of playback" }
    }
}

impl Default for Clock {
    /// What version 1 of the result file took for granted.
    fn default() -> Self {
        Self {
            known: true,
            from: ClockFrom::Assumed,
            probability: None,
        }
    }
}
