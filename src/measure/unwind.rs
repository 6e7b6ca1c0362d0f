//! Turns as lines: an azimuth is known to whole turns only, and a finish seen from behind passes half
//! of one. Along time each value is taken on the branch nearest to the one before it.

use std::collections::BTreeMap;

use crate::math::series::nearest;
use crate::result::{Curves, Estimate};
use crate::swing::EventTime;
use crate::terms::{Event, Measure, Tells};

fn moved(e: &mut Estimate, by_deg: f64) {
    for v in [&mut e.deg, &mut e.low, &mut e.high].into_iter().flatten() {
        *v += by_deg;
    }
}

/// Whole turns, in degrees, that bring `value` nearest to `to`.
fn whole_turns(value: f64, to: f64) -> f64 {
    360.0 * ((to - value) / 360.0).round()
}

/// Takes the values in this order, each on the branch nearest to the one before it.
fn along(series: &mut [Estimate], order: impl Iterator<Item = usize>) {
    let mut last: Option<f64> = None;
    for i in order {
        let Some(e) = series.get_mut(i) else { continue };
        if let Some(deg) = e.deg {
            let by = last.map_or(0.0, |l| whole_turns(deg, l));
            moved(e, by);
            last = Some(deg + by);
        }
    }
}

/// Unwinds one series, outwards from `from`, where the value is on the branch that counts.
fn unwind_series(series: &mut [Estimate], from: usize) {
    let n = series.len();
    along(series, from..n);
    along(series, (0..=from.min(n.saturating_sub(1))).rev());
}

/// Unwinds the curves of all turns from the top on, where no turn is near half a circle, and puts
/// the values at the events on their branch.
pub fn unwind(
    curves: &mut Curves,
    at: &mut BTreeMap<Event, BTreeMap<Measure, Estimate>>,
    times: &BTreeMap<Event, EventTime>,
) {
    let middle = [Event::Top, Event::Impact, Event::Address, Event::Finish]
        .iter()
        .find_map(|e| times.get(e))
        .and_then(|t| nearest(&curves.time_s, t.time_s))
        .unwrap_or(0);
    for (measure, series) in &mut curves.series {
        if matches!(measure.spec().tells, Tells::Bend | Tells::Knee) {
            continue;
        }
        unwind_series(series, middle);
        for (event, time) in times {
            let near = nearest(&curves.time_s, time.time_s);
            let curve = near.and_then(|i| series.get(i)?.deg);
            let here = at.get_mut(event).and_then(|a| a.get_mut(measure));
            if let (Some(curve), Some(e)) = (curve, here)
                && let Some(deg) = e.deg
            {
                moved(e, whole_turns(deg, curve));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_past_half_a_circle_stays_a_line() {
        let truth: Vec<f64> = (0..50).map(|i| 60.0 - 6.0 * f64::from(i)).collect();
        let wrapped = |t: f64| t - 360.0 * (t / 360.0).round();
        let mut series: Vec<Estimate> = truth
            .iter()
            .map(|t| Estimate::new(wrapped(*t), wrapped(*t) - 5.0, wrapped(*t) + 5.0))
            .collect();
        series[30].deg = None;
        unwind_series(&mut series, 3);
        for (i, (e, t)) in series.iter().zip(&truth).enumerate() {
            if let Some(deg) = e.deg {
                assert!((deg - t).abs() < 1e-9, "{i}: {deg}");
                assert!((e.low.expect("known") - t + 5.0).abs() < 1e-9);
            }
        }
    }
}
