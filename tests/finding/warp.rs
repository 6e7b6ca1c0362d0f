//! Tracks on other clocks: stretched, ramped, rested, cut, thinned out and joined. What is known of
//! the moments is warped along.

use quarterturn::clip::Strike;
use quarterturn::pose::{Observation, Person, ViewTrack, landmark};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// A swing's true moments, seconds of playback. A top or a takeaway at which the clip rests is any
/// moment of the rest.
#[derive(Clone, Copy, Debug)]
pub struct Truth {
    pub takeaway: (f64, f64),
    pub top: (f64, f64),
    pub impact: f64,
}

/// A take with its swings.
#[derive(Clone, Debug)]
pub struct Case {
    pub name: String,
    pub track: ViewTrack,
    pub swings: Vec<Truth>,
}

/// A case from moments in seconds.
pub fn case(name: &str, track: ViewTrack, takeaway: f64, top: f64, impact: f64) -> Case {
    Case {
        name: name.into(),
        track,
        swings: vec![Truth {
            takeaway: (takeaway, takeaway),
            top: (top, top),
            impact,
        }],
    }
}

/// New times of old ones: `rate` is new seconds for each old one, and at each of `rests` (old time,
/// new seconds) the film stands still.
struct Clock {
    old: Vec<f64>,
    new: Vec<f64>,
    rests: Vec<(f64, f64)>,
}

impl Clock {
    fn new(end: f64, rate: &dyn Fn(f64) -> f64, rests: &[(f64, f64)]) -> Self {
        let n = 2000;
        let step = end.max(1e-3) / f64::from(n);
        let (mut old, mut new) = (vec![0.0], vec![0.0]);
        for k in 1..=n + 100 {
            let t = f64::from(k) * step;
            old.push(t);
            new.push(new[k as usize - 1] + step * rate(t - step / 2.0));
        }
        let mut rests = rests.to_vec();
        rests.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { old, new, rests }
    }

    /// The earliest and latest new time of an old one.
    fn at(&self, t: f64) -> (f64, f64) {
        let x =
            quarterturn::math::series::interpolate(&self.old, &self.new, t).unwrap_or_else(|| {
                if t < 0.0 {
                    t
                } else {
                    self.new[self.new.len() - 1]
                }
            });
        let sum = |inside: &dyn Fn(f64) -> bool| -> f64 {
            self.rests.iter().filter(|r| inside(r.0)).map(|r| r.1).sum()
        };
        (x + sum(&|r| r < t - 1e-9), x + sum(&|r| r < t + 1e-9))
    }
}

/// Warps a take's time.
pub fn warp(
    case: &Case,
    rate: &dyn Fn(f64) -> f64,
    rests: &[(f64, f64)],
    rng: &mut ChaCha8Rng,
) -> Case {
    let end = case.track.observations.last().map_or(0.0, |o| o.time_s);
    let clock = Clock::new(end, rate, rests);
    let mut out = case.clone();
    let mut frames: Vec<Observation> = Vec::new();
    for (k, o) in case.track.observations.iter().enumerate() {
        let mut o = o.clone();
        let old = o.time_s;
        o.time_s = clock.at(old).0;
        frames.push(o);
        // Frames of a rest between this frame and the next: this one again, trembling.
        let next = case
            .track
            .observations
            .get(k + 1)
            .map_or(f64::INFINITY, |n| n.time_s);
        for (at, length) in rests.iter().filter(|r| r.0 >= old && r.0 < next) {
            let from = clock.at(*at).0;
            let step = 1.0 / 30.0;
            for j in 1..=(length / step) as usize {
                let mut again = case.track.observations[k].clone();
                again.time_s = from + j as f64 * step;
                tremble(&mut again, 0.002, rng);
                frames.push(again);
            }
        }
    }
    frames.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    frames.dedup_by(|b, a| b.time_s - a.time_s < 1e-6);
    out.track.observations = frames;
    renumber(&mut out.track);
    for s in &mut out.track.strikes {
        s.time_s = clock.at(s.time_s).0;
    }
    for t in &mut out.swings {
        *t = Truth {
            takeaway: (clock.at(t.takeaway.0).0, clock.at(t.takeaway.1).1),
            top: (clock.at(t.top.0).0, clock.at(t.top.1).1),
            impact: clock.at(t.impact).0,
        };
    }
    out
}

fn renumber(track: &mut ViewTrack) {
    for (i, o) in track.observations.iter_mut().enumerate() {
        o.index = i;
    }
    let t: Vec<f64> = track.observations.iter().map(|o| o.time_s).collect();
    if let (Some(a), Some(b)) = (t.first(), t.last()) {
        track.info.fps = ((t.len() - 1) as f64 / (b - a).max(1e-6)).clamp(1.0, 1000.0);
        track.info.duration_s = Some(b - a);
    }
}

/// Moves the hands by a normal error of `heights` of the picture's golfer.
fn tremble(o: &mut Observation, heights: f64, rng: &mut ChaCha8Rng) {
    let Some(p) = &mut o.person else { return };
    let size = (p.landmarks[landmark::ANKLE[0]].y_px - p.landmarks[landmark::NOSE].y_px).abs();
    for i in landmark::WRIST {
        let (x, y): (f64, f64) = (
            rng.sample(rand_distr::StandardNormal),
            rng.sample(rand_distr::StandardNormal),
        );
        p.landmarks[i].x_px += x * heights * size;
        p.landmarks[i].y_px += y * heights * size;
    }
}

