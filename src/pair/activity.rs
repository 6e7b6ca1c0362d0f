//! When the golfer stands still, when the swing is fast: from one view alone.

use nalgebra::Vector2;

use super::heading::{heading_of, local_slope};
use super::view_series::ViewSeries;
use crate::config::PairConfig;
use crate::math::rotation::{unwrap, wrap};
use crate::math::stats::median;

/// A moment with its standard deviation, seconds on the view's own clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    pub time_s: f64,
    pub sigma_s: f64,
}

/// The parts of a swing as one view shows them, seconds on the view's own clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rough {
    /// Fastest opening of the thorax.
    pub fast_s: f64,
    /// Thorax reversal before that.
    pub top_s: f64,
    /// First movement of the backswing.
    pub takeaway: Onset,
    /// Still stretch that ends at the takeaway.
    pub still_from_s: f64,
}

/// Turn-like signals of one view: thorax heading as closed turn (radians, arbitrary zero) and the
/// hands in golfer heights.
struct Signals {
    time_s: Vec<f64>,
    turn: Vec<f64>,
    hands: Vec<Vector2<f64>>,
}

fn signals(view: &ViewSeries, config: &PairConfig) -> Signals {
    let mut s = Signals {
        time_s: Vec::new(),
        turn: Vec::new(),
        hands: Vec::new(),
    };
    for i in &view.instants {
        if let (Some(r), Some(h)) = (&i.rotation, view.hands(i)) {
            s.time_s.push(i.time_s);
            s.turn.push(-heading_of(r.crop_from_segment[1].matrix()));
            s.hands.push(h / view.body_px);
        }
    }
    unwrap(&mut s.turn);
    s.turn = calm(&s.time_s, &s.turn, config.turns_within_s);
    s
}

/// Takes out what changes sign from sample to sample, as readings of plain and mirrored crops by
/// turns do: each value a quarter, a half, a quarter with its neighbours, where both are within
/// `near_s`. Symmetric, so nothing is moved in time.
fn calm(time_s: &[f64], value: &[f64], near_s: f64) -> Vec<f64> {
    let mut out = value.to_vec();
    for (k, (t, v)) in time_s.windows(3).zip(value.windows(3)).enumerate() {
        if let ([t0, t1, t2], [v0, v1, v2]) = (t, v)
            && t1 - t0 < near_s
            && t2 - t1 < near_s
        {
            out[k + 1] = 0.25 * v0 + 0.5 * v1 + 0.25 * v2;
        }
    }
    out
}

/// Rough timing of the fastest swing in a view; of the one nearest before `strike_s` when given.
/// `None` where nothing turns.
pub fn rough_timing(
    view: &ViewSeries,
    strike_s: Option<f64>,
    config: &PairConfig,
) -> Option<Rough> {
    let s = signals(view, config);
    let rate = local_slope(&s.time_s, &s.turn, config.rate_half_window_s);
    let near = |t: f64| strike_s.is_none_or(|k| (k - 0.35..=k + 0.15).contains(&t));
    let fast = (0..rate.len())
        .filter(|i| near(s.time_s[*i]))
        .min_by(|a, b| rate[*a].total_cmp(&rate[*b]))?;
    if rate[fast] > -config.min_swing_rate_deg_s.to_radians() {
        return None;
    }
    // The follow-through opens too, ever slower: a strike heard in it is not this swing's. What comes
    // later is not asked: readings of a finish seen from behind can jump faster than any downswing.
    let swing = s.time_s[fast] - config.one_swing_s..=s.time_s[fast];
    let fastest = (0..rate.len())
        .filter(|i| swing.contains(&s.time_s[*i]))
        .map(|i| rate[i])
        .fold(0.0, f64::min);
    if rate[fast] > config.fast_share * fastest {
        return None;
    }
    let top = (0..fast).rev().find(|i| rate[*i] >= 0.0)?;
    let takeaway = onset(&s, top, false, config)?;
    let still_from_s = still_start(&s, takeaway.time_s, config);
    Some(Rough {
        fast_s: s.time_s[fast],
        top_s: s.time_s[top],
        takeaway,
        still_from_s,
    })
}

/// True where the thorax opens as fast as in a swing, whatever comes before it.
pub fn has_fast_turn(view: &ViewSeries, config: &PairConfig) -> bool {
    let s = signals(view, config);
    local_slope(&s.time_s, &s.turn, config.rate_half_window_s)
        .iter()
        .any(|r| *r <= -config.min_swing_rate_deg_s.to_radians())
}

/// When the follow-through comes to rest, seen backwards in time as an onset of movement. `after_s`
/// is a time in the fast part of the swing. `None` where the clip ends before the golfer is still.
pub fn finish_onset(view: &ViewSeries, after_s: f64, config: &PairConfig) -> Option<Onset> {
    let s = signals(view, config);
    let i = s.time_s.partition_point(|t| *t < after_s);
    (i < s.time_s.len())
        .then(|| onset(&s, i, true, config))
        .flatten()
}

/// Distance of a pose from a still one: hands in golfer heights and thorax turn together.
fn distance(s: &Signals, i: usize, hands: &Vector2<f64>, turn: f64, config: &PairConfig) -> f64 {
    (s.hands[i] - hands)
        .norm()
        .hypot(config.turn_weight * wrap(s.turn[i] - turn))
}

