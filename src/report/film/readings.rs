//! The turns that stand beside a picture.

use crate::report::picture::Readings;
use crate::result::{Curves, SwingResult};
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
        Some(at) => {
            let get = |m: Measure| at.get(&m).copied().unwrap_or_default();
            Readings {
                pelvis: get(Measure::PelvisTurnFromAddress),
                thorax: get(Measure::ThoraxTurnFromAddress),
                separation: get(Measure::Separation),
            }
        }
        None => readings_at(curves, time_s),
    }
}

/// Farther from a curve's nearest point than this there is a gap, and no number is shown; seconds.
const NEAR_S: f64 = 0.1;

/// The running turns nearest to `time_s`; empty where no curve point is near.
fn readings_at(curves: &Curves, time_s: f64) -> Readings {
    let i = curves.time_s.partition_point(|t| *t < time_s);
    let nearest = [i.checked_sub(1), Some(i)]
        .into_iter()
        .flatten()
        .filter_map(|i| Some((i, (curves.time_s.get(i)? - time_s).abs())))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, off_s)| *off_s < NEAR_S);
    let get = |m: Measure| {
        nearest
            .and_then(|(i, _)| curves.series.get(&m)?.get(i).copied())
            .unwrap_or_default()
    };
    Readings {
        pelvis: get(Measure::PelvisTurnFromAddress),
        thorax: get(Measure::ThoraxTurnFromAddress),
        separation: get(Measure::Separation),
    }
}
