//! A clip thinned to the moments at which something changed: a knot for each step of movement, and
//! one at the end of each rest. Steps are lengths, not times, so slow motion has no more of them.

use nalgebra::Vector2;

use super::signals::Signals;
use crate::config::FindConfig;
use crate::math::stats::median;

/// A pose at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Knot {
    /// Seconds of playback.
    pub time_s: f64,
    /// Hands from the hips, golfer heights.
    pub hands: Vector2<f64>,
    /// Closed turn of the thorax, radians, any zero.
    pub turn: f64,
    /// Distance of the wrists, golfer heights.
    pub apart: f64,
    /// Middle of the ankles in the picture, golfer heights.
    pub feet: Vector2<f64>,
    /// Shoulders over hips, golfer heights.
    pub trunk: f64,
}

/// Knots with running sums along them.
#[derive(Clone, Debug, Default)]
pub struct Knots {
    pub all: Vec<Knot>,
    /// Distance of poses from knot to knot, at least.
    pub step: f64,
    /// Way of the hands, of the thorax's turn (absolute) and of both together up to each knot.
    pub hands_way: Vec<f64>,
    pub turn_way: Vec<f64>,
    pub way: Vec<f64>,
    /// Sum of the wrists' distance up to each knot.
    pub apart_sum: Vec<f64>,
}

/// Distance of two poses: hands in golfer heights and turn together.
pub fn distance(a: (Vector2<f64>, f64), b: (Vector2<f64>, f64), config: &FindConfig) -> f64 {
    (a.0 - b.0).norm().hypot(config.turn_weight * (a.1 - b.1))
}

/// Knots of a clip, turns as `closing` says: −1 where a falling heading closes the thorax (a
/// right-hander), +1 for a left-hander.
pub fn knots(s: &Signals, closing: f64, config: &FindConfig) -> Knots {
    let n = s.time_s.len();
    let pose = |i: usize| (s.hands[i], closing * s.heading[1][i]);
    // Noise must not make knots of its own.
    let step = config
        .step
        .max(config.step_in_sigmas * s.hands_sigma.hypot(config.turn_weight * s.heading_sigma));
    let mut chosen: Vec<usize> = Vec::new();
    let mut last = 0;
    for i in 0..n {
        if i == 0 {
            chosen.push(0);
            continue;
        }
        if distance(pose(i), pose(last), config) < step && i + 1 < n {
            continue;
        }
        let way = |a: usize, b: usize| distance(pose(a), pose(b), config);
        // The end of a rest: the last frame that is nearer to the last knot than half the step. A rest
        // between half a step and a whole one from it ends where what is half a step from here began.
        let rests_here = (last + 1..i).rev().find(|k| way(*k, last) < 0.5 * step);
        let rests_near = || {
            let k = (last + 1..i).rev().find(|k| way(*k, i) > 0.5 * step)?;
            let still = (last + 1..k).filter(|j| way(*j, k) < 0.2 * step).count();
            (k - last >= config.rest_frames && 2 * still > k - last).then_some(k)
        };
        chosen.extend(rests_here.or_else(rests_near));
        chosen.push(i);
        last = i;
    }
    let mut k = Knots {
        step,
        ..Knots::default()
    };
    for (j, &frame) in chosen.iter().enumerate() {
        let (hands, turn) = settled(s, &chosen, j, closing);
        k.all.push(Knot {
            time_s: s.time_s[frame],
            hands,
            turn,
            apart: s.apart[frame],
            feet: s.feet[frame],
            trunk: s.trunk[frame],
        });
    }
    let (mut h, mut t, mut w, mut g) = (0.0, 0.0, 0.0, 0.0);
    for (j, now) in k.all.iter().enumerate() {
        if let Some(before) = j.checked_sub(1).map(|b| &k.all[b]) {
            h += (now.hands - before.hands).norm();
            t += (now.turn - before.turn).abs();
            w += distance((now.hands, now.turn), (before.hands, before.turn), config);
        }
        g += now.apart;
        k.hands_way.push(h);
        k.turn_way.push(t);
        k.way.push(w);
        k.apart_sum.push(g);
    }
    k
}

