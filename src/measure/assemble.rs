//! The result file's contents from events and estimates.

use std::collections::BTreeMap;

use super::entries::view_entries;
use super::options::Options;
use super::placement::Placement;
use super::prepare::Prepared;
use super::unwind::unwind;
use crate::camera::CameraFit;
use crate::config::{Pipeline, SwingConfig};
use crate::interval::{Estimator, Z95};
use crate::result::{
    Between, Curves, Estimate, Moment, Quantity, SCHEMA, SwingResult, Tempo, TurnSpeed, judge,
};
use crate::result::{Clock, ClockFrom};
use crate::swing::{
    self, EventTime, Events, ImpactFrom, Openings, Peak, Sure, largest_in_downswing, openings,
    sway, tempo,
};
use crate::terms::{Angle, Event, Measure, Unit};
use crate::warning::{VIEWS_DISAGREE, Warning};

fn moment(e: EventTime) -> Moment {
    Moment {
        s: Some(e.time_s),
        low: Some(e.time_s - Z95 * e.sigma_s),
        high: Some(e.time_s + Z95 * e.sigma_s),
    }
}

fn quantity(Sure { value, sigma }: Sure, unit: Unit) -> Quantity {
    Quantity {
        value: Some(value),
        low: Some(value - Z95 * sigma),
        high: Some(value + Z95 * sigma),
        unit,
        why: None,
    }
}

pub fn assemble(
    prepared: &Prepared,
    fit: &CameraFit,
    events: &Events,
    estimator: &Estimator<'_>,
    options: &Options,
    pipeline: &Pipeline,
    mut warnings: Vec<Warning>,
) -> (SwingResult, Curves) {
    let times: BTreeMap<Event, EventTime> = events.seen().collect();
    let mut at = BTreeMap::new();
    for (event, time) in &times {
        let rows = estimator.at(&[time.time_s], Some((*event, time.sigma_s)));
        if let Some(row) = rows.into_iter().next() {
            let row = row.into_iter().map(|(m, angle)| (m, angle.into()));
            at.insert(*event, row.collect::<BTreeMap<Measure, Estimate>>());
        }
    }
    let mut curves = curves_of(prepared, estimator);
    unwind(&mut curves, &mut at, &times);
    doubts(events, &times, estimator, pipeline, prepared, &mut warnings);
    let (peak_separation, peak_separation_at) = peak_separation(&curves, events, &pipeline.swing);
    let mut result = SwingResult {
        schema: SCHEMA.to_owned(),
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        // Only who holds the files knows.
        models: BTreeMap::new(),
        ran_on: None,
        name: options.name.clone(),
        handedness: prepared.hand,
        handedness_from: prepared.hand_from.to_owned(),
        clock: "seconds from the first frame of the first view".to_owned(),
        real_time: real_time(prepared, events),
        angle_order: "turn, then side bend, then forward bend: R = Rz(-turn) Ry(side) Rx(forward)"
            .to_owned(),
        views: view_entries(prepared, fit, &times),
        events: times.iter().map(|(e, t)| (*e, moment(*t))).collect(),
        at,
        between: between(&times, estimator),
        sway: sways(prepared, fit, events, options),
        tempo: tempo(events).map(written_tempo),
        turn_speed: openings(&estimator.body, events, &pipeline.swing).map(turn_speed),
        peak_separation,
        peak_separation_at,
        pelvis_top: events.pelvis_top.map(moment),
        thorax_top: events.thorax_top.map(moment),
        typed_in: options.typed_in.clone().tidied(),
        calibration: None,
        warnings,
    };
    judge(&mut result, &mut curves, &pipeline.usable);
    (result, curves)
}

/// The clock; a strike at the swing's impact is one more thing that it rests on.
fn real_time(prepared: &Prepared, events: &Events) -> Clock {
    let heard = matches!(events.impact, Some((_, ImpactFrom::Sound)));
    let sound = heard && prepared.clock.known && prepared.clock.from == ClockFrom::Assumed;
    Clock {
        from: if sound {
            ClockFrom::Sound
        } else {
            prepared.clock.from
        },
        ..prepared.clock
    }
}

fn curves_of(prepared: &Prepared, estimator: &Estimator<'_>) -> Curves {
    let Some(view) = prepared.views.first() else {
        return Curves::default();
    };
    let time_s = view.frame_times_s.clone();
    let rows = estimator.at(&time_s, None);
    let mut series: BTreeMap<Measure, Vec<Estimate>> = BTreeMap::new();
    for row in rows {
        for (measure, estimate) in row {
            series.entry(measure).or_default().push(estimate.into());
        }
    }
    Curves { time_s, series }
}

