//! From tracks to views with roles, one handedness and one clock.

use super::clock::{clock, told};
use super::options::{MeasureError, Options};
use super::pace::{pace, paced};
use crate::config::{FindConfig, Pipeline};
use crate::find::{Phases, Take, find_take, find_take_of, signals};
use crate::pair::{
    Clocked, Heading, Moving, Offset, OffsetFrom, Seat, ViewSeries, find_offset, heading_between,
    headings, seat_views,
};
use crate::pose::ViewTrack;
use crate::result::{Clock, ClockFrom};
use crate::terms::{Handedness, Role};
use crate::warning::Warning;

/// The views of a swing, ready for geometry. The first view carries the clock.
#[derive(Clone, Debug)]
pub struct Prepared {
    pub views: Vec<ViewSeries>,
    /// The swing as each view shows it, on the view's own clock.
    pub swings: Vec<Phases>,
    /// Where each camera seems to stand.
    pub seats: Vec<Seat>,
    /// What the seconds rest on.
    pub clock: Clock,
    /// Constants for a swing of this pace.
    pub pipeline: Pipeline,
    /// `None` with one view, and where two do not match at any.
    pub offset: Option<Offset>,
    pub hand: Handedness,
    pub hand_from: &'static str,
    pub warnings: Vec<Warning>,
}

impl Prepared {
    fn warn_of_single_view(&mut self) {
        if let [view] = self.views.as_slice() {
            self.warnings.push(Warning::new(
                "single_view",
                format!("Measured from one {} clip alone: one view sees depth badly, so the intervals are wider. A second phone from the other side narrows them.", view.role),
            ));
        }
    }
}

