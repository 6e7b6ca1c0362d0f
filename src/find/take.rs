//! A take's swings with their moments.

use super::fill::filled;
use super::knots::{Knots, knots};
use super::moments::{CoarseTiming, Fine};
use super::path::{Chain, Found, log_sum, swings};
use super::phases::{Moment, Phases};
use super::signals::{Signals, signals};
use crate::clip::Strike;
use crate::config::FindConfig;
use crate::pose::{Observation, ViewTrack};
use crate::terms::Handedness;

/// What one clip shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Take {
    /// Swings in their order, each at least as probable as the least that counts.
    pub swings: Vec<Phases>,
    /// The most probable swing-like movement's probability, also where none counts as a swing.
    pub likeliest: f64,
}

/// The swings of a track.
pub fn find_take(track: &ViewTrack, config: &FindConfig) -> Take {
    find_take_of(track, None, config)
}

/// The same of a golfer whose side is known.
pub fn find_take_of(track: &ViewTrack, hand: Option<Handedness>, config: &FindConfig) -> Take {
    find_take_in(&track.observations, &track.strikes, hand, config)
}

/// The same of observations without a track, such as a quick look gives: any frames of the clip, read
/// with or without the torso network.
pub fn find_take_in(
    observations: &[Observation],
    strikes: &[Strike],
    hand: Option<Handedness>,
    config: &FindConfig,
) -> Take {
    let strikes: Vec<f64> = strikes.iter().map(|s| s.time_s).collect();
    find_take_by(&signals(observations, config), &strikes, hand, config)
}

/// The swings in signals, with the strikes heard (seconds of playback).
pub fn find_take_by(
    s: &Signals,
    strikes_s: &[f64],
    hand: Option<Handedness>,
    config: &FindConfig,
) -> Take {
    let s = &filled(s, config);
    if s.time_s.len() < 3 {
        return Take::default();
    }
    // A golfer keeps their side for a whole take: that of its likeliest swing. The sum over swings
    // would count what follows a swing, arms coming down again, for the other side.
    let sides = [(Handedness::Right, -1.0), (Handedness::Left, 1.0)].map(|(side, closing)| {
        let k = knots(s, closing, config);
        let known = hand.is_none_or(|h| h == side);
        let found = if known {
            swings(&k, strikes_s, config)
        } else {
            Vec::new()
        };
        (side, closing, k, found)
    });
    let total = |found: &[Found]| {
        let odds = found.iter().map(|f| f.log_odds);
        odds.fold(f64::NEG_INFINITY, f64::max)
    };
    let [right, left] = &sides;
    let (hand, closing, knots, found) = if total(&left.3) > total(&right.3) {
        left
    } else {
        right
    };
    let fine = Fine {
        s,
        closing: *closing,
        config,
    };
    let all: Vec<Phases> = found
        .iter()
        .map(|f| phases(f, knots, &fine, *hand))
        .collect();
    let likeliest = all.iter().map(|p| p.probability).fold(0.0, f64::max);
    Take {
        swings: all
            .into_iter()
            .filter(|p| p.probability >= config.least_probability)
            .collect(),
        likeliest,
    }
}

/// Spread of a moment over the chains that show the same swing, each with its share of the odds.
fn spread(found: &Found, time: impl Fn(&Chain) -> f64) -> f64 {
    let all = log_sum(found.rivals.iter().map(|c| c.score));
    let share = |c: &Chain| (c.score - all).exp();
    let mean: f64 = found.rivals.iter().map(|c| share(c) * time(c)).sum();
    let square: f64 = found
        .rivals
        .iter()
        .map(|c| share(c) * (time(c) - mean).powi(2))
        .sum();
    square.max(0.0).sqrt()
}

