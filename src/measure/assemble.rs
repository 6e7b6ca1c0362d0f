//! The result file's contents from events and estimates.

use std::collections::BTreeMap;

use super::estimate::{Estimator, Placement};
use super::options::Options;
use super::placement::WorldJoints;
use super::prepare::Prepared;
use super::unwind::unwind;
use crate::camera::CameraFit;
use crate::config::Pipeline;
use crate::interval::Z95;
use crate::math::series::nearest;
use crate::pose::TorsoPoint;
use crate::result::{
    Between, CameraEntry, Curves, Estimate, Moment, Quantity, SCHEMA, SwingResult, Tempo,
    TurnSpeed, VIEWS_DISAGREE, ViewEntry, judge,
};
use crate::result::{Clock, ClockFrom};
use crate::swing::{EventTime, Events, ImpactFrom, peak_opening};
use crate::terms::{Angle, Event, Measure, Role, Unit};
use crate::warning::Warning;

fn moment(e: EventTime) -> Moment {
    Moment {
        s: Some(e.time_s),
        low: Some(e.time_s - Z95 * e.sigma_s),
        high: Some(e.time_s + Z95 * e.sigma_s),
    }
}

fn quantity(value: f64, sigma: f64, unit: Unit) -> Quantity {
    Quantity {
        value: Some(value),
        low: Some(value - Z95 * sigma),
        high: Some(value + Z95 * sigma),
        unit,
        why: None,
    }
}

