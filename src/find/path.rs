//! The path through a whole take: which stretches of it are swings.
//!
//! A swing is a chain address, backswing, (rest at the top,) downswing, follow-through over knots of
//! any length; what it scores depends on where it began, so each possible address carries a chain of
//! its own. Sums over all chains give how probable a swing and each of its moments is; the best
//! chains that do not overlap are the take's swings.

use super::evidence::{Back, Start, Way, struck};
use super::knots::Knots;
use crate::config::FindConfig;

/// One chain: knots of takeaway, the rest at the top's beginning, top, impact and the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chain {
    pub a: usize,
    pub rest: usize,
    pub t: usize,
    pub i: usize,
    /// `None` where the clip ends before the follow-through does.
    pub f: Option<usize>,
    /// How far other ends of the follow-through lie from `f`, each with its share of the odds, seconds of
    /// playback.
    pub f_spread_s: f64,
    /// Whether it begins at an address; else with the clip, on the way back or at the top.
    pub address: bool,
    pub score: f64,
}

/// A chain of the best path with the others that show the same swing.
#[derive(Clone, Debug)]
pub struct Found {
    pub best: Chain,
    /// Log of the sum of odds over all chains that overlap this one's downswing.
    pub log_odds: f64,
    pub rivals: Vec<Chain>,
}

/// The swings of a take, in their order.
pub fn swings(knots: &Knots, strikes_s: &[f64], config: &FindConfig) -> Vec<Found> {
    let chains = chains(knots, strikes_s, config);
    best_path(&chains, knots.len())
        .into_iter()
        .map(|best| {
            let rivals: Vec<Chain> = chains
                .iter()
                .copied()
                .filter(|c| {
                    c.t < best.i && best.t < c.i && c.score > best.score - config.rivals_below
                })
                .collect();
            Found {
                best,
                log_odds: log_sum(rivals.iter().map(|c| c.score)),
                rivals,
            }
        })
        .collect()
}

/// Log of the sum of exponentials.
pub fn log_sum(v: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = v.clone().fold(f64::NEG_INFINITY, f64::max);
    if most.is_finite() {
        most + v.map(|x| (x - most).exp()).sum::<f64>().ln()
    } else {
        most
    }
}

/// Every chain worth a look. Of follow-throughs only the best of each impact is kept.
fn chains(knots: &Knots, strikes_s: &[f64], config: &FindConfig) -> Vec<Chain> {
    let n = knots.len();
    let mut out: Vec<Chain> = Vec::new();
    for a in 0..n {
        let Some(start) = Start::new(knots, a, config) else {
            continue;
        };
        let standing = start.score() + config.swing_odds;
        // How far from here a swing can reach: a swing's way is a few heights, whatever its time.
        let within = |k: &usize, most: f64| knots.way[*k] - knots.way[a] <= most;
        let mut through: Vec<Option<Option<End>>> = vec![None; n];
        let mut before = Way::default();
        for t in (a + 1..n).take_while(|t| within(t, config.back_way_most)) {
            before = start.over(before, t);
            let Some(back) = start.back(t) else { continue };
            let far = knots.way[t] + config.back_way_most;
            let mut way = before;
            for i in (t + 1..n).take_while(|i| knots.way[*i] <= far) {
                way = start.over(way, i);
                way.rest_s = way.rest_s.max(knots.rest_s(i - 1));
                let Some(down) = start.down(&back, i, &way) else {
                    continue;
                };
                let so_far = standing + back.score + down;
                if so_far < config.chain_least {
                    continue;
                }
                let follow = *through[i].get_or_insert_with(|| follow(&start, knots, i, config));
                out.push(whole(&start, &back, i, so_far, follow, strikes_s));
            }
        }
    }
    for i in 2..n {
        let start = Start::unseen(knots, i, config);
        out.extend(start.and_then(|s| begun(&s, i, strikes_s)));
    }
    out.retain(|c| c.score > config.chain_least);
    out
}