/// The pose at a knot: the median over the frames between the middles of its gaps, where it rests.
fn settled(s: &Signals, chosen: &[usize], j: usize, closing: f64) -> (Vector2<f64>, f64) {
    let at = chosen[j];
    let from = j
        .checked_sub(1)
        .map_or(at, |b| chosen[b] + (at - chosen[b]).div_ceil(2));
    let to = chosen.get(j + 1).map_or(at, |a| at + (a - at) / 2);
    if to - from < 4 {
        return (s.hands[at], closing * s.heading[1][at]);
    }
    // A knot's frame is its last or first word on a rest: look to the side that is nearer.
    let pick = |f: &dyn Fn(usize) -> f64| {
        let near = 4usize;
        let lo = from.max(at.saturating_sub(near));
        let hi = to.min(at + near);
        median(&(lo..=hi).map(f).collect::<Vec<_>>()).unwrap_or_else(|| f(at))
    };
    (
        Vector2::new(pick(&|i| s.hands[i].x), pick(&|i| s.hands[i].y)),
        pick(&|i| closing * s.heading[1][i]),
    )
}

impl Knots {
    pub fn len(&self) -> usize {
        self.all.len()
    }

    pub fn distance(&self, i: usize, j: usize, config: &FindConfig) -> f64 {
        let (a, b) = (&self.all[i], &self.all[j]);
        distance((a.hands, a.turn), (b.hands, b.turn), config)
    }

    /// Speed through a knot, poses a second of playback.
    pub fn speed(&self, i: usize) -> f64 {
        let (a, b) = (i.saturating_sub(1), (i + 1).min(self.len() - 1));
        let dt = self.all[b].time_s - self.all[a].time_s;
        (self.way[b] - self.way[a]) / dt.max(1e-6)
    }

    /// Seconds of playback from a knot to the next: a movement's own step, or a rest.
    pub fn rest_s(&self, j: usize) -> f64 {
        let next = self.all.get(j + 1);
        next.map_or(0.0, |n| n.time_s - self.all[j].time_s)
    }

    /// The longest rest on the way from one knot to another, seconds of playback; 0 where the movement just
    /// slows down.
    pub fn pause_s(&self, from: usize, to: usize, config: &FindConfig) -> f64 {
        let pause_s = (from..to).map(|j| self.rest_s(j)).fold(0.0, f64::max);
        let moving_s = self.all[to].time_s - self.all[from].time_s - pause_s;
        if pause_s > config.rest_least * moving_s {
            pause_s
        } else {
            0.0
        }
    }

    /// How long the pose stays within `way` of that at knot `i`, seconds of playback.
    pub fn dwell_s(&self, i: usize, way: f64, config: &FindConfig) -> f64 {
        // Between knots the pose moves evenly.
        let left = |near: usize, far: usize| {
            let (a, b) = (
                self.distance(near, i, config),
                self.distance(far, i, config),
            );
            let f = ((way - a) / (b - a).max(1e-9)).clamp(0.0, 1.0);
            self.all[near].time_s + f * (self.all[far].time_s - self.all[near].time_s)
        };
        let far = |j: &usize| self.distance(*j, i, config) > way;
        let from = (0..i).rev().find(far).map(|j| left(j + 1, j));
        let to = (i + 1..self.len()).find(far).map(|j| left(j - 1, j));
        let (first, last) = (self.all[0].time_s, self.all[self.len() - 1].time_s);
        to.unwrap_or(last) - from.unwrap_or(first)
    }

    /// Way covered up to a time, interpolated.
    pub fn way_at(&self, t: f64) -> f64 {
        let i = self.all.partition_point(|k| k.time_s <= t);
        match (i.checked_sub(1), self.all.get(i)) {
            (None, _) => 0.0,
            (Some(a), None) => self.way[a],
            (Some(a), Some(b)) => {
                let before = &self.all[a];
                let f = (t - before.time_s) / (b.time_s - before.time_s).max(1e-9);
                self.way[a] + f * (self.way[i] - self.way[a])
            }
        }
    }

    /// Mean distance of the wrists over knots `a..=b`, golfer heights.
    pub fn apart(&self, a: usize, b: usize) -> f64 {
        let before = a.checked_sub(1).map_or(0.0, |k| self.apart_sum[k]);
        (self.apart_sum[b] - before) / (b + 1 - a) as f64
    }

    /// Nearest that the hands come to `place` on the way through knot `i`, golfer heights: fast
    /// hands jump over it from frame to frame.
    pub fn nearest_pass(&self, i: usize, place: Vector2<f64>) -> f64 {
        let to_line = |a: Vector2<f64>, b: Vector2<f64>| {
            let ab = b - a;
            let f = ((place - a).dot(&ab) / ab.norm_squared().max(1e-12)).clamp(0.0, 1.0);
            (a + ab * f - place).norm()
        };
        let here = self.all[i].hands;
        let mut best = (here - place).norm();
        if let Some(b) = i.checked_sub(1) {
            best = best.min(to_line(self.all[b].hands, here));
        }
        if let Some(n) = self.all.get(i + 1) {
            best = best.min(to_line(here, n.hands));
        }
        best
    }
}