fn doubts(
    events: &Events,
    times: &BTreeMap<Event, EventTime>,
    estimator: &Estimator<'_>,
    pipeline: &Pipeline,
    prepared: &Prepared,
    warnings: &mut Vec<Warning>,
) {
    for event in Event::ALL {
        if !times.contains_key(&event) {
            let why = match event {
                Event::Address => {
                    "the golfer stands still nowhere before the swing, or the clip begins after it"
                }
                Event::Top => "the thorax's turning back was not seen",
                Event::Impact => {
                    "neither a strike was heard nor the hands seen passing their address place"
                }
                Event::Finish => "the clip ends before the golfer stands still again",
            };
            warnings.push(Warning::new(
                &format!("no_{}", event.key()),
                format!("The {event} could not be found: {why}."),
            ));
        }
    }
    if matches!(events.impact, Some((_, ImpactFrom::Hands))) {
        warnings.push(Warning::new(
            "impact_by_hands",
            "No strike was heard at a fitting time, so impact was taken from the hands passing their address place; it is less sharp.",
        ));
    }
    if prepared.views.len() == 2 {
        for (event, time) in times {
            if let Some(ratio) = estimator.disagreement_ratio(time.time_s)
                && ratio > pipeline.interval.disagreement_warning
            {
                warnings.push(Warning::at(
                    *event,
                    VIEWS_DISAGREE,
                    format!("At {event} the two views read turns that differ by {ratio:.1} times what their own sureness allows. The intervals there are widened; look at the stills before you trust the numbers."),
                ));
            }
        }
    }
}

fn written_tempo(t: swing::Tempo) -> Tempo {
    Tempo {
        backswing: quantity(t.back_s, Unit::Seconds),
        downswing: quantity(t.down_s, Unit::Seconds),
        ratio: quantity(t.ratio, Unit::BackToDown),
    }
}

fn turn_speed(o: Openings) -> TurnSpeed {
    let speed = |peak: Peak| {
        let told = Sure {
            value: peak.rate.to_degrees(),
            sigma: peak.rate_sigma.to_degrees(),
        };
        quantity(told, Unit::DegreesPerSecond)
    };
    let Sure { value, sigma } = o.pelvis_later_s;
    let first = if value + Z95 * sigma < 0.0 {
        "pelvis"
    } else if value - Z95 * sigma > 0.0 {
        "thorax"
    } else {
        "can't tell"
    };
    TurnSpeed {
        pelvis: speed(o.pelvis),
        thorax: speed(o.thorax),
        pelvis_before_thorax: quantity(o.pelvis_later_s, Unit::Seconds),
        first: first.to_owned(),
    }
}

/// Turns from each moment that was seen to the next. Those from address stand at each moment.
fn between(times: &BTreeMap<Event, EventTime>, estimator: &Estimator<'_>) -> Vec<Between> {
    let seen: Vec<_> = times
        .iter()
        .filter(|(e, _)| **e != Event::Address)
        .collect();
    seen.windows(2)
        .filter_map(|pair| {
            let [(from, a), (to, b)] = pair else {
                return None;
            };
            let turn = |angle| estimator.between(angle, (**from, **a), (**to, **b)).into();
            Some(Between {
                from: **from,
                to: **to,
                pelvis_turn: turn(Angle::PelvisTurn),
                thorax_turn: turn(Angle::ThoraxTurn),
            })
        })
        .collect()
}

fn peak_separation(
    curves: &Curves,
    events: &Events,
    config: &SwingConfig,
) -> (Option<Estimate>, Option<Moment>) {
    let found = || {
        let series = curves.series.get(&Measure::Separation)?;
        let degs = series.iter().map(|e| e.deg);
        let i = largest_in_downswing(&curves.time_s, degs, events, config)?;
        let at = EventTime {
            time_s: curves.time_s[i],
            sigma_s: events.top?.sigma_s,
        };
        Some((series[i], moment(at)))
    };
    found().unzip()
}

/// Sway at each event; in centimetres too where the stature is known.
fn sways(
    prepared: &Prepared,
    fit: &CameraFit,
    events: &Events,
    options: &Options,
) -> BTreeMap<Event, Vec<Quantity>> {
    let Some(view) = prepared.views.first() else {
        return BTreeMap::new();
    };
    let (placement, pipeline) = (Placement::of(fit), &prepared.pipeline);
    let joints = placement.joints(&prepared.views, pipeline);
    sway(view, &joints, events, &pipeline.swing)
        .into_iter()
        .map(|(event, sway)| {
            let mut told = vec![quantity(sway.percent_of_stance, Unit::StanceWidthPercent)];
            if options.stature_cm.is_some() {
                told.push(quantity(sway.cm, Unit::Centimetres));
            }
            (event, told)
        })
        .collect()
}