/// Keeps frames at most `fps` a second, each late by a random share `unevenness` of a frame.
pub fn thin(case: &Case, fps: f64, unevenness: f64, rng: &mut ChaCha8Rng) -> Case {
    let mut out = case.clone();
    let mut next = f64::NEG_INFINITY;
    out.track.observations.retain(|o| {
        let keep = o.time_s >= next - 1e-6;
        if keep {
            next = o.time_s + (1.0 + unevenness * rng.random_range(-0.5..0.5)) / fps;
        }
        keep
    });
    renumber(&mut out.track);
    out
}

/// Only what lies between two times; times stay.
pub fn cut(case: &Case, from: f64, to: f64) -> Case {
    let mut out = case.clone();
    out.track
        .observations
        .retain(|o| (from..=to).contains(&o.time_s));
    let start = out.track.observations.first().map_or(0.0, |o| o.time_s);
    for o in &mut out.track.observations {
        o.time_s -= start;
    }
    out.track
        .strikes
        .retain(|s| (from..=to).contains(&s.time_s));
    for s in &mut out.track.strikes {
        s.time_s -= start;
    }
    for t in &mut out.swings {
        for x in [
            &mut t.takeaway.0,
            &mut t.takeaway.1,
            &mut t.top.0,
            &mut t.top.1,
        ] {
            *x -= start;
        }
        t.impact -= start;
    }
    renumber(&mut out.track);
    out
}

/// One take after another, a second of nothing read between them.
pub fn join(first: &Case, second: &Case) -> Case {
    let mut out = first.clone();
    let start = first.track.observations.last().map_or(0.0, |o| o.time_s) + 1.0;
    out.track
        .observations
        .extend(second.track.observations.iter().cloned().map(|mut o| {
            o.time_s += start;
            o
        }));
    out.track
        .strikes
        .extend(second.track.strikes.iter().map(|s| Strike {
            time_s: s.time_s + start,
            ..*s
        }));
    out.swings.extend(second.swings.iter().map(|t| Truth {
        takeaway: (t.takeaway.0 + start, t.takeaway.1 + start),
        top: (t.top.0 + start, t.top.1 + start),
        impact: t.impact + start,
    }));
    renumber(&mut out.track);
    out
}

/// Waggles before the takeaway: `n` of them, the hands `heights` to and fro, while the golfer stands.
pub fn waggle(case: &Case, n: u32, heights: f64, rng: &mut ChaCha8Rng) -> Case {
    let at = case.swings[0].takeaway.0 - 0.05;
    let length = 0.8 * f64::from(n) + 0.5;
    let mut out = warp(case, &|_| 1.0, &[(at, length)], rng);
    for o in &mut out.track.observations {
        let t = o.time_s - at;
        let inside = (0.0..0.8 * f64::from(n)).contains(&t);
        let Some(p) = o.person.as_mut().filter(|_| inside) else {
            continue;
        };
        let size = (p.landmarks[landmark::ANKLE[0]].y_px - p.landmarks[landmark::NOSE].y_px).abs();
        let phase = std::f64::consts::TAU * t / 0.8;
        for i in landmark::WRIST {
            p.landmarks[i].x_px += heights * size * (1.0 - phase.cos()) / 2.0;
            p.landmarks[i].y_px -= 0.4 * heights * size * (1.0 - phase.cos()) / 2.0;
        }
    }
    out
}

/// Stepping up to the ball: hands that hang nearer the hips come to their place in half a second, then the
/// golfer stands at address for `stands_s` before the takeaway.
pub fn step_up(case: &Case, stands_s: f64, rng: &mut ChaCha8Rng) -> Case {
    let (at, hangs_s, moves_s) = (case.swings[0].takeaway.0 - 0.05, 0.7, 0.5);
    let mut out = warp(case, &|_| 1.0, &[(at, hangs_s + moves_s + stands_s)], rng);
    for o in &mut out.track.observations {
        let part = ((o.time_s - at - hangs_s) / moves_s).clamp(0.0, 1.0);
        let left = 1.0 - part * part * (3.0 - 2.0 * part);
        let Some(p) = o.person.as_mut().filter(|_| left > 0.0) else {
            continue;
        };
        let x = |p: &Person, [l, r]: [usize; 2]| (p.landmarks[l].x_px + p.landmarks[r].x_px) / 2.0;
        let before = x(p, landmark::WRIST) - x(p, landmark::HIP);
        for i in landmark::WRIST {
            p.landmarks[i].x_px -= 0.85 * left * before;
        }
    }
    out
}

/// Played backwards, without a sound.
pub fn reversed(case: &Case) -> Case {
    let mut out = mute(case);
    let seen = &mut out.track.observations;
    let end = seen.last().map_or(0.0, |o| o.time_s);
    seen.reverse();
    for o in seen.iter_mut() {
        o.time_s = end - o.time_s;
    }
    renumber(&mut out.track);
    out
}

/// Takes the sound away.
pub fn mute(case: &Case) -> Case {
    let mut out = case.clone();
    out.track.strikes.clear();
    out.track.info.has_sound = false;
    out
}