/// The likeliest swing with its impact at `i` that was under way when the clip began.
fn begun(start: &Start<'_>, i: usize, strikes_s: &[f64]) -> Option<Chain> {
    let (k, c) = (start.knots, start.config);
    if k.way[i] > c.back_way_most {
        return None;
    }
    let standing = start.score() + c.swing_odds;
    let mut lowest = f64::INFINITY;
    let mut best: Option<(Back, f64)> = None;
    let mut way = (0..i).fold(Way::default(), |way, t| start.over(way, t));
    let nearest = nearest_before(start, i);
    for t in (1..i).rev() {
        lowest = lowest.min(k.all[t].hands.y);
        way.rest_s = way.rest_s.max(k.rest_s(t));
        let Some(back) = start.back(t) else { continue };
        let Some(down) = start.down(&back, i, &way) else {
            continue;
        };
        let score = standing
            + back.score
            + down
            + start.lowest(i, lowest)
            + start.never_stood(nearest[t], back.moved);
        if best.is_none_or(|b| score > b.1) {
            best = Some((back, score));
        }
    }
    let (back, so_far) = best.filter(|b| b.1 > c.chain_least)?;
    let follow = follow(start, k, i, c);
    Some(whole(start, &back, i, so_far, follow, strikes_s))
}

/// Nearest that the hands came to their place at the impact `i` at any knot up to each.
fn nearest_before(start: &Start<'_>, i: usize) -> Vec<f64> {
    let mut nearest = f64::INFINITY;
    let knots = start.knots.all.iter().take(i);
    knots
        .map(|k| {
            nearest = nearest.min((k.hands - start.hands).norm());
            nearest
        })
        .collect()
}

/// The end of a follow-through.
#[derive(Clone, Copy)]
struct End {
    f: usize,
    score: f64,
    /// See [`Chain::f_spread_s`].
    spread_s: f64,
}

fn follow(start: &Start<'_>, knots: &Knots, i: usize, config: &FindConfig) -> Option<End> {
    let far = knots.way[i] + config.back_way_most;
    let ends: Vec<(usize, f64)> = (i + 1..knots.len())
        .take_while(|f| knots.way[*f] <= far)
        .filter_map(|f| Some((f, start.through(i, f)?)))
        .collect();
    let (f, score) = ends.iter().copied().max_by(|x, y| x.1.total_cmp(&y.1))?;
    let all = log_sum(ends.iter().map(|e| e.1));
    // Ends in one pose are one rest, and differ in nothing.
    let alike = config.same_pose_steps * knots.step;
    let square: f64 = ends
        .iter()
        .filter(|e| knots.distance(e.0, f, config) > alike)
        .map(|e| (e.1 - all).exp() * (knots.all[e.0].time_s - knots.all[f].time_s).powi(2))
        .sum();
    Some(End {
        f,
        score,
        spread_s: square.sqrt(),
    })
}

fn whole(
    start: &Start<'_>,
    back: &Back,
    i: usize,
    so_far: f64,
    follow: Option<End>,
    strikes_s: &[f64],
) -> Chain {
    let (k, c) = (start.knots, start.config);
    let cut = start.cut_off(back, i);
    let seen = follow.filter(|end| end.score > cut);
    let (f, after) = seen.map_or((None, cut), |end| (Some(end.f), end.score));
    let down_s = k.all[i].time_s - k.all[back.t].time_s;
    Chain {
        a: start.a,
        rest: back.rest,
        t: back.t,
        i,
        f,
        f_spread_s: seen.map_or(0.0, |end| end.spread_s),
        address: start.seen,
        score: so_far + after + struck(strikes_s, k.all[i].time_s, down_s, c),
    }
}

/// The chains of highest total score that do not overlap; none where no swing at all is likelier.
fn best_path(chains: &[Chain], n: usize) -> Vec<Chain> {
    let end = |c: &Chain| c.f.unwrap_or(c.i);
    let mut by_end: Vec<Vec<&Chain>> = vec![Vec::new(); n];
    for c in chains.iter().filter(|c| c.score > 0.0) {
        by_end[end(c)].push(c);
    }
    // best[k]: score of the knots before k, and the chain that ends last among them.
    let mut best: Vec<(f64, Option<Chain>)> = vec![(0.0, None); n + 1];
    for k in 0..n {
        best[k + 1] = (best[k].0, None);
        for c in &by_end[k] {
            let total = best[c.a].0 + c.score;
            if total > best[k + 1].0 {
                best[k + 1] = (total, Some(**c));
            }
        }
    }
    let mut out = Vec::new();
    let mut k = n;
    while k > 0 {
        match best[k].1 {
            Some(c) => {
                out.push(c);
                k = c.a;
            }
            None => k -= 1,
        }
    }
    out.reverse();
    out
}
