//! A swing's moments to a fraction of a frame, from one view: every window is a share of the phase
//! that it lies in.

use nalgebra::Vector2;

use super::phases::Moment;
use super::reversal::{Coordinate, Window, fit_reversal};
use super::signals::Signals;
use crate::config::FindConfig;
use crate::math::series::{lowest_of_parabola, parabola_vertex};
use crate::math::stats::{median, quantile};

/// Where a chain puts the moments, seconds of playback, with the spread that all chains leave.
#[derive(Clone, Copy, Debug)]
pub struct CoarseTiming {
    /// The clip's first moment where it begins after the takeaway.
    pub takeaway_s: f64,
    pub rest_s: f64,
    pub top_s: f64,
    pub impact_s: f64,
    /// Backswing over downswing where the takeaway is not in the clip.
    pub tempo: Option<f64>,
}

impl CoarseTiming {
    /// How long the backswing takes.
    pub fn back_s(&self) -> f64 {
        let seen = (self.rest_s - self.takeaway_s).max(1e-3);
        self.tempo.map_or(seen, |t| seen.max(t * self.down_s()))
    }

    pub fn down_s(&self) -> f64 {
        (self.impact_s - self.top_s).max(1e-3)
    }
}

/// Signals of one side's golfer with what the fine search asks of them.
pub struct Fine<'a> {
    pub s: &'a Signals,
    pub closing: f64,
    pub config: &'a FindConfig,
}

/// Far below any frame and far above what a clip's seconds are rounded by.
const ROUNDING_S: f64 = 1e-7;

type Pose = (Vector2<f64>, f64);

/// A rest: its pose, its far end, and how far its frames stray.
struct Rest {
    pose: Pose,
    end_s: f64,
    stray: f64,
}

