//! Two clips that are no pair: one is of no use and the other is measured alone, or each is measured
//! alone; and that is said.

use super::measured::Measured;
use super::options::{MeasureError, Options};
use super::prepare::Prepared;
use crate::clip::ClipError;
use crate::pose::{PoseError, ViewTrack};
use crate::warning::Warning;

/// Code of the warning that a given clip is not in the result.
pub const CLIP_NOT_USED: &str = "clip_not_used";

/// Code of the warning that two clips do not show one swing.
const NO_PAIR: &str = "views_do_not_match";

/// Code of the warning that the other clip's own result lies beside this one.
pub const OTHER_CLIP: &str = "other_clip_alone";

/// The options as if only clip `i` had been given.
fn only(options: &Options, i: usize) -> Options {
    let pick = |n: usize| options.parts.get(n).copied().flatten();
    Options {
        clips: options.clips.get(i).cloned().into_iter().collect(),
        parts: vec![pick(i)],
        ..options.clone()
    }
}

fn warning(error: &MeasureError, options: &Options, i: usize) -> Warning {
    let mut text = error.to_string();
    // A result is passed on: where the clips lay on this computer is no part of it.
    if let Some((path, _)) = options.clips.get(i)
        && let Some(name) = path.file_name()
    {
        let (path, name) = (path.display().to_string(), name.to_string_lossy());
        text = text.replace(&path, &name);
    }
    Warning::new(
        CLIP_NOT_USED,
        format!("{text} The other clip was measured alone."),
    )
}

/// True where the error is about a clip's contents. A name that leads nowhere is a slip of the
/// keyboard, and a missing network no clip's fault: those end the measurement.
fn of_its_contents(error: &PoseError) -> bool {
    match error {
        PoseError::Clip(ClipError::Io(_)) => false,
        PoseError::Clip(_)
        | PoseError::Nobody(_)
        | PoseError::UpsideDown(_)
        | PoseError::Sideways(_) => true,
        _ => false,
    }
}

/// The clips that could be read, with the options for them and a word on the one that could not.
pub fn readable(
    read: Vec<Result<ViewTrack, PoseError>>,
    options: &Options,
) -> Result<(Vec<ViewTrack>, Options, Option<Warning>), MeasureError> {
    let of_one = |mine: &Result<ViewTrack, PoseError>, other: &Result<ViewTrack, PoseError>| {
        other.is_ok() && mine.as_ref().is_err_and(of_its_contents)
    };
    let bad = match read.as_slice() {
        [a, b] if of_one(a, b) => Some(0),
        [a, b] if of_one(b, a) => Some(1),
        _ => None,
    };
    let mut tracks = Vec::new();
    let mut said = None;
    for (i, track) in read.into_iter().enumerate() {
        match track {
            Ok(t) => tracks.push(t),
            Err(e) if bad == Some(i) => said = Some(warning(&e.into(), options, i)),
            Err(e) => return Err(e.into()),
        }
    }
    let options = bad.map_or_else(|| options.clone(), |i| only(options, 1 - i));
    Ok((tracks, options, said))
}

/// Prepares the swing; where one of two clips shows none, that of the other.
pub fn prepare_what_shows_a_swing(
    tracks: &[ViewTrack],
    options: &Options,
    prepare: impl Fn(&[ViewTrack], &Options) -> Result<Prepared, MeasureError>,
) -> Result<Prepared, MeasureError> {
    let error = match prepare(tracks, options) {
        Err(e @ (MeasureError::NoSwing { .. } | MeasureError::Left { .. }))
            if tracks.len() == 2 =>
        {
            e
        }
        whole => return whole,
    };
    let alone = |i: usize| {
        let track = tracks.get(i..=i)?;
        prepare(track, &only(options, i)).ok()
    };
    let (mut good, bad) = match (alone(0), alone(1)) {
        (Some(good), None) => (good, 1),
        (None, Some(good)) => (good, 0),
        _ => return Err(error),
    };
    good.warnings.push(warning(&error, options, bad));
    Ok(good)
}

/// Measures each of two clips that do not show one swing, the face-on one first; where only one
/// can be measured, that one. `why` they are no pair is said in both results.
pub fn each_alone(
    tracks: &[ViewTrack],
    options: &Options,
    why: &str,
    measure: impl Fn(&[ViewTrack], &Options) -> Result<Measured, MeasureError>,
) -> Result<Measured, MeasureError> {
    let mut good: Vec<Measured> = Vec::new();
    let mut bad: Option<(usize, MeasureError)> = None;
    for i in 0..tracks.len() {
        let track = tracks.get(i..=i).unwrap_or_default();
        match measure(track, &only(options, i)) {
            Ok(measured) => good.push(measured),
            Err(e) => bad = Some((i, e)),
        }
    }
    let role = |m: &Measured| m.result.views.first().map(|v| v.role);
    good.sort_by_key(role);
    let both = good.len() > 1;
    let rest = if both {
        "Each was measured alone, and nothing of one is in the other's numbers."
    } else {
        "Only one of them could be measured."
    };
    let no_pair = Warning::new(
        NO_PAIR,
        format!(
            "The two clips do not show the same swing: {why}. {rest} For narrower intervals give both views of one swing."
        ),
    );
    for m in &mut good {
        m.result.warnings.insert(0, no_pair.clone());
    }
    let mut all = good.into_iter();
    let (Some(mut first), other) = (all.next(), all.next()) else {
        return Err(bad.map_or(MeasureError::Clips(tracks.len()), |b| b.1));
    };
    if let Some((i, error)) = bad {
        first.result.warnings.push(warning(&error, options, i));
    }
    if let Some(mut other) = other {
        let name = |m: &Measured| {
            m.result
                .views
                .first()
                .map_or_else(String::new, |v| format!("{} ({})", v.file, v.role))
        };
        let (here, there) = (name(&first), name(&other));
        let beside = |text: String| Warning::new(OTHER_CLIP, text);
        first.result.warnings.insert(
            1,
            beside(format!(
                "This is {here}. The result of {there} lies in the folder {OTHER_FOLDER}."
            )),
        );
        other.result.warnings.insert(
            1,
            beside(format!(
                "This is {there}. The result of {here} lies in the folder above."
            )),
        );
        first.other = Some(Box::new(other));
    }
    Ok(first)
}

/// Folder, in that of the first clip's result, with the result of the other one alone.
pub const OTHER_FOLDER: &str = "other-clip";
