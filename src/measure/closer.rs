//! Where a clip that was looked at sparsely is to be read closely: round the moments of its swings,
//! as wide as they are unsure, and where readings contradict each other.

use crate::clip::Strike;
use crate::config::{FindConfig, LookConfig, Pipeline};
use crate::find::{Moment, Phases, find_take_in};
use crate::math::rotation::wrap;
use crate::pair::heading_of;
use crate::pose::{Observation, Window};

/// Whether what was seen shows a swing; where it does not, the golfer may be somebody else in the picture.
pub fn shows_a_swing(seen: &[Observation], strikes: &[Strike], pipeline: &Pipeline) -> bool {
    let take = find_take_in(seen, strikes, None, &pipeline.find);
    !take.swings.is_empty()
}

/// Whether what was seen may show a swing, as far as few or bad readings let one see: asked so generously
/// that no is no. Turns may be misread where joints are not, so the joints are asked alone too.
pub fn may_show_a_swing(seen: &[Observation], strikes: &[Strike], pipeline: &Pipeline) -> bool {
    let any = |seen: &[Observation], odds: f64| {
        let generous = FindConfig {
            swing_odds: pipeline.find.swing_odds + odds,
            least_probability: 0.0,
            ..pipeline.find.clone()
        };
        let take = find_take_in(seen, strikes, None, &generous);
        !take.swings.is_empty()
    };
    any(seen, pipeline.look.may_odds) || {
        let mut joints = seen.to_vec();
        for person in joints.iter_mut().filter_map(|o| o.person.as_mut()) {
            person.torso = None;
        }
        any(&joints, pipeline.look.may_odds_by_joints)
    }
}

/// The parts of a clip that a closer look adds something to; empty where nothing is left to ask.
pub fn closer_looks(seen: &[Observation], strikes: &[Strike], pipeline: &Pipeline) -> Vec<Window> {
    let c = &pipeline.look;
    let take = find_take_in(seen, strikes, None, &pipeline.find);
    if take.swings.is_empty() {
        return match seen.first().zip(seen.last()) {
            // A quick swing may hide between sparse looks.
            Some((a, b)) if take.likeliest >= c.least_probability => vec![Window {
                from_s: a.time_s,
                to_s: b.time_s,
                every_s: c.step_takeaway * pipeline.find.usual_downswing_s,
            }],
            _ => Vec::new(),
        };
    }
    take.swings
        .iter()
        .flat_map(|s| {
            let down_s = s.down_s().unwrap_or(pipeline.find.usual_downswing_s);
            let mut windows = round_moments(s, down_s, c);
            windows.extend(contradictions(seen, s, down_s, c));
            windows
        })
        .collect()
}

fn round_moments(s: &Phases, down_s: f64, c: &LookConfig) -> Vec<Window> {
    let reach = |m: &Moment, least: f64| (least * down_s).max(c.sigmas * m.sigma_s);
    let round = |m: Moment, least: f64, step: f64| Window {
        from_s: m.time_s - reach(&m, least),
        to_s: m.time_s + reach(&m, least),
        every_s: step * down_s,
    };
    let down = Window {
        from_s: s.top.time_s - reach(&s.top, c.before_top),
        to_s: s.impact.time_s + reach(&s.impact, c.after_impact),
        every_s: c.step_down * down_s,
    };
    let takeaway = s
        .takeaway
        .map(|m| round(m, c.round_takeaway, c.step_takeaway));
    let finish = s.finish.map(|m| round(m, c.round_finish, c.step_finish));
    [Some(down), takeaway, finish]
        .into_iter()
        .flatten()
        .collect()
}

/// Where the chest's turn in one reading lies far from the middle of its neighbours'.
fn contradictions(seen: &[Observation], s: &Phases, down_s: f64, c: &LookConfig) -> Vec<Window> {
    let inside = s.begins_s()..=s.end_s;
    let turns: Vec<(f64, f64)> = seen
        .iter()
        .filter(|o| !o.repeated && inside.contains(&o.time_s))
        .filter_map(|o| {
            let torso = o.person.as_ref()?.torso.as_ref()?;
            Some((o.time_s, heading_of(torso.crop_from_segment.last()?)))
        })
        .collect();
    turns
        .array_windows()
        .filter(|[a, b, d]| {
            let middle = a.1 + wrap(d.1 - a.1) * (b.0 - a.0) / (d.0 - a.0).max(1e-6);
            d.0 - a.0 <= c.contradiction_within * down_s
                && wrap(b.1 - middle).abs() > c.contradiction_deg.to_radians()
        })
        .map(|[a, _, d]| Window {
            from_s: a.0,
            to_s: d.0,
            every_s: c.step_takeaway * down_s,
        })
        .collect()
}
