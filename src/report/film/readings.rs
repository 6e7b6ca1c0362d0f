//! The turns that stand beside a picture.

use crate::math::series::nearest;
use crate::report::picture::Readings;
use crate::result::{Curves, Estimate, SwingResult};
use crate::terms::{Event, Measure};

/// The turns at an event exactly as the result gives them, so that a page never shows two numbers
/// for one thing; at other times those of the curves.
pub fn readings(
    swing: &SwingResult,
    curves: &Curves,
    event: Option<Event>,
    time_s: f64,
) -> Readings {
    match event.and_then(|e| swing.at.get(&e)) {
        Some(at) => three(|m| at.get(&m).copied()),
        None => readings_at(curves, time_s),
    }
}

/// Farther from a curve's nearest point than this there is a gap, and no number is shown; seconds.
const NEAR_S: f64 = 0.1;

/// The running turns nearest to `time_s`; empty where no curve point is near.
fn readings_at(curves: &Curves, time_s: f64) -> Readings {
    let near = |i: &usize| {
        let at = curves.time_s.get(*i);
        at.is_some_and(|t| (t - time_s).abs() < NEAR_S)
    };
    let i = nearest(&curves.time_s, time_s).filter(near);
    three(|m| i.and_then(|i| curves.series.get(&m)?.get(i).copied()))
}

fn three(get: impl Fn(Measure) -> Option<Estimate>) -> Readings {
    let get = |m| get(m).unwrap_or_default();
    Readings {
        pelvis: get(Measure::PelvisTurnFromAddress),
        thorax: get(Measure::ThoraxTurnFromAddress),
        separation: get(Measure::Separation),
    }
}
