//! From tracks to views with roles, one handedness and one clock.

use super::options::{MeasureError, Options};
use crate::config::Pipeline;
use crate::pair::{
    Clocked, Heading, Offset, OffsetFrom, Rough, ViewSeries, find_offset, has_fast_turn,
    heading_between, headings, rough_timing, seat_views, swing_hand,
};
use crate::pose::ViewTrack;
use crate::terms::{Handedness, Role};
use crate::warning::Warning;

/// The views of a swing, ready for geometry. The first view carries the clock.
#[derive(Clone, Debug)]
pub struct Prepared {
    pub views: Vec<ViewSeries>,
    pub rough: Vec<Rough>,
    pub offset: Option<Offset>,
    pub hand: Handedness,
    pub hand_from: &'static str,
    pub warnings: Vec<Warning>,
}

impl Prepared {
    /// Drops the second view of two that do not show one swing, and says so.
    pub fn face_on_alone(&mut self, why: &str) {
        self.warnings.push(Warning::new("views_do_not_match", why));
        self.warnings.retain(|w| w.code != "offset_by_motion");
        self.views.truncate(1);
        self.rough.truncate(1);
        self.offset = None;
        self.warn_of_single_view();
    }

    fn warn_of_single_view(&mut self) {
        if let [view] = self.views.as_slice() {
            self.warnings.push(Warning::new(
                "single_view",
                format!("Measured from one {} clip alone: one view sees depth badly, so the intervals are wider. A second phone from the other side narrows them.", view.role),
            ));
        }
    }
}

/// How many playback seconds one real second takes in a clip.
fn time_scale(track: &ViewTrack, options: &Options, warnings: &mut Vec<Warning>) -> f64 {
    if let Some(s) = options.time_scale {
        return s;
    }
    match track.info.capture_fps {
        Some(capture) if track.info.fps > 1.0 && capture / track.info.fps > 1.2 => {
            let scale = capture / track.info.fps;
            warnings.push(Warning::new(
                "slow_motion",
                format!("{} was filmed at {capture:.0} frames a second and stretched {scale:.1} times for playback, says its file; it was put back on real time.", file_name(track)),
            ));
            scale
        }
        _ => 1.0,
    }
}

