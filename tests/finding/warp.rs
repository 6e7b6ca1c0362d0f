//! Tracks on other clocks: stretched, ramped, rested, cut, thinned out and joined. What is known of
//! the moments is warped along.

use quarterturn::clip::Strike;
use quarterturn::config::Pipeline;
use quarterturn::math::rotation::nearest_rotation;
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
    /// Whether frames that follow each other closely were read plain and mirrored by turns.
    pub by_turns: bool,
}

/// A case from moments in seconds.
pub fn case(name: &str, track: ViewTrack, takeaway: f64, top: f64, impact: f64) -> Case {
    Case {
        name: name.into(),
        by_turns: false,
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
                if case.by_turns {
                    both_images(&mut again, &case.track.observations, k, f64::INFINITY);
                }
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

/// The take as if it had been filmed at `fps` frames a second, each late by a random share `unevenness` of a
/// frame. A track holds the frames that the program chose to read, and of slow parts few: where two frames
/// would do, the one that was read is kept, as the program reads of a slower clip too. What it keeps it
/// reads as it is and mirrored where frames are far apart: so do the readings here.
pub fn thin(case: &Case, fps: f64, unevenness: f64, rng: &mut ChaCha8Rng) -> Case {
    let seen = &case.track.observations;
    let start = seen.first().map_or(0.0, |o| o.time_s);
    let mut kept: Vec<usize> = Vec::new();
    let (mut from, mut k) = (0, 0.5);
    while from < seen.len() {
        let late = unevenness * rng.random_range(-0.5..0.5);
        let to_s = start + (k + late) / fps - 1e-6;
        let to = from + seen[from..].partition_point(|o| o.time_s < to_s);
        let off = |i: &usize| (seen[*i].time_s - to_s + 0.5 / fps).abs();
        let nearest = |read: bool| {
            let all = (from..to).filter(|i| !read || seen[*i].person.is_some());
            all.min_by(|a, b| off(a).total_cmp(&off(b)))
        };
        kept.extend(nearest(true).or_else(|| nearest(false)));
        (from, k) = (to, k + 1.0);
    }
    let mut out = case.clone();
    out.track.observations = kept.iter().map(|i| seen[*i].clone()).collect();
    if case.by_turns && 1.0 / fps >= Pipeline::default().pose.mirror_alternate_s {
        for (o, i) in out.track.observations.iter_mut().zip(kept) {
            both_images(o, seen, i, 1.0 / fps);
        }
    }
    renumber(&mut out.track);
    out
}

/// Of frames that follow each other closely every other one is read mirrored: the mean of reading `i` and
/// of what its neighbours within `most_s` give for its time is that of both images.
fn both_images(o: &mut Observation, seen: &[Observation], i: usize, most_s: f64) {
    let near = |other: Option<&Observation>| {
        let other = other?;
        let torso = other.person.as_ref()?.torso.clone()?;
        let apart_s = (other.time_s - seen[i].time_s).abs();
        (apart_s < most_s).then_some((apart_s, torso))
    };
    let before = i.checked_sub(1).and_then(|b| near(seen.get(b)));
    let (Some((to_a, a)), Some((to_b, b))) = (before, near(seen.get(i + 1))) else {
        return;
    };
    let Some(mine) = o.person.as_mut().and_then(|p| p.torso.as_mut()) else {
        return;
    };
    let (wa, wb) = (0.5 * to_b / (to_a + to_b), 0.5 * to_a / (to_a + to_b));
    for (s, m) in mine.crop_from_segment.iter_mut().enumerate() {
        let mean = *m * 0.5 + a.crop_from_segment[s] * wa + b.crop_from_segment[s] * wb;
        *m = nearest_rotation(&mean).map_or(*m, |r| *r.matrix());
    }
    for (k, p) in mine.points_px.iter_mut().enumerate() {
        let theirs = a.points_px[k].iter().zip(&b.points_px[k]);
        for (x, (xa, xb)) in p.iter_mut().zip(theirs) {
            *x = 0.5 * *x + wa * xa + wb * xb;
        }
    }
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
