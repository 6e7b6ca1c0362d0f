//! The moments of a swing on the result's clock, from what each view shows and what was heard.

use super::geometry::travel_s;
use super::prepare::Prepared;
use crate::camera::CameraFit;
use crate::config::Pipeline;
use crate::find::{Coordinate, Moment, Phases, Window};
use crate::pair::ViewSeries;
use crate::result::ClockFrom;
use crate::swing::{Body, Clues, EventTime, Events, find_events};

fn shifted(m: Moment, by_s: f64) -> EventTime {
    EventTime {
        time_s: m.time_s + by_s,
        ..m
    }
}

/// One moment from those that the views show. Their errors are alike: it is no surer than the best, nor
/// than the views agree.
fn together(seen: &[EventTime]) -> Option<EventTime> {
    let weight = |e: &EventTime| 1.0 / (e.sigma_s * e.sigma_s).max(1e-12);
    let total: f64 = seen.iter().map(weight).sum();
    let sigma_s = seen.iter().map(|e| e.sigma_s).min_by(f64::total_cmp)?;
    let time_s = seen.iter().map(|e| e.time_s * weight(e)).sum::<f64>() / total;
    // What they differ by beyond that is doubt.
    let off = |e: &EventTime| weight(e) / total * (e.time_s - time_s).powi(2);
    let apart_s = seen.iter().map(off).sum::<f64>().sqrt();
    Some(EventTime {
        time_s,
        sigma_s: sigma_s.max(apart_s),
    })
}

/// Strikes as heard in all views, each less its travel time, loudest first.
fn strikes(prepared: &Prepared, fit: &CameraFit, pipeline: &Pipeline) -> Vec<EventTime> {
    let mut heard: Vec<(f64, EventTime)> = Vec::new();
    for (i, (view, fitted)) in prepared.views.iter().zip(&fit.views).enumerate() {
        let shift_s = if i == 0 { 0.0 } else { fit.offset_s };
        let shift_s = shift_s - travel_s(&fitted.camera, &pipeline.camera);
        for (rank, s) in view.strikes.iter().enumerate() {
            let e = EventTime {
                time_s: s.time_s + shift_s,
                sigma_s: s.sigma_s.hypot(pipeline.swing.impact_by_sound_sigma_s),
            };
            heard.push((rank as f64 + 0.5 * i as f64, e));
        }
    }
    heard.sort_by(|a, b| a.0.total_cmp(&b.0));
    heard.into_iter().map(|h| h.1).collect()
}

/// A strike in sound that may have been stretched with its pictures: editing smears it and leaves its
/// delay unknown, so the hands have a say beside it.
fn stretched(strike: EventTime, hands: Option<EventTime>, reach_s: f64, sigma_s: f64) -> EventTime {
    let strike = EventTime {
        sigma_s: strike.sigma_s.hypot(sigma_s),
        ..strike
    };
    let theirs = hands.filter(|h| (h.time_s - strike.time_s).abs() <= reach_s);
    theirs
        .and_then(|hands| together(&[strike, hands]))
        .unwrap_or(strike)
}

pub fn events_of(prepared: &Prepared, fit: &CameraFit, body: &Body, pipeline: &Pipeline) -> Events {
    let shift = |v: usize| if v == 0 { 0.0 } else { fit.offset_s };
    let mean = |of: &dyn Fn(&Phases) -> Option<Moment>| -> Option<EventTime> {
        let each = prepared.swings.iter().enumerate();
        let seen: Vec<EventTime> = each
            .filter_map(|(i, s)| Some(shifted(of(s)?, shift(i))))
            .collect();
        together(&seen)
    };
    let Some(first) = prepared.swings.first() else {
        return Events::default();
    };
    let down_s = first.down_s().unwrap_or(pipeline.find.usual_downswing_s);
    let (before_s, after_s) = first.near_top_s;
    let rough_top = mean(&|s| Some(s.top)).unwrap_or(first.top);
    let hands_back = mean(&|s| Some(s.impact));
    let reach_s = pipeline.swing.strike_from_hands * down_s;
    let mut strikes = strikes(prepared, fit, pipeline);
    let clock = &prepared.clock;
    if !clock.known || clock.from == ClockFrom::User {
        let sigma_s = pipeline.swing.impact_by_stretched_sound * down_s;
        for strike in &mut strikes {
            *strike = stretched(*strike, hands_back, reach_s, sigma_s);
        }
    }
    find_events(&Clues {
        pelvis: &body.pelvis,
        thorax: &body.thorax,
        fast_s: first.fast_s,
        rough_top,
        begins_s: first.begins_s(),
        down_s,
        takeaway: mean(&|s| s.takeaway),
        finish: mean(&|s| s.finish),
        strikes,
        hands_back,
        strike_reach_s: reach_s,
        hands: prepared
            .views
            .iter()
            .enumerate()
            .flat_map(|(i, v)| hand_coordinates(v, shift(i), pipeline))
            .collect(),
        config: &pipeline.swing,
        window: Window::at_top(before_s, after_s, down_s, &pipeline.find),
    })
}

/// The hands' picture coordinates of a view on the result's clock, in golfer heights.
fn hand_coordinates(view: &ViewSeries, shift_s: f64, pipeline: &Pipeline) -> Vec<Coordinate> {
    (0..2)
        .map(|k| Coordinate {
            samples: view
                .instants
                .iter()
                .filter_map(|i| Some((i.time_s + shift_s, view.hands(i)?[k] / view.body_px)))
                .collect(),
            sigma: pipeline.camera.landmark_sigma,
        })
        .collect()
}

/// Times over which address is averaged, on the result's clock; none where the clip begins after it.
pub fn address_times(prepared: &Prepared, address: Option<EventTime>) -> Vec<f64> {
    let Some((view, swing)) = prepared.views.first().zip(prepared.swings.first()) else {
        return Vec::new();
    };
    let Some(to) = address.map(|a| a.time_s) else {
        return Vec::new();
    };
    let least_s = prepared.pipeline.swing.address_least * (swing.top.time_s - to).max(0.0);
    let from = swing.still_from_s.min(to - least_s);
    // Of every frame, read or not: readings lie closer where movement begins, and would count for more.
    let times: Vec<f64> = view
        .frame_times_s
        .iter()
        .copied()
        .filter(|t| (from..=to).contains(t))
        .collect();
    if times.is_empty() { vec![to] } else { times }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretched_sound_is_no_surer_than_it_agrees_with_the_hands() {
        let at = |time_s, sigma_s| EventTime { time_s, sigma_s };
        let (strike, hands) = (at(3.0, 0.003), at(3.12, 0.06));
        let both = stretched(strike, Some(hands), 0.5, 0.06);
        assert!((both.time_s - 3.06).abs() < 1e-3, "{both:?}");
        assert!(both.sigma_s >= 0.0599, "{both:?}");
        // Of somebody else's hands it knows nothing, and is still in doubt.
        let alone = stretched(strike, Some(at(4.0, 0.06)), 0.5, 0.06);
        assert_eq!(alone.time_s, 3.0);
        assert!(alone.sigma_s > 0.06, "{alone:?}");
    }
}
