//! What a second of playback is. A question of its own: nothing else here waits for its answer.

use serde::{Deserialize, Serialize};

use super::phases::Phases;
use crate::clip::ClipInfo;
use crate::config::FindConfig;

/// Where a clip's clock comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockFrom {
    /// The user gave a time scale.
    User,
    /// The file says how fast it was filmed.
    File,
    /// Nothing tells: playback is taken as it is, with the probability that it is real time.
    Assumed,
}

/// A clip's clock and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// Playback seconds for each real second.
    pub time_scale: f64,
    pub from: ClockFrom,
    /// Probability that `time_scale` is right, 0 to 1: 1 where user or file tell it.
    pub probability: f64,
    /// Probability below which seconds, speeds and tempo's two parts can't be told.
    pub least: f64,
    /// The swing is on real time and takes much longer than a full one: a rehearsal.
    pub slow: bool,
}

/// What makes a clip as slow as it plays, for each: how much longer than a full swing's its times
/// are, the spread of that (of the logarithm), and how often it is so before the clip is seen.
struct Pace {
    times: f64,
    spread: f64,
    share: f64,
    real: bool,
    slow: bool,
}

impl Clock {
    /// True where seconds and speeds can be told.
    pub fn is_known(&self) -> bool {
        self.probability >= self.least
    }

    /// The clock by the user's word or the file's, where there is one.
    pub fn told(user: Option<f64>, info: &ClipInfo, config: &FindConfig) -> Option<Self> {
        let sure = |time_scale, from| Self {
            time_scale,
            from,
            probability: 1.0,
            least: config.clock_least_probability,
            slow: false,
        };
        if let Some(scale) = user {
            return Some(sure(scale, ClockFrom::User));
        }
        let filmed = info.capture_fps.filter(|_| info.fps > 1.0)? / info.fps;
        (filmed > config.clock_filmed_faster).then(|| sure(filmed, ClockFrom::File))
    }

    /// The clock of a clip that nothing tells of: playback as it is, and how probable that is by
    /// the swing's own times. `struck`: a strike was heard at its impact.
    pub fn assumed(swing: &Phases, struck: bool, config: &FindConfig) -> Self {
        let (back_s, down_s) = (swing.moving_back_s(), swing.down_s());
        let s = config.clock_swing_spread;
        let rehearsed = config.clock_rehearsal_share * if struck { 0.2 } else { 1.0 };
        let pace = |times, spread, share, real, slow| Pace {
            times,
            spread,
            share,
            real,
            slow,
        };
        let edited = config.clock_stretched_share;
        let mut paces = vec![
            pace(1.0, s, 1.0 - rehearsed - 1.2 * edited, true, false),
            pace(2.0, 2.0 * s, rehearsed, true, true),
            pace(0.5, s, 0.1 * edited, false, false),
            pace(0.25, s, 0.1 * edited, false, false),
        ];
        paces.extend([2.0, 4.0, 8.0].map(|times| pace(times, s, edited / 3.0, false, false)));
        let of = |p: &Pace| {
            let off = |taken: Option<f64>, usual: f64| {
                taken.map_or(1.0, |t| {
                    let z = (t.max(1e-6) / (usual * p.times)).ln() / p.spread;
                    // Heavy tails: an odd swing is odd, not impossible.
                    (1.0 + z * z / 5.0).powf(-3.0) / p.spread
                })
            };
            p.share * off(back_s, config.usual_backswing_s) * off(down_s, config.usual_downswing_s)
        };
        let sum = |which: &dyn Fn(&Pace) -> bool| -> f64 {
            paces.iter().filter(|p| which(p)).map(of).sum()
        };
        let all = sum(&|_| true).max(f64::MIN_POSITIVE);
        Self {
            time_scale: 1.0,
            from: ClockFrom::Assumed,
            probability: sum(&|p| p.real) / all,
            least: config.clock_least_probability,
            slow: sum(&|p| p.slow) > 0.5 * all,
        }
    }
}