fn times_of(events: &Events) -> BTreeMap<Event, EventTime> {
    [
        (Event::Address, events.address),
        (Event::Top, events.top),
        (Event::Impact, events.impact.map(|i| i.0)),
        (Event::Finish, events.finish),
    ]
    .into_iter()
    .filter_map(|(e, t)| Some((e, t?)))
    .collect()
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
    let times = times_of(events);
    let mut at = BTreeMap::new();
    for (event, time) in &times {
        let rows = estimator.at(&[time.time_s], Some((*event, time.sigma_s)));
        if let Some(row) = rows.into_iter().next() {
            at.insert(
                *event,
                row.into_iter().collect::<BTreeMap<Measure, Estimate>>(),
            );
        }
    }
    let mut curves = curves_of(prepared, estimator);
    unwind(&mut curves, &mut at, &times);
    doubts(events, &times, estimator, pipeline, prepared, &mut warnings);
    let (peak_separation, peak_separation_at) = peak_separation(&curves, &times);
    let mut result = SwingResult {
        schema: SCHEMA.to_owned(),
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        // Only who holds the files knows.
        models: BTreeMap::new(),
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
        sway: sway(prepared, fit, &times, options, pipeline),
        tempo: tempo(&times),
        turn_speed: turn_speed(&times, estimator),
        peak_separation,
        peak_separation_at,
        pelvis_top: events.pelvis_top.map(moment),
        thorax_top: events.thorax_top.map(moment),
        typed_in: options.typed_in.clone(),
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
            series.entry(measure).or_default().push(estimate);
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
                Event::Address => "the golfer stands still nowhere before the swing",
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

fn view_entries(
    prepared: &Prepared,
    fit: &CameraFit,
    times: &BTreeMap<Event, EventTime>,
) -> Vec<ViewEntry> {
    let span = (
        times
            .get(&Event::Address)
            .map_or(f64::NEG_INFINITY, |t| t.time_s),
        times
            .get(&Event::Finish)
            .map_or(f64::INFINITY, |t| t.time_s),
    );
    prepared
        .views
        .iter()
        .zip(&fit.views)
        .enumerate()
        .map(|(i, (view, fitted))| {
            let offset_s = if i == 0 { 0.0 } else { fit.offset_s };
            let inside = |t: &f64| (span.0..=span.1).contains(&(t + offset_s));
            let frames = view.frame_times_s.iter().filter(|t| inside(t)).count();
            let read: Vec<f64> = view
                .instants
                .iter()
                .filter(|x| x.rotation.is_some())
                .map(|x| x.time_s)
                .collect();
            // A sampled still frame counts as read when its neighbour was.
            let covered = view
                .frame_times_s
                .iter()
                .filter(|t| inside(t))
                .filter(|t| nearest(&read, **t).is_some_and(|k| (read[k] - **t).abs() < 0.11))
                .count();
            let angle = |value: f64, sigma: f64| {
                let (v, s) = (value.to_degrees(), Z95 * sigma.to_degrees());
                Estimate::new(v, v - s, v + s)
            };
            let m = fitted.camera.world_from_camera.inverse().into_inner();
            ViewEntry {
                role: view.role,
                file: view
                    .file
                    .file_name()
                    .map_or_else(String::new, |n| n.to_string_lossy().into_owned()),
                sha256: view.sha256.clone(),
                fps: view.fps,
                offset_s,
                offset_half_width_s: (i > 0).then_some(Z95 * fit.offset_sigma_s),
                time_scale: view.time_scale,
                width: view.size_px.x as u32,
                height: view.size_px.y as u32,
                coverage: if frames == 0 {
                    0.0
                } else {
                    covered as f64 / frames as f64
                },
                camera: Some(CameraEntry {
                    focal_px: fitted.camera.focal_px,
                    focal_from: if view.focal_px.is_some() {
                        "file"
                    } else {
                        "swing and prior"
                    }
                    .to_owned(),
                    azimuth_off_role: angle(fitted.attitude.azimuth, fitted.sigma.azimuth),
                    pitch: angle(fitted.attitude.pitch, fitted.sigma.pitch),
                    roll: angle(fitted.attitude.roll, fitted.sigma.roll),
                    distance_m: Some(fitted.camera.position_m.norm()),
                    camera_from_world: [
                        [m[(0, 0)], m[(0, 1)], m[(0, 2)]],
                        [m[(1, 0)], m[(1, 1)], m[(1, 2)]],
                        [m[(2, 0)], m[(2, 1)], m[(2, 2)]],
                    ],
                }),
            }
        })
        .collect()
}

fn tempo(times: &BTreeMap<Event, EventTime>) -> Option<Tempo> {
    let (a, t, i) = (
        times.get(&Event::Address)?,
        times.get(&Event::Top)?,
        times.get(&Event::Impact)?,
    );
    let (back, down) = (t.time_s - a.time_s, i.time_s - t.time_s);
    let (sb, sd) = (a.sigma_s.hypot(t.sigma_s), t.sigma_s.hypot(i.sigma_s));
    if back <= 0.0 || down <= 0.0 {
        return None;
    }
    let ratio = back / down;
    Some(Tempo {
        backswing: quantity(back, sb, Unit::Seconds),
        downswing: quantity(down, sd, Unit::Seconds),
        ratio: quantity(
            ratio,
            ratio * (sb / back).hypot(sd / down),
            Unit::BackToDown,
        ),
    })
}

fn turn_speed(times: &BTreeMap<Event, EventTime>, estimator: &Estimator<'_>) -> Option<TurnSpeed> {
    let (t, i) = (times.get(&Event::Top)?, times.get(&Event::Impact)?);
    let down_s = i.time_s - t.time_s;
    let peak = |f| peak_opening(f, t.time_s - 0.37 * down_s, i.time_s + 0.2 * down_s);
    let (p, th) = (peak(&estimator.body.pelvis)?, peak(&estimator.body.thorax)?);
    let lead = p.at.time_s - th.at.time_s;
    let sigma = p.at.sigma_s.hypot(th.at.sigma_s);
    let first = if lead + Z95 * sigma < 0.0 {
        "pelvis"
    } else if lead - Z95 * sigma > 0.0 {
        "thorax"
    } else {
        "can't tell"
    };
    Some(TurnSpeed {
        pelvis: quantity(
            p.rate.to_degrees(),
            p.rate_sigma.to_degrees(),
            Unit::DegreesPerSecond,
        ),
        thorax: quantity(
            th.rate.to_degrees(),
            th.rate_sigma.to_degrees(),
            Unit::DegreesPerSecond,
        ),
        pelvis_before_thorax: quantity(lead, sigma, Unit::Seconds),
        first: first.to_owned(),
    })
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
            let turn = |angle| estimator.between(angle, (**from, **a), (**to, **b));
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
    times: &BTreeMap<Event, EventTime>,
) -> (Option<Estimate>, Option<Moment>) {
    let found = || -> Option<(Estimate, Moment)> {
        let (top, impact) = (times.get(&Event::Top)?, times.get(&Event::Impact)?);
        let series = curves.series.get(&Measure::Separation)?;
        let (i, e) = series
            .iter()
            .enumerate()
            .filter(|(i, e)| {
                (top.time_s - 0.02..=impact.time_s).contains(&curves.time_s[*i]) && e.deg.is_some()
            })
            .max_by(|a, b| {
                a.1.deg
                    .unwrap_or(f64::MIN)
                    .total_cmp(&b.1.deg.unwrap_or(f64::MIN))
            })?;
        Some((
            *e,
            moment(EventTime {
                time_s: curves.time_s[i],
                sigma_s: top.sigma_s,
            }),
        ))
    };
    found().map_or((None, None), |(e, m)| (Some(e), Some(m)))
}

const HIPS: [TorsoPoint; 2] = [TorsoPoint::HipL, TorsoPoint::HipR];
const ANKLES: [TorsoPoint; 2] = [TorsoPoint::AnkleL, TorsoPoint::AnkleR];

/// Shift of the hip midpoint along the target line from address, at each event.
fn sway(
    prepared: &Prepared,
    fit: &CameraFit,
    times: &BTreeMap<Event, EventTime>,
    options: &Options,
    pipeline: &Pipeline,
) -> BTreeMap<Event, Vec<Quantity>> {
    let mut out = BTreeMap::new();
    let Some(view) = prepared.views.first() else {
        return out;
    };
    let placement = Placement::of(fit);
    let joints = WorldJoints::new(&prepared.views, &placement, pipeline.body.max_gap_s);
    let instant_times: Vec<f64> = view.instants.iter().map(|i| i.time_s).collect();
    // Hip midpoint and ankle distance along X in metres: by two rays, or by the face-on picture.
    let along = |t: f64, [a, b]: [TorsoPoint; 2]| -> Option<(f64, f64)> {
        let instant = view.instants.get(nearest(&instant_times, t)?)?;
        if prepared.views.len() == 2 {
            let at = |joint| joints.at(instant, joint);
            let (l, r) = (at(a)?, at(b)?);
            Some((l.at.x, r.at.x))
        } else if view.role == Role::FaceOn {
            let camera = &placement.cameras[0];
            let scale = camera.position_m.xy().norm() / camera.focal_px;
            let at = |joint| instant.point(joint).map(|s| s.0.x * scale);
            Some((at(a)?, at(b)?))
        } else {
            None
        }
    };
    let Some(address) = times.get(&Event::Address) else {
        return out;
    };
    let around: Vec<f64> = (-3..=3).map(|k| f64::from(k) / 60.0).collect();
    let mean = |t: f64, pair: [TorsoPoint; 2]| -> Option<(f64, f64)> {
        let seen: Vec<(f64, f64)> = around.iter().filter_map(|d| along(t + d, pair)).collect();
        let n = seen.len() as f64;
        (n > 0.0).then(|| {
            (
                seen.iter().map(|s| s.0).sum::<f64>() / n,
                seen.iter().map(|s| s.1).sum::<f64>() / n,
            )
        })
    };
    let Some(hips) = mean(address.time_s - 0.05, HIPS) else {
        return out;
    };
    let Some(ankles) = mean(address.time_s - 0.05, ANKLES) else {
        return out;
    };
    let stance = (ankles.0 - ankles.1).abs();
    if stance < 0.05 {
        return out;
    }
    // A hip point is good to about 1.5 cm in each of two readings (measured on rendered clips).
    let sigma_m = 0.02;
    for (event, time) in times {
        let Some(now) = mean(time.time_s, HIPS) else {
            continue;
        };
        let shift = if *event == Event::Address {
            0.0
        } else {
            (now.0 + now.1 - hips.0 - hips.1) / 2.0
        };
        let sigma = if *event == Event::Address {
            0.0
        } else {
            sigma_m
        };
        let mut quantities = vec![quantity(
            100.0 * shift / stance,
            100.0 * sigma / stance,
            Unit::StanceWidthPercent,
        )];
        if options.stature_cm.is_some() {
            quantities.push(quantity(100.0 * shift, 100.0 * sigma, Unit::Centimetres));
        }
        out.insert(*event, quantities);
    }
    out
}