pub fn file_name(track: &ViewTrack) -> String {
    track.info.file.file_name().map_or_else(
        || track.info.file.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

/// The swing that is meant: the one at whose impact the loudest strike that has one was heard, else
/// the fastest. A rehearsal comes before it and is slower.
fn choose(take: &Take, track: &ViewTrack) -> Option<Phases> {
    let struck = |s: &&Phases, at: f64| {
        let down_s = s.down_s().unwrap_or(0.0);
        (at - s.impact.time_s).abs() < 0.5 * down_s
    };
    let heard = track
        .strikes
        .iter()
        .find_map(|k| take.swings.iter().find(|s| struck(s, k.time_s)));
    let fastest = || {
        let time = |s: &&Phases| s.down_s().unwrap_or(f64::INFINITY);
        take.swings
            .iter()
            .min_by(|a, b| time(a).total_cmp(&time(b)))
    };
    heard.or_else(fastest).copied()
}

/// A word where a clip shows more swings than the one that is meant.
fn several(take: &Take, meant: &Phases, track: &ViewTrack) -> Option<Warning> {
    let times: Vec<String> = take
        .swings
        .iter()
        .map(|s| format!("{:.1}", s.impact.time_s))
        .collect();
    let (last, others) = times.split_last()?;
    (!others.is_empty()).then(|| {
        Warning::new(
            "several_swings",
            format!(
                "{} shows {} swings, at {} and {last} s. The one at {:.1} s was measured: the one with the loudest strike, or else the fastest. `quarterturn folder` measures each; --part FROM-TO picks another.",
                file_name(track), times.len(), others.join(", "), meant.impact.time_s
            ),
        )
    })
}

/// A word where a clip may play backwards.
fn backwards(meant: &Phases, track: &ViewTrack, config: &FindConfig) -> Option<Warning> {
    meant.seems_backwards(config).then(|| {
        Warning::new(
            "may_play_backwards",
            format!(
                "{} may play backwards: no address is seen, and what follows the impact is quicker than what comes before it. If it does, nothing here holds: turn the clip round and measure it again.",
                file_name(track)
            ),
        )
    })
}

/// The swing of each track. Two views of one golfer have one hand: that of the surer one.
fn swings_of(
    tracks: &[ViewTrack],
    pipeline: &Pipeline,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Phases>, MeasureError> {
    let nothing = |track: &ViewTrack| {
        let file = file_name(track);
        match left_at(track) {
            Some((at_s, of_s)) => MeasureError::Left { file, at_s, of_s },
            None => MeasureError::NoSwing { file },
        }
    };
    let mut found = Vec::new();
    for track in tracks {
        let take = find_take(track, &pipeline.find);
        let meant = choose(&take, track).ok_or_else(|| nothing(track))?;
        warnings.extend(several(&take, &meant, track));
        warnings.extend(backwards(&meant, track, &pipeline.find));
        found.push(meant);
    }
    if let [a, b] = found.as_slice()
        && a.hand != b.hand
    {
        let (surer, other) = if a.probability >= b.probability {
            (0, 1)
        } else {
            (1, 0)
        };
        let take = find_take_of(&tracks[other], Some(found[surer].hand), &pipeline.find);
        found[other] = choose(&take, &tracks[other]).ok_or_else(|| nothing(&tracks[other]))?;
    }
    Ok(found)
}

/// The hand that the swing shows, against what the user said.
fn hand_of(
    seen: Handedness,
    options: &Options,
    warnings: &mut Vec<Warning>,
) -> (Handedness, &'static str) {
    match options.handed {
        Some(told) if told == seen => (told, "user"),
        Some(told) => {
            warnings.push(Warning::new(
                "handedness_corrected",
                format!("The player was given as {0}-handed, but the downswing turns the way of a {1}-hander. The swing was measured as {1}-handed.", told.key(), seen.key()),
            ));
            (seen, "pictures")
        }
        None => (seen, "pictures"),
    }
}

/// Playback seconds for each real second of every track, and who tells them for all of them. Where
/// one clip's speed is told and the other's is not, the swing itself tells how the two compare.
fn scales_of(
    tracks: &[ViewTrack],
    swings: &[Phases],
    options: &Options,
    pipeline: &Pipeline,
    warnings: &mut Vec<Warning>,
) -> (Vec<f64>, Option<ClockFrom>) {
    let all: Vec<Option<(f64, ClockFrom)>> = tracks
        .iter()
        .map(|t| told(options, &t.info, &pipeline.find))
        .collect();
    for (track, told) in tracks.iter().zip(&all) {
        if let (Some((scale, ClockFrom::File)), Some(filmed)) = (told, track.info.capture_fps) {
            warnings.push(Warning::new(
                "slow_motion",
                format!("{} was filmed at {filmed:.0} frames a second and stretched {scale:.1} times for playback, says its file; it was put back on real time.", file_name(track)),
            ));
        }
    }
    let mut scales: Vec<f64> = all.iter().map(|t| t.map_or(1.0, |t| t.0)).collect();
    let from = all.iter().flatten().next().map(|t| t.1);
    if let ([a, b], [sa, sb]) = (swings, all.as_slice()) {
        let taken = |s: &Phases| Some(s.impact.time_s - s.takeaway?.time_s).filter(|t| *t > 0.0);
        let ratio = taken(a).zip(taken(b)).map(|(a, b)| b / a);
        if let Some(r) = ratio {
            // Phones stretch by whole factors.
            let near = |f: &f64| (r / f).ln().abs();
            let whole = [0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0]
                .into_iter()
                .min_by(|x, y| near(x).total_cmp(&near(y)));
            let r = whole.filter(|f| near(f) < 0.15).unwrap_or(r);
            let both = sa.is_some() && sb.is_some();
            if !both && (r * scales[0] / scales[1]).ln().abs() > 0.3 {
                if sb.is_some() {
                    scales[0] = scales[1] / r;
                } else {
                    scales[1] = scales[0] * r;
                }
                warnings.push(Warning::new(
                    "clips_of_two_speeds",
                    format!("One clip plays {:.1} times slower than the other, by the swing that both show; they were put on one clock.", r.max(1.0 / r)),
                ));
            }
        }
    }
    (scales, from)
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

/// The golfer's heading at address; where the clip begins after it, or nothing was read there, from the
/// impact, at which pelvis and thorax are open by a usual amount.
fn heading_at_address(heading: &Heading, swing: &Phases, pipeline: &Pipeline) -> Option<f64> {
    let seen = swing.takeaway.and_then(|takeaway| {
        let at = takeaway.time_s;
        let near = 0.05 * (swing.top.time_s - at);
        // A clip cut at the takeaway has its first reading a moment after it.
        let to = (at + near).max(*heading.time_s.first()?);
        heading_between(heading, swing.still_from_s.min(at - near), to)
    });
    seen.or_else(|| {
        let (at, near) = (swing.impact.time_s, 0.2 * swing.down_s()?);
        let opened = pipeline.pair.impact_open_deg.to_radians();
        let opening = match swing.hand {
            Handedness::Right => opened,
            Handedness::Left => -opened,
        };
        Some(heading_between(heading, at - near, at + near)? - opening)
    })
}

pub fn prepare(
    tracks: &[ViewTrack],
    options: &Options,
    pipeline: &Pipeline,
) -> Result<Prepared, MeasureError> {
    let mut warnings: Vec<Warning> = tracks.iter().flat_map(|t| t.warnings.clone()).collect();
    let heads: Vec<Heading> = tracks.iter().map(headings).collect();
    let played = swings_of(tracks, pipeline, &mut warnings)?;
    let seen = played.first().map_or(Handedness::Right, |s| s.hand);
    let (hand, hand_from) = hand_of(seen, options, &mut warnings);
    let (scales, from) = scales_of(tracks, &played, options, pipeline, &mut warnings);
    let mut swings: Vec<Phases> = played
        .iter()
        .zip(&scales)
        .map(|(s, k)| s.over(*k))
        .collect();
    let pipeline = &paced(pipeline, pace(&swings, &pipeline.find));
    let mirror = hand == Handedness::Left;
    let sigma = pipeline.camera.landmark_sigma;
    let mut views: Vec<ViewSeries> = tracks
        .iter()
        .zip(&scales)
        .map(|(t, s)| ViewSeries::new(t, Role::FaceOn, *s, mirror, sigma))
        .collect();
    let at_address: Vec<Option<f64>> = heads
        .iter()
        .zip(&played)
        .map(|(h, s)| heading_at_address(h, s, pipeline))
        .collect();
    let told: Vec<Option<Role>> = options.clips.iter().map(|c| c.1).collect();
    let (mut seats, more) =
        seat_views(&at_address, &told, hand, &pipeline.pair).map_err(|source| {
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
        let clocked = |i: usize| {
            let hands = signals(&tracks[i].observations, &pipeline.find);
            let real = |times: &[f64]| times.iter().map(|t| t / scales[i]).collect();
            Clocked {
                turn: Moving {
                    time_s: real(&heads[i].time_s),
                    value: heads[i].angle[1].clone(),
                },
                rise: Moving {
                    time_s: real(&hands.time_s),
                    value: hands.hands.iter().map(|h| h.y).collect(),
                },
                strikes: &views[i].strikes,
            }
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
        swings = order.iter().map(|i| swings[*i]).collect();
        seats = order.iter().map(|i| seats[*i]).collect();
        offset = found;
    }
    let struck = views.iter().zip(&swings).any(|(v, s)| {
        let down_s = s.down_s().unwrap_or(0.0);
        let near = |t: f64| (t - s.impact.time_s).abs() < 0.5 * down_s;
        v.strikes.iter().any(|k| near(k.time_s))
    });
    let clock = swings.first().map_or_else(Clock::default, |s| {
        clock(from, s, struck, &pipeline.find, &mut warnings)
    });
    let mut prepared = Prepared {
        views,
        swings,
        seats,
        clock,
        pipeline: pipeline.clone(),
        offset,
        hand,
        hand_from,
        warnings,
    };
    prepared.warn_of_single_view();
    Ok(prepared)
}