/// Walks from sample `from` away from the fast part (back in time, or forward) to the first still
/// stretch, then extrapolates the movement's square-root growth to its start: a movement from rest
/// grows with time squared, so a threshold alone is always late.
fn onset(s: &Signals, from: usize, forward: bool, config: &PairConfig) -> Option<Onset> {
    let n = s.time_s.len();
    let still_len = config.still_window_s;
    let order: Vec<usize> = if forward {
        (from..n).collect()
    } else {
        (0..=from).rev().collect()
    };
    // Stretches of still_len, nearest first, with how far anything strays from their own median.
    let mut stretches: Vec<(usize, f64, (Vector2<f64>, f64))> = Vec::new();
    for (k, &i) in order.iter().enumerate() {
        let away = |j: &usize| (s.time_s[*j] - s.time_s[i]).abs();
        if away(&order[0]) > 0.0 && (s.time_s[i] - s.time_s[from]).abs() > config.onset_search_s {
            break;
        }
        let window: Vec<usize> = order[k..]
            .iter()
            .copied()
            // At 60 frames a second a window ends on a frame: rounding must not decide.
            .take_while(|j| away(j) <= still_len + 1e-6)
            .collect();
        let spans = window.last().is_some_and(|j| away(j) >= 0.6 * still_len);
        if window.len() < 3 || !spans {
            continue;
        }
        let pose = median_pose(s, &window)?;
        let stray = window
            .iter()
            .map(|j| distance(s, *j, &pose.0, pose.1, config))
            .fold(0.0, f64::max);
        stretches.push((k, stray, pose));
    }
    // A noisy picture never looks quite still: its calmest stretch sets the measure, within reason.
    let calmest = stretches.iter().map(|x| x.1).fold(f64::INFINITY, f64::min);
    let limit = config.still_stray.max(1.3 * calmest);
    if limit > config.still_stray_most {
        return None;
    }
    // A pause at the top is still too, but it is where the hands are already.
    let far = |pose: &(Vector2<f64>, f64)| {
        distance(s, from, &pose.0, pose.1, config) >= config.onset_min_travel
    };
    let still: Vec<_> = stretches
        .into_iter()
        .filter(|x| x.1 <= limit && far(&x.2))
        .map(|(k, _, pose)| (k, pose))
        .collect();
    let mut address = *still.first()?;
    if !forward {
        // Seen along the line, hands and chest can rest before the top: it is no address if the
        // chest stood still and much more open shortly before.
        while let Some(earlier) = still.iter().find(|(k, (_, turn))| {
            *k > address.0
                && s.time_s[order[address.0]] - s.time_s[order[*k]] <= config.rest_search_s
                && address.1.1 - turn > config.rest_turn_deg.to_radians()
        }) {
            address = *earlier;
        }
    }
    let (k, (hands, turn)) = address;
    let d: Vec<f64> = order[..=k]
        .iter()
        .map(|i| distance(s, *i, &hands, turn, config))
        .collect();
    // Crossings of two levels, walking from the still side.
    let crossing = |level: f64| -> Option<f64> {
        let j = (0..d.len()).rev().find(|j| d[*j] >= level)?;
        let (i1, d1) = (order[j], d[j]);
        match order.get(j + 1).zip(d.get(j + 1)) {
            Some((i0, d0)) if d1 > *d0 => {
                let f = (level - d0) / (d1 - d0);
                Some(s.time_s[*i0] + f * (s.time_s[i1] - s.time_s[*i0]))
            }
            _ => Some(s.time_s[i1]),
        }
    };
    let (l1, l2) = (config.onset_low, config.onset_high);
    let (t1, t2) = (crossing(l1)?, crossing(l2)?);
    let ratio = l1.sqrt() / (l2.sqrt() - l1.sqrt());
    let reach = ((t2 - t1) * ratio).clamp(-config.onset_reach_s, config.onset_reach_s);
    Some(Onset {
        time_s: t1 - reach,
        sigma_s: config.onset_sigma_s.hypot(0.4 * reach),
    })
}

fn median_pose(s: &Signals, window: &[usize]) -> Option<(Vector2<f64>, f64)> {
    let pick = |f: &dyn Fn(usize) -> f64| median(&window.iter().map(|i| f(*i)).collect::<Vec<_>>());
    Some((
        Vector2::new(pick(&|i| s.hands[i].x)?, pick(&|i| s.hands[i].y)?),
        pick(&|i| s.turn[i])?,
    ))
}

/// How far back from the takeaway the golfer was already still.
fn still_start(s: &Signals, takeaway: f64, config: &PairConfig) -> f64 {
    let inside: Vec<usize> = (0..s.time_s.len())
        .filter(|i| (takeaway - config.address_window_s..=takeaway).contains(&s.time_s[*i]))
        .collect();
    let Some(pose) = median_pose(s, &inside) else {
        return takeaway;
    };
    inside
        .iter()
        .rev()
        .take_while(|i| distance(s, **i, &pose.0, pose.1, config) < 1.5 * config.still_stray)
        .last()
        .map_or(takeaway, |i| s.time_s[*i])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_changes_sides_from_frame_to_frame_goes_and_a_ramp_stays() {
        let time_s: Vec<f64> = (0..20).map(|i| f64::from(i) / 60.0).collect();
        let ramp = |i: usize| 0.03 * i as f64;
        let value: Vec<f64> = (0..20)
            .map(|i| ramp(i) + if i % 2 == 0 { 0.05 } else { -0.05 })
            .collect();
        let out = calm(&time_s, &value, 0.025);
        for (i, v) in out.iter().enumerate().take(19).skip(1) {
            assert!((v - ramp(i)).abs() < 1e-12, "{i}: {v}");
        }
        assert_eq!(calm(&time_s, &value, 0.01), value);
    }
}
