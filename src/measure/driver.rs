//! One swing, from clips to numbers.

use rayon::prelude::*;

use super::alone::{each_alone, prepare_what_shows_a_swing, readable};
use super::assemble::assemble;
use super::closer::{closer_looks, may_show_a_swing, shows_a_swing};
use super::geometry::find_cameras;
use super::inconsistency::view_inconsistency;
use super::measured::Measured;
use super::moments::{address_times, events_of};
use super::options::{MeasureError, Options};
use super::overlay::overlays;
use super::placement::{Placement, build_body, moved_bodies};
use super::prepare::{Prepared, file_name, prepare};
use crate::camera::CameraFit;
use crate::interval::{Estimator, Factors};
use crate::pose::{ModelFiles, PoseError, Reading, Runners, ViewTrack, observe};
use crate::progress::{Cancel, Progress};
use crate::swing::Body;
use crate::terms::Measure;
use crate::warning::Warning;

/// What came of tracks that were taken for views of one swing.
enum Together {
    Measured(Box<Measured>),
    /// They do not show one swing, and why.
    Apart(&'static str),
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
    let (files, fell_back) = files.clone().run_on(options.run_on)?;
    let files = &files;
    let pipeline = &options.pipeline;
    let runners = Runners::start(files, options.jobs)?;
    let read: Vec<Result<ViewTrack, PoseError>> = options
        .clips
        .par_iter()
        .enumerate()
        .map(|(i, (clip, _))| {
            let reading = Reading {
                every_frame: options.every_frame,
                part: options.parts.get(i).copied().flatten(),
                runners: &runners,
                closer: closer_looks,
                shows: shows_a_swing,
                may_show: may_show_a_swing,
            };
            observe(clip, files, pipeline, reading, progress, cancel)
        })
        .collect();
    if cancel.requested() {
        return Err(MeasureError::Stopped);
    }
    let (tracks, options, not_used) = readable(read, options)?;
    let mut measured = measure_tracks(&tracks, &options)?;
    let (models, ran_on) = (files.checksums()?, files.provider.key().to_owned());
    let other = measured.other.as_mut().map(|o| &mut o.result);
    for result in std::iter::once(&mut measured.result).chain(other) {
        result.models = models.clone();
        result.ran_on = Some(ran_on.clone());
    }
    measured.result.warnings.extend(not_used);
    measured.result.warnings.extend(fell_back);
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
    match together(tracks, options)? {
        Together::Measured(measured) => Ok(*measured),
        Together::Apart(why) => {
            each_alone(tracks, options, why, |track, options| {
                match together(track, options)? {
                    Together::Measured(measured) => Ok(*measured),
                    Together::Apart(_) => Err(MeasureError::Clips(track.len())),
                }
            })
        }
    }
}

/// Measures tracks as views of one swing.
fn together(tracks: &[ViewTrack], options: &Options) -> Result<Together, MeasureError> {
    let mut prepared = prepare_what_shows_a_swing(tracks, options, |tracks, options| {
        prepare(tracks, options, &options.pipeline)
    })?;
    if prepared.views.len() == 2 && prepared.offset.is_none() {
        return Ok(Together::Apart(
            "neither their turning nor the rise of their hands matches at any time offset",
        ));
    }
    let pipeline = &prepared.pipeline.clone();
    let CamerasAndBody {
        fit,
        body,
        warnings: of_cameras,
    } = reconstruct(&prepared, options);
    let apart = view_inconsistency(&prepared, &fit, &body, &pipeline.pair);
    tracing::debug!(
        ?apart,
        limit = pipeline.pair.match_limit,
        "the views compared"
    );
    if apart.is_some_and(|a| a > pipeline.pair.match_limit) {
        return Ok(Together::Apart(
            "on one clock, the turns and moments that each shows alone are farther apart than their own unsureness allows",
        ));
    }
    let mut warnings = std::mem::take(&mut prepared.warnings);
    warnings.extend(of_cameras);
    let events = events_of(&prepared, &fit, &body, pipeline);
    let factors = if options.uncalibrated {
        Factors::unit()
    } else {
        Factors::of(pipeline)
    };
    let still = address_times(&prepared, events.address);
    let moved = moved_bodies(&prepared, &fit, pipeline);
    let config = &pipeline.interval;
    let views = &prepared.views;
    let estimator = Estimator::new(views, &fit, body, moved, config, factors, &still);
    let (result, curves) = assemble(
        &prepared, &fit, &events, &estimator, options, pipeline, warnings,
    );
    let overlays = overlays(&prepared, &fit, &estimator);
    let told = |t: f64| Measure::ALL.map(|m| (m, estimator.evidence(m, t))).into();
    let evidence = result
        .events
        .iter()
        .filter_map(|(e, m)| Some((*e, told(m.s?))));
    Ok(Together::Measured(Box::new(Measured {
        evidence: evidence.collect(),
        result,
        curves,
        overlays,
        other: None,
    })))
}

/// The cameras and the body that prepared views show.
struct CamerasAndBody {
    fit: CameraFit,
    body: Body,
    warnings: Vec<Warning>,
}

fn reconstruct(prepared: &Prepared, options: &Options) -> CamerasAndBody {
    let mut warnings = Vec::new();
    let fit = find_cameras(prepared, options, &mut warnings);
    let body = build_body(prepared, &Placement::of(&fit), &prepared.pipeline);
    CamerasAndBody {
        fit,
        body,
        warnings,
    }
}