impl Fine<'_> {
    fn frames(&self, from_s: f64, to_s: f64) -> std::ops::Range<usize> {
        let t = &self.s.time_s;
        // Windows are often whole numbers of frames: whether the last one counts is not left to rounding.
        let a = t.partition_point(|x| *x < from_s - ROUNDING_S);
        a..t.partition_point(|x| *x <= to_s + ROUNDING_S).max(a)
    }

    fn pose(&self, i: usize) -> Pose {
        (self.s.hands[i], self.closing * self.s.heading[1][i])
    }

    fn distance(&self, i: usize, pose: &Pose) -> f64 {
        super::knots::distance(self.pose(i), *pose, self.config)
    }

    /// Distance of the mean pose over ±`half_s` from another.
    fn smoothed(&self, i: usize, half_s: f64, pose: &Pose) -> f64 {
        let t = self.s.time_s[i];
        let frames = self.frames(t - half_s, t + half_s);
        let n = frames.len().max(1) as f64;
        let (hands, turn) = frames
            .map(|j| self.pose(j))
            .fold((Vector2::zeros(), 0.0), |(h, a), (hands, turn)| {
                (h + hands, a + turn)
            });
        super::knots::distance((hands / n, turn / n), *pose, self.config)
    }

    fn median_pose(&self, frames: impl Iterator<Item = usize> + Clone) -> Option<Pose> {
        let pick = |f: &dyn Fn(usize) -> f64| median(&frames.clone().map(f).collect::<Vec<_>>());
        Some((
            Vector2::new(pick(&|i| self.s.hands[i].x)?, pick(&|i| self.s.hands[i].y)?),
            pick(&|i| self.closing * self.s.heading[1][i])?,
        ))
    }

    /// Level below which a pose is the same as another.
    fn level(&self) -> f64 {
        let noise = self
            .s
            .hands_sigma
            .hypot(self.config.turn_weight * self.s.heading_sigma);
        self.config.onset_low.max(3.0 * noise)
    }

    /// The pose at rest beside `at_s`: frames on the side away from the swing that lie still, at
    /// most `most_s` of them in time. With it the time at which that stretch begins.
    fn rest(&self, at_s: f64, most_s: f64, before: bool) -> Option<Rest> {
        let (from, to) = if before {
            (at_s - most_s, at_s)
        } else {
            (at_s, at_s + most_s)
        };
        let frames = self.frames(from, to);
        let order: Vec<usize> = if before {
            frames.rev().collect()
        } else {
            frames.collect()
        };
        // The nearest few are what the golfer stands in; the others count while they are alike.
        let near = order.len().min(5);
        let pose = self.median_pose(order.iter().copied().take(near.max(1)))?;
        let limit = 1.5 * self.level();
        let alike = order
            .iter()
            .take_while(|i| self.distance(**i, &pose) < limit)
            .count();
        let kept = order.get(..alike.max(near))?;
        let end_s = kept.last().map_or(at_s, |i| self.s.time_s[*i]);
        let pose = self.median_pose(kept.iter().copied())?;
        let half_s = self.config.onset_smoothing * most_s / self.config.address_window;
        let strays: Vec<f64> = kept
            .iter()
            .map(|i| self.smoothed(*i, half_s, &pose))
            .collect();
        let stray = quantile(&strays, 0.8).unwrap_or(0.0);
        Some(Rest { pose, end_s, stray })
    }

    /// When movement grew out of a rest: a movement from rest grows with time squared, so a
    /// threshold alone is late. `fast_s` lies in the movement.
    fn onset(&self, rest: &Rest, still_s: f64, fast_s: f64, phase_s: f64) -> Option<Moment> {
        let c = self.config;
        let order: Vec<usize> = if fast_s > still_s {
            self.frames(still_s, fast_s).collect()
        } else {
            self.frames(fast_s, still_s).rev().collect()
        };
        let d: Vec<f64> = order
            .iter()
            .map(|i| self.smoothed(*i, c.onset_smoothing * phase_s, &rest.pose))
            .collect();
        let crossing = |level: f64| -> Option<f64> {
            // Seen from the movement, the first frame that is as near the rest as that.
            let j = (0..d.len()).rev().find(|j| d[*j] < level)?;
            let t = self.s.time_s[order[j]];
            let Some(&after) = order.get(j + 1) else {
                return Some(t);
            };
            let f = ((level - d[j]) / (d[j + 1] - d[j]).max(1e-9)).clamp(0.0, 1.0);
            Some(t + f * (self.s.time_s[after] - t))
        };
        // A noisy picture never looks quite still: its own stray sets the measure.
        let low = c.onset_low.max(1.2 * rest.stray);
        let high = low * c.onset_high / c.onset_low;
        let (t1, t2) = (crossing(low)?, crossing(high)?);
        let ratio = low.sqrt() / (high.sqrt() - low.sqrt());
        let most = c.onset_reach * phase_s;
        let reach = ((t2 - t1) * ratio).clamp(-most, most);
        Some(Moment {
            time_s: t1 - reach,
            sigma_s: (c.onset_sigma * phase_s).hypot(0.4 * reach),
        })
    }

    /// The takeaway, and since when the golfer had stood still.
    pub fn takeaway(&self, r: &CoarseTiming) -> Option<(Moment, f64)> {
        let back_s = r.back_s();
        let most_s = self.config.address_window * back_s;
        let rest = self.rest(r.takeaway_s, most_s, true)?;
        let first = self.onset(&rest, rest.end_s, r.rest_s, back_s)?;
        // Again with the pose just before it: a golfer settles until the last moment.
        let near_s = first.time_s.max(*self.s.time_s.first()?);
        let rest = self.rest(near_s, most_s, true)?;
        let m = self
            .onset(&rest, rest.end_s, r.rest_s, back_s)
            .unwrap_or(first);
        Some((m, rest.end_s.min(m.time_s)))
    }

    /// The end of the follow-through, near `end_s`. `None` where nothing rests there.
    pub fn finish(&self, r: &CoarseTiming, end_s: f64) -> Option<Moment> {
        let through_s = (end_s - r.impact_s).max(1e-3);
        let rest = self.rest(end_s, 0.5 * through_s, false)?;
        let last = *self.s.time_s.last()?;
        if last - end_s < self.config.finish_rest * through_s {
            return None;
        }
        self.onset(
            &rest,
            (end_s + 0.2 * through_s).min(last),
            r.impact_s,
            through_s,
        )
    }

    /// How long before and after the top the pose is near it.
    pub fn near_top(&self, r: &CoarseTiming) -> (f64, f64) {
        let c = self.config;
        let index = |t: f64| {
            self.frames(t, f64::INFINITY)
                .start
                .min(self.s.time_s.len() - 1)
        };
        let (at, from, to) = (index(r.top_s), index(r.takeaway_s), index(r.impact_s));
        let top = self.pose(at);
        let way = self.distance(from, &top);
        let far = |i: &usize, share: f64| self.distance(*i, &top) > share * way;
        let left = (from..at)
            .rev()
            .find(|i| far(i, c.top_before_way))
            .unwrap_or(from);
        let right = (at..to).find(|i| far(i, c.top_after_way)).unwrap_or(to);
        let t = |i: usize| self.s.time_s[i];
        let (back_s, down_s) = (c.top_before * r.back_s(), c.top_after * r.down_s());
        let before_s = (r.top_s - t(left)).clamp(0.3 * back_s, back_s);
        let after_s = (t(right) - r.top_s).clamp(0.6 * down_s, down_s);
        (before_s, after_s)
    }

    /// When the thorax began to open: a downswing's rate of turn grows evenly with time, so two levels
    /// of it tell when it was nought, where a turn near its most is flat and tells little.
    pub fn opening(&self, r: &CoarseTiming) -> Option<Moment> {
        let (c, down_s) = (self.config, r.down_s());
        let (half_s, slack_s) = (c.open_smoothing * down_s, 0.15 * down_s);
        let frames = self.frames(
            r.takeaway_s.max(r.top_s - 1.5 * down_s),
            r.impact_s + slack_s,
        );
        let turns: Vec<(f64, f64)> = frames
            .map(|i| (self.s.time_s[i], self.mean_turn(i, half_s)))
            .collect();
        let rates: Vec<(f64, f64)> = turns
            .windows(3)
            .filter_map(|w| match w {
                [a, b, c] => Some((b.0, (a.1 - c.1) / (c.0 - a.0).max(1e-9))),
                _ => None,
            })
            .collect();
        let k = (0..rates.len()).max_by(|a, b| rates[*a].1.total_cmp(&rates[*b].1))?;
        let most = rates[k].1;
        let grown = |share: f64| -> Option<f64> {
            let level = share * most;
            let j = rates[..k].iter().rposition(|x| x.1 < level)?;
            let (a, b) = (rates[j], *rates.get(j + 1)?);
            let f = ((level - a.1) / (b.1 - a.1).max(1e-9)).clamp(0.0, 1.0);
            Some(a.0 + f * (b.0 - a.0))
        };
        let (low, high) = (c.open_low, c.open_high);
        let (t1, t2) = (grown(low)?, grown(high)?);
        Some(Moment {
            time_s: t1 - (t2 - t1) * low / (high - low) + c.open_early * down_s,
            sigma_s: c.open_sigma * down_s,
        })
        .filter(|m| (r.takeaway_s..r.impact_s).contains(&m.time_s))
    }

    /// Mean turn of the thorax over ±`half_s` of a frame.
    fn mean_turn(&self, i: usize, half_s: f64) -> f64 {
        let t = self.s.time_s[i];
        let near = self.frames(t - half_s, t + half_s);
        let n = near.len().max(1) as f64;
        near.map(|j| self.closing * self.s.heading[1][j])
            .sum::<f64>()
            / n
    }

    /// The hands' and the thorax's turning back.
    pub fn top(&self, r: &CoarseTiming) -> Option<Moment> {
        let frames = self.frames(r.takeaway_s, r.impact_s);
        let coordinate = |f: &dyn Fn(usize) -> f64, sigma: f64| Coordinate {
            samples: frames.clone().map(|i| (self.s.time_s[i], f(i))).collect(),
            sigma,
        };
        let hands = self.s.hands_sigma.max(self.config.hands_sigma_least);
        let turn = self
            .s
            .heading_sigma
            .max(self.config.heading_sigma_least_deg.to_radians());
        let all = [
            coordinate(&|i| self.s.hands[i].x, hands),
            coordinate(&|i| self.s.hands[i].y, hands),
            coordinate(&|i| self.s.heading[1][i], turn),
        ];
        let guess_s = self.turning_back(r);
        let r = &CoarseTiming {
            top_s: guess_s,
            ..*r
        };
        let (before_s, after_s) = self.near_top(r);
        let window = Window::at_top(before_s, after_s, r.down_s(), self.config);
        fit_reversal(&all, guess_s, &window)
    }

    /// When hands and chest began to turn back: the later of the two ways to see it. Seen along the
    /// line a chest's reading stops growing before the top, and hands that go on behind the head are
    /// no farther from the address: each alone is early, none is late.
    fn turning_back(&self, r: &CoarseTiming) -> f64 {
        let half_s = self.config.top_smoothing * r.down_s();
        let by_turn = self.left_its_most(r, &|i| self.mean_turn(i, half_s));
        let near_s = 0.1 * r.back_s();
        let address = self.frames(r.takeaway_s - near_s, r.takeaway_s + near_s);
        let by_way = self
            .median_pose(address)
            .and_then(|a| self.left_its_most(r, &|i| self.smoothed(i, half_s, &a)));
        let seen = [by_turn, by_way].into_iter().flatten();
        seen.max_by(f64::total_cmp).unwrap_or(r.top_s)
    }

    /// When a value that grew in the backswing left its largest, from two levels below it: a movement
    /// from rest grows with time squared.
    fn left_its_most(&self, r: &CoarseTiming, mean: &dyn Fn(usize) -> f64) -> Option<f64> {
        let frames = self.frames(r.takeaway_s, r.impact_s);
        let turns: Vec<(f64, f64)> = frames.map(|i| (self.s.time_s[i], mean(i))).collect();
        let most = turns.iter().map(|x| x.1).fold(f64::NEG_INFINITY, f64::max);
        let whole = most - turns.first().map_or(most, |x| x.1);
        let left = |share: f64| -> Option<f64> {
            let level = most - share * whole;
            let k = turns.iter().rposition(|x| x.1 >= level)?;
            let (a, b) = (turns[k], *turns.get(k + 1)?);
            let f = ((a.1 - level) / (a.1 - b.1).max(1e-9)).clamp(0.0, 1.0);
            Some(a.0 + f * (b.0 - a.0))
        };
        let share = self.config.top_left;
        let (t1, t2) = (left(share)?, left(4.0 * share)?);
        Some(t1 - (t2 - t1).min(0.5 * r.down_s()))
    }

    /// When the hands come nearest to their address place on the way down, between frames.
    pub fn hands_back(&self, r: &CoarseTiming) -> Option<Moment> {
        let most_s = self.config.address_window * r.back_s();
        let (address, _) = self.rest(r.takeaway_s, most_s, true)?.pose;
        // At impact the hands are a little ahead of it, towards the target: seen from the front only.
        let at = self.frames(r.takeaway_s, f64::INFINITY).start;
        let heading = self.s.heading[1].get(at).copied().unwrap_or_default();
        let ahead = -self.closing * self.config.hands_lead * heading.cos();
        let place = address + Vector2::new(ahead, 0.0);
        // Seen along the line they pass it farther out or in than they were, and as low.
        let least = self.config.hands_across;
        let across = least + (1.0 - least) * heading.cos().powi(2);
        let d = |i: usize| {
            let off = self.s.hands[i] - place;
            across * off.x * off.x + off.y * off.y
        };
        self.nearest(r, &d, self.config.hands_back_sigma)
    }

    /// When the hands are lowest on the way down: what tells the impact where no address was seen.
    pub fn hands_lowest(&self, r: &CoarseTiming) -> Option<Moment> {
        let d = |i: usize| self.s.hands[i].y;
        self.nearest(r, &d, self.config.hands_lowest_sigma)
    }

    /// When `d` is least near the impact, with a spread of `sigma` downswings.
    fn nearest(&self, r: &CoarseTiming, d: &dyn Fn(usize) -> f64, sigma: f64) -> Option<Moment> {
        let down_s = r.down_s();
        // A downswing as first seen may be too short.
        let least = [0.5, 1.0].into_iter().find_map(|reach| {
            let frames: Vec<usize> = self
                .frames(r.top_s + 0.3 * down_s, r.impact_s + reach * down_s)
                .collect();
            let k = (0..frames.len()).min_by(|a, b| d(frames[*a]).total_cmp(&d(frames[*b])))?;
            Some([
                *frames.get(k.checked_sub(1)?)?,
                frames[k],
                *frames.get(k + 1)?,
            ])
        });
        let [before, at, after] = least?;
        let t = |i: usize| self.s.time_s[i];
        let step = 0.5 * (t(after) - t(before));
        let half_s = (self.config.hands_near * down_s).max(1.2 * step);
        let near: Vec<(f64, f64)> = self
            .frames(t(at) - half_s, t(at) + half_s)
            .map(|i| (t(i) - t(at), d(i)))
            .collect();
        let shift_s = lowest_of_parabola(&near)
            .unwrap_or_else(|| parabola_vertex(d(before), d(at), d(after)) * step);
        Some(Moment {
            time_s: t(at) + shift_s.clamp(-half_s, half_s),
            sigma_s: (sigma * down_s).hypot(0.3 * step),
        })
    }

    /// The fastest opening of the thorax near the impact.
    pub fn fastest(&self, r: &CoarseTiming) -> f64 {
        let down_s = r.down_s();
        let frames: Vec<usize> = self.frames(r.top_s, r.impact_s + 0.3 * down_s).collect();
        frames
            .windows(3)
            .filter_map(|w| {
                let dt = self.s.time_s[w[2]] - self.s.time_s[w[0]];
                let opened = self.closing * (self.s.heading[1][w[0]] - self.s.heading[1][w[2]]);
                (dt > 0.0).then(|| (self.s.time_s[w[1]], opened / dt))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(r.impact_s - 0.4 * down_s, |x| x.0)
    }
}
