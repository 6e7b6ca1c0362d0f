//! One swing, from clips to numbers.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::agreement::apart;
use super::alone::{prepare_what_shows_a_swing, readable};
use super::assemble::assemble;
use super::estimate::{Estimator, Placement, build_body};
use super::geometry::{find_cameras, travel_s};
use super::options::{MeasureError, Options};
use super::overlay::overlays;
use super::prepare::{Prepared, file_name, prepare};
use crate::body::Overlay;
use crate::camera::CameraFit;
use crate::config::{Evidence, Pipeline};
use crate::find::{Coordinate, Window};
use crate::interval::Factors;
use crate::math::stats::median;
use crate::pair::{Rough, ViewSeries, finish_onset};
use crate::pose::{ModelFiles, PoseError, Reading, ViewTrack, observe};
use crate::progress::{Cancel, Progress};
use crate::result::{Curves, SwingResult};
use crate::swing::{Body, Clues, EventTime, Events, find_events};
use crate::terms::{Event, Measure};
use crate::warning::Warning;

/// A measured swing and what is needed to draw it.
#[derive(Clone, Debug)]
pub struct Measured {
    pub result: SwingResult,
    pub curves: Curves,
    pub overlays: Vec<Overlay>,
    /// What the intervals' learnt score was told, by event and measure.
    pub evidence: BTreeMap<Event, BTreeMap<Measure, Evidence>>,
}

