//! What the seconds of a result rest on.

use super::options::Options;
use crate::result::{Clock, ClockFrom};
use crate::swing::{Events, ImpactFrom};
use crate::warning::Warning;

/// Codes of the warnings that tell of the clock.
const SLOW_MOTION: &str = "slow_motion";
const ODD_DOWNSWING: &str = "odd_downswing";

/// The clock of a swing: told by the user, by the file, by a strike that fits the picture, or in
/// doubt where the downswing is too short or too long for a swing.
pub fn clock(options: &Options, events: &Events, warnings: &[Warning]) -> Clock {
    let has = |code: &str| warnings.iter().any(|w| w.code == code);
    let from = if options.time_scale.is_some() {
        ClockFrom::User
    } else if has(SLOW_MOTION) {
        ClockFrom::File
    } else if matches!(events.impact, Some((_, ImpactFrom::Sound))) {
        ClockFrom::Sound
    } else {
        ClockFrom::Assumed
    };
    Clock {
        known: !has(ODD_DOWNSWING),
        from,
        probability: None,
    }
}