fn phases(found: &Found, knots: &Knots, fine: &Fine<'_>, hand: Handedness) -> Phases {
    let time = |k: usize| knots.all[k].time_s;
    let best = &found.best;
    // Chains that begin in the same pose differ in nothing; the last of them is the takeaway.
    let alike = fine.config.same_pose_steps * knots.step;
    let same = |a: usize| knots.distance(a, best.a, fine.config) < alike;
    let last_a = found
        .rivals
        .iter()
        .filter(|c| best.address && c.address)
        .filter(|c| c.score > best.score - fine.config.alike_below && same(c.a))
        .map(|c| c.a)
        .fold(best.a, usize::max);
    // Hands that came to rest near there, after a waggle, begin where that rest ends.
    let settled = |k: &usize| {
        let rest_s = knots.rest_s(*k - 1);
        knots.distance(*k, last_a, fine.config) < fine.config.settled_way
            && rest_s > fine.config.settled * (time(best.rest) - time(last_a) - rest_s)
    };
    let last_a = (last_a + 1..best.rest).rfind(settled).unwrap_or(last_a);
    let rough = CoarseTiming {
        takeaway_s: time(last_a),
        rest_s: time(best.rest),
        top_s: time(best.t),
        impact_s: time(best.i),
        tempo: (!best.address).then_some(fine.config.tempo),
    };
    let end_s = best.f.map_or_else(|| time(knots.len() - 1), time);
    let by_chains = |time_s: f64, sigma_s: f64| Moment { time_s, sigma_s };
    // A swing's own chains differ by knots; what they disagree on beyond that is doubt.
    let doubt = |of: &dyn Fn(&Chain) -> f64, m: Moment, knot_s: f64| Moment {
        sigma_s: m.sigma_s.hypot((spread(found, of) - knot_s).max(0.0)),
        ..m
    };
    let begun = (
        by_chains(rough.takeaway_s, 0.1 * rough.back_s()),
        rough.takeaway_s,
    );
    let first = if best.address {
        fine.takeaway(&rough)
    } else {
        None
    };
    let (takeaway, still_from_s) = first.unwrap_or(begun);
    let begin = |c: &Chain| {
        if same(c.a) {
            takeaway.time_s
        } else {
            time(c.a)
        }
    };
    let takeaway = doubt(&begin, takeaway, 0.0);
    let rough = CoarseTiming {
        takeaway_s: takeaway.time_s.min(rough.rest_s),
        ..rough
    };
    // Hands that come to rest before the chest does pull the one way forward, readings that flatten out
    // near the most of a turn the other: each is early at times, and neither is late.
    // What they differ by is doubt.
    let seen = [fine.opening(&rough), fine.top(&rough)];
    let apart = match seen {
        [Some(a), Some(b)] => (a.time_s - b.time_s).abs(),
        _ => 0.0,
    };
    let top = seen
        .into_iter()
        .flatten()
        .max_by(|a, b| a.time_s.total_cmp(&b.time_s))
        .map(|m| Moment {
            sigma_s: m.sigma_s.hypot(fine.config.top_apart_doubt * apart),
            ..m
        })
        .unwrap_or_else(|| by_chains(rough.top_s, 0.2 * rough.down_s()));
    let top = doubt(&|c| time(c.t), top, 0.3 * rough.down_s());
    let address = CoarseTiming {
        takeaway_s: time(last_a),
        ..rough
    };
    let back = if best.address {
        fine.hands_back(&address)
    } else {
        fine.hands_lowest(&rough)
    };
    let impact = back.unwrap_or_else(|| by_chains(rough.impact_s, 0.1 * rough.down_s()));
    let impact = doubt(&|c| time(c.i), impact, 0.15 * rough.down_s());
    let finish = best.f.and_then(|f| fine.finish(&rough, time(f)));
    let finish = finish.map(|m| Moment {
        sigma_s: m.sigma_s.hypot(best.f_spread_s),
        ..m
    });
    // What lay still before it is the address.
    let moving = knots.all.partition_point(|k| k.time_s < takeaway.time_s);
    Phases {
        hand,
        probability: 1.0 / (1.0 + (-found.log_odds).exp()),
        still_from_s,
        takeaway: best.address.then_some(takeaway),
        rest_from_s: rough.rest_s.min(top.time_s),
        paused_s: knots.pause_s(moving.min(best.rest), best.rest, fine.config),
        top,
        near_top_s: fine.near_top(&CoarseTiming {
            top_s: top.time_s,
            ..rough
        }),
        impact,
        fast_s: fine.fastest(&rough),
        finish,
        end_s,
    }
}