/// Reads the clips and measures the swing in them.
///
/// # Errors
/// [`MeasureError`]: a clip can't be read, nobody or no swing is in it, roles can't be told, or it was stopped.
pub fn measure_swing(
    options: &Options,
    files: &ModelFiles,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<Measured, MeasureError> {
    if !(1..=2).contains(&options.clips.len()) {
        return Err(MeasureError::Clips(options.clips.len()));
    }
    let pipeline = &options.pipeline;
    let jobs = (options.jobs.max(1) / options.clips.len()).max(1);
    let read: Vec<Result<ViewTrack, PoseError>> = options
        .clips
        .par_iter()
        .enumerate()
        .map(|(i, (clip, _))| {
            let reading = Reading {
                every_frame: options.every_frame,
                jobs,
                part: options.parts.get(i).copied().flatten(),
            };
            observe(clip, files, pipeline, reading, progress, cancel)
        })
        .collect();
    if cancel.requested() {
        return Err(MeasureError::Stopped);
    }
    let (tracks, options, not_used) = readable(read, options)?;
    let mut measured = measure_tracks(&tracks, &options)?;
    measured.result.models = files.checksums()?;
    measured.result.warnings.extend(not_used);
    Ok(measured)
}

/// Measures a swing from what the networks saw.
///
/// # Errors
/// [`MeasureError`]: there is no swing, no address before it, or no telling of the roles.
pub fn measure_tracks(tracks: &[ViewTrack], options: &Options) -> Result<Measured, MeasureError> {
    if let [a, b] = tracks
        && a.sha256 == b.sha256
    {
        return Err(MeasureError::SameClip(format!(
            "{} and {}",
            file_name(a),
            file_name(b)
        )));
    }
    let pipeline = &options.pipeline;
    let mut prepared = prepare_what_shows_a_swing(tracks, options, |tracks, options| {
        prepare_on_the_clock(tracks, options, pipeline)
    })?;
    let mut seen = see(&prepared, options);
    let apart = apart(&prepared, &seen.fit, &seen.body, &pipeline.pair);
    if apart.is_some_and(|a| a > pipeline.pair.match_limit) {
        prepared.face_on_alone("The two clips do not show the same swing: on one clock, the turns and moments that each shows alone are farther apart than their own unsureness allows. Only the face-on clip was measured; give the other view of the same swing.");
        seen = see(&prepared, options);
    }
    tracing::debug!(
        ?apart,
        limit = pipeline.pair.match_limit,
        "the views compared"
    );
    let Seen {
        fit,
        body,
        warnings: of_cameras,
    } = seen;
    let mut warnings = std::mem::take(&mut prepared.warnings);
    warnings.extend(of_cameras);
    let events = events_of(&prepared, &fit, &body, pipeline);
    let factors = if options.uncalibrated {
        Factors::unit()
    } else {
        Factors::of(pipeline)
    };
    let still = address_times(&prepared, events.address);
    let estimator = Estimator::new(&prepared, &fit, pipeline, factors, &still);
    let (result, curves) = assemble(
        &prepared, &fit, &events, &estimator, options, pipeline, warnings,
    );
    let overlays = overlays(&prepared, &fit, &estimator);
    let told = |t: f64| Measure::ALL.map(|m| (m, estimator.evidence(m, t))).into();
    let evidence = result
        .events
        .iter()
        .filter_map(|(e, m)| Some((*e, told(m.s?))));
    Ok(Measured {
        evidence: evidence.collect(),
        result,
        curves,
        overlays,
    })
}

/// The cameras and the body that prepared views show.
struct Seen {
    fit: CameraFit,
    body: Body,
    warnings: Vec<Warning>,
}

fn see(prepared: &Prepared, options: &Options) -> Seen {
    let mut warnings = Vec::new();
    let fit = find_cameras(prepared, options, &mut warnings);
    let body = build_body(prepared, &Placement::of(&fit), &options.pipeline);
    Seen {
        fit,
        body,
        warnings,
    }
}

/// Prepares on the clock that the files tell; where no swing fits that clock and the user said
/// nothing, tries the factors by which phones stretch slow motion, and says so.
fn prepare_on_the_clock(
    tracks: &[ViewTrack],
    options: &Options,
    pipeline: &Pipeline,
) -> Result<Prepared, MeasureError> {
    let as_told = prepare(tracks, options, pipeline);
    let c = &pipeline.swing;
    let fast_enough = |p: &Prepared| {
        p.rough
            .iter()
            .all(|r| r.fast_s - r.top_s <= c.downswing_max_s)
    };
    if options.time_scale.is_some() || as_told.as_ref().is_ok_and(fast_enough) {
        return as_told;
    }
    // Of the factors that give a swing, the one whose back- and downswing are nearest to usual ones.
    let oddness = |p: &Prepared| {
        let mean = |of: &dyn Fn(&Rough) -> f64| {
            p.rough.iter().map(of).sum::<f64>() / p.rough.len().max(1) as f64
        };
        let off = |taken: f64, usual: f64| (taken.max(1e-3) / usual).ln();
        off(mean(&|r| r.fast_s - r.top_s), c.usual_half_downswing_s).hypot(off(
            mean(&|r| r.top_s - r.takeaway.time_s),
            c.usual_backswing_s,
        ))
    };
    let found = [2.0, 4.0, 8.0]
        .into_iter()
        .filter_map(|scale| {
            let stretched = Options {
                time_scale: Some(scale),
                ..options.clone()
            };
            Some((scale, prepare(tracks, &stretched, pipeline).ok()?))
        })
        .filter(|(_, p)| fast_enough(p))
        .min_by(|a, b| oddness(&a.1).total_cmp(&oddness(&b.1)));
    let Some((scale, mut prepared)) = found else {
        return as_told;
    };
    prepared.warnings.push(Warning::new(
        "odd_downswing",
        format!("On the clip's own clock the downswing is too slow for a swing: the clip is likely slow motion, stretched {scale:.0} times for playback. It was measured so; give --time-scale {scale:.0} if that is right, or --time-scale 1 if it is not."),
    ));
    Ok(prepared)
}

fn events_of(prepared: &Prepared, fit: &CameraFit, body: &Body, pipeline: &Pipeline) -> Events {
    let shift = |v: usize| if v == 0 { 0.0 } else { fit.offset_s };
    let each = || prepared.views.iter().zip(&prepared.rough).enumerate();
    let mean = |of: &dyn Fn(usize, &ViewSeries, &Rough) -> Option<EventTime>| -> Option<EventTime> {
        let seen: Vec<EventTime> = each().filter_map(|(i, (v, r))| of(i, v, r)).collect();
        let weight = |e: &EventTime| 1.0 / (e.sigma_s * e.sigma_s);
        let total: f64 = seen.iter().map(weight).sum();
        // The views' onsets err alike: their mean is no surer than the best of them.
        let sigma_s = seen.iter().map(|e| e.sigma_s).min_by(f64::total_cmp)?;
        Some(EventTime {
            time_s: seen.iter().map(|e| e.time_s * weight(e)).sum::<f64>() / total,
            sigma_s,
        })
    };
    let takeaway = mean(&|i, _, r| {
        Some(EventTime {
            time_s: r.takeaway.time_s + shift(i),
            sigma_s: r.takeaway.sigma_s,
        })
    });
    let finish = mean(&|i, v, r| {
        let o = finish_onset(v, r.fast_s + 0.1, &pipeline.pair)?;
        Some(EventTime {
            time_s: o.time_s + shift(i),
            sigma_s: o.sigma_s,
        })
    });
    let hands_back = mean(&|i, v, r| {
        let t = hands_back(v, r)?;
        Some(EventTime {
            time_s: t + shift(i),
            sigma_s: pipeline.swing.impact_by_hands_sigma_s.hypot(0.3 / v.fps),
        })
    });
    let mut strikes: Vec<(f64, EventTime)> = each()
        .flat_map(|(i, (v, _))| {
            let travel = travel_s(&fit.views[i].camera, pipeline);
            v.strikes.iter().enumerate().map(move |(rank, s)| {
                let e = EventTime {
                    time_s: s.time_s - travel + shift(i),
                    sigma_s: s.sigma_s.hypot(pipeline.swing.impact_by_sound_sigma_s),
                };
                (rank as f64 + 0.5 * i as f64, e)
            })
        })
        .collect();
    strikes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let fast = prepared.rough.first().map_or(0.0, |r| r.fast_s);
    let top = prepared.rough.first().map_or(0.0, |r| r.top_s);
    find_events(&Clues {
        pelvis: &body.pelvis,
        thorax: &body.thorax,
        fast_s: fast,
        rough_top_s: top,
        takeaway,
        finish,
        strikes: strikes.into_iter().map(|s| s.1).collect(),
        hands_back,
        strike_reach_s: pipeline.swing.strike_from_hands_s,
        hands: each()
            .flat_map(|(i, (v, _))| hand_coordinates(v, shift(i), pipeline))
            .collect(),
        window: Window {
            search_s: pipeline.swing.top_search_s,
            before_s: pipeline.swing.top_before_s,
            after_s: pipeline.swing.top_after_s,
            guess_early_s: pipeline.swing.top_guess_early_s,
            guess_sigma_s: pipeline.swing.top_guess_sigma_s,
            model_sigma_s: pipeline.swing.top_sigma_s,
        },
        downswing_s: (
            pipeline.swing.downswing_min_s,
            pipeline.swing.downswing_max_s,
        ),
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

/// When the hands come nearest to their address place in the downswing, by a parabola through the
/// three nearest frames; seconds on the view's own clock.
fn hands_back(view: &ViewSeries, rough: &Rough) -> Option<f64> {
    let still: Vec<_> = view
        .instants
        .iter()
        .filter(|i| (rough.still_from_s..=rough.takeaway.time_s).contains(&i.time_s))
        .filter_map(|i| view.hands(i))
        .collect();
    let x = median(&still.iter().map(|p| p.x).collect::<Vec<_>>())?;
    let y = median(&still.iter().map(|p| p.y).collect::<Vec<_>>())?;
    let down: Vec<(f64, f64)> = view
        .instants
        .iter()
        .filter(|i| (rough.top_s + 0.08..=rough.fast_s + 0.25).contains(&i.time_s))
        .filter_map(|i| {
            let h = view.hands(i)?;
            Some((i.time_s, (h.x - x).hypot(h.y - y)))
        })
        .collect();
    let k = (0..down.len()).min_by(|a, b| down[*a].1.total_cmp(&down[*b].1))?;
    let (before, after) = (down.get(k.checked_sub(1)?)?, down.get(k + 1)?);
    let shift =
        crate::math::series::parabola_vertex(before.1.powi(2), down[k].1.powi(2), after.1.powi(2));
    Some(down[k].0 + shift * 0.5 * (after.0 - before.0))
}

/// Times over which address is averaged, on the result's clock.
fn address_times(prepared: &Prepared, address: Option<EventTime>) -> Vec<f64> {
    let Some((view, rough)) = prepared.views.first().zip(prepared.rough.first()) else {
        return Vec::new();
    };
    let to = address.map_or(rough.takeaway.time_s, |a| a.time_s);
    let from = rough.still_from_s.min(to - 0.05);
    let times: Vec<f64> = view
        .instants
        .iter()
        .map(|i| i.time_s)
        .filter(|t| (from..=to).contains(t))
        .collect();
    if times.is_empty() { vec![to] } else { times }
}