pub fn file_name(track: &ViewTrack) -> String {
    track.info.file.file_name().map_or_else(
        || track.info.file.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

/// Handedness from all views: the view that turns fastest knows best.
fn find_hand(
    heads: &[Heading],
    options: &Options,
    pipeline: &Pipeline,
    warnings: &mut Vec<Warning>,
) -> (Handedness, &'static str) {
    let seen = heads
        .iter()
        .filter_map(|h| swing_hand(h, &pipeline.pair))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    match (options.handed, seen) {
        (Some(told), Some((seen, rate)))
            if told != seen && rate > pipeline.pair.min_swing_rate_deg_s.to_radians() =>
        {
            warnings.push(Warning::new(
                "handedness_corrected",
                format!("The player was given as {0}-handed, but the downswing turns the way of a {1}-hander. The swing was measured as {1}-handed.", told.key(), seen.key()),
            ));
            (seen, "pictures")
        }
        (Some(told), _) => (told, "user"),
        (None, Some((seen, _))) => (seen, "pictures"),
        (None, None) => (Handedness::Right, "assumed"),
    }
}

/// Rough timing, near the loudest strike that has a swing before it, else of the fastest swing.
fn timing(view: &ViewSeries, pipeline: &Pipeline) -> Option<Rough> {
    let near_strike = view
        .strikes
        .iter()
        .find_map(|s| rough_timing(view, Some(s.time_s), &pipeline.pair));
    near_strike.or_else(|| rough_timing(view, None, &pipeline.pair))
}

/// When the golfer went out of sight for good, and the clip's length, seconds of playback; `None`
/// where they are seen to the end or nearly so.
fn left_at(track: &ViewTrack) -> Option<(f64, f64)> {
    let end = track.observations.last()?.time_s;
    let seen = track
        .observations
        .iter()
        .rev()
        .find(|o| o.person.is_some())?;
    (end - seen.time_s > 0.3).then_some((seen.time_s, end))
}

pub fn prepare(
    tracks: &[ViewTrack],
    options: &Options,
    pipeline: &Pipeline,
) -> Result<Prepared, MeasureError> {
    let mut warnings: Vec<Warning> = tracks.iter().flat_map(|t| t.warnings.clone()).collect();
    let heads: Vec<Heading> = tracks.iter().map(headings).collect();
    let scales: Vec<f64> = tracks
        .iter()
        .map(|t| time_scale(t, options, &mut warnings))
        .collect();
    let (hand, hand_from) = find_hand(&heads, options, pipeline, &mut warnings);
    let mirror = hand == Handedness::Left;
    let sigma = pipeline.camera.landmark_sigma;
    let mut views: Vec<ViewSeries> = tracks
        .iter()
        .zip(&scales)
        .map(|(t, s)| ViewSeries::new(t, Role::FaceOn, *s, mirror, sigma))
        .collect();
    let mut rough = Vec::new();
    for (view, track) in views.iter().zip(tracks) {
        let file = file_name(track);
        let r = timing(view, pipeline).ok_or_else(|| {
            if let Some((at_s, of_s)) = left_at(track) {
                MeasureError::Left {
                    file: file.clone(),
                    at_s,
                    of_s,
                }
            } else if has_fast_turn(view, &pipeline.pair) {
                MeasureError::NoAddress { file: file.clone() }
            } else {
                MeasureError::NoSwing { file: file.clone() }
            }
        })?;
        rough.push(r);
    }
    let at_address: Vec<Option<f64>> = heads
        .iter()
        .zip(&rough)
        .zip(&scales)
        .map(|((h, r), s)| {
            heading_between(
                h,
                (r.still_from_s - 0.02) * s,
                (r.takeaway.time_s + 0.02) * s,
            )
        })
        .collect();
    let told: Vec<Option<Role>> = options.clips.iter().map(|c| c.1).collect();
    let (seats, more) = seat_views(&at_address, &told, hand, &pipeline.pair).map_err(|source| {
        MeasureError::Roles {
            files: tracks
                .iter()
                .map(file_name)
                .collect::<Vec<_>>()
                .join(" and "),
            source,
        }
    })?;
    warnings.extend(more);
    for (view, seat) in views.iter_mut().zip(&seats) {
        view.role = seat.role;
    }
    let mut offset = None;
    if let [a, b] = seats.as_slice() {
        // Face-on comes first.
        let order = if a.role < b.role { [0, 1] } else { [1, 0] };
        let clocked = |i: usize| Clocked {
            heading: &heads[i],
            time_scale: scales[i],
            strikes: &views[i].strikes,
        };
        let mut found = find_offset(&clocked(order[0]), &clocked(order[1]), &pipeline.pair);
        if let Some(o) = &mut found {
            // Playback headings of a left-hander turn the other way in both views alike.
            if o.from == OffsetFrom::Motion {
                warnings.push(Warning::new(
                    "offset_by_motion",
                    "No strike was heard in both clips, so the two phones' clocks were matched by the movement, which is less sharp.",
                ));
            }
        }
        views = order.iter().map(|i| views[*i].clone()).collect();
        rough = order.iter().map(|i| rough[*i]).collect();
        offset = found;
    }
    let mut prepared = Prepared {
        views,
        rough,
        offset,
        hand,
        hand_from,
        warnings,
    };
    if prepared.views.len() == 2 && prepared.offset.is_none() {
        prepared.face_on_alone("The two clips do not show the same swing: their turning does not match at any time offset. Only the face-on clip was measured; give the other view of the same swing.");
    } else {
        prepared.warn_of_single_view();
    }
    Ok(prepared)
}
