//! Random takes with known swings, and how well they are found.

use std::collections::BTreeSet;
use std::fmt;

use nalgebra::Vector3;
use quarterturn::find::Take;
use quarterturn::terms::Role;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use crate::synthetic::{Noise, Phone, Swing, mirrored, track};
use crate::warp::{Case, case, cut, join, mute, thin, waggle, warp};

/// The sample swings as networks with errors of their kind would see them, from several places.
pub fn base() -> Vec<Case> {
    let swings = [
        include_str!("../../sample-clips/first-lesson_truth.json"),
        include_str!("../../sample-clips/sixth-lesson_truth.json"),
    ]
    .map(Swing::parse);
    let mut out = Vec::new();
    for (k, swing) in swings.iter().enumerate() {
        for role in Role::ALL {
            for (j, degrees) in [-30.0, 0.0, 30.0].into_iter().enumerate() {
                let mut phone = Phone::square(role).round_the_golfer(degrees);
                phone.fps = 120.0;
                phone.position_m += Vector3::new(0.0, 0.0, 0.1);
                let noise = Noise {
                    seed: (10 * k + j) as u64,
                    rotation_deg: 3.0,
                    point_px: 2.5,
                    alike_s: 0.05,
                };
                let mut t = track(swing, &phone, &noise);
                if j == 1 {
                    t = mirrored(&t);
                }
                out.push(case(
                    &format!("sample {k} {role} {degrees}"),
                    t,
                    swing.event_s("addr"),
                    swing.event_s("top"),
                    swing.event_s("imp"),
                ));
            }
        }
    }
    out
}

fn log_uniform(rng: &mut ChaCha8Rng, a: f64, b: f64) -> f64 {
    rng.random_range(a.ln()..b.ln()).exp()
}

/// A take of a base case on some clock.
pub fn random_case(bases: &[Case], rng: &mut ChaCha8Rng) -> Case {
    let b = &bases[rng.random_range(0..bases.len())];
    let (s, end) = (
        b.swings[0],
        b.track.observations.last().map_or(0.0, |o| o.time_s),
    );
    let (back, top, impact) = (s.takeaway.0, s.top.0, s.impact);
    let one = |_: f64| 1.0;
    let kind = rng.random_range(0..KINDS.len() as i32);
    let mut out = match kind {
        0 => warp(b, &one, &[], rng),
        1 => {
            let r = log_uniform(rng, 0.25, 8.0);
            warp(b, &|_| r, &[], rng)
        }
        2 => {
            // One speed, then another, from some moment on.
            let at = [
                top,
                impact,
                rng.random_range(back..impact),
                rng.random_range(0.0..end),
            ][rng.random_range(0..4)];
            let r = log_uniform(rng, 0.25, 4.0);
            warp(b, &|t| if t > at { r } else { 1.0 }, &[], rng)
        }
        3 => {
            let length = rng.random_range(0.3..2.0);
            warp(b, &one, &[(top, length)], rng)
        }
        4 => {
            let at = back + (top - back) * rng.random_range(0.3..0.9);
            let length = rng.random_range(0.3..2.0);
            warp(b, &one, &[(at, length)], rng)
        }
        5 => {
            let r = rng.random_range(2.0..4.0);
            mute(&warp(b, &|_| r, &[], rng))
        }
        6 => {
            if rng.random_bool(0.5) {
                cut(b, back - 0.2, end)
            } else {
                cut(b, 0.0, impact + 0.12)
            }
        }
        7 => {
            let r = rng.random_range(1.0..3.0);
            let first = mute(&warp(b, &|_| r, &[], rng));
            join(&first, b)
        }
        _ => {
            let (n, heights) = (rng.random_range(1..4), rng.random_range(0.04..0.12));
            waggle(b, n, heights, rng)
        }
    };
    out.name = format!("{}{AS}{}", b.name, KINDS[kind as usize]);
    // Frames enough that a downswing holds five.
    let down = out
        .swings
        .iter()
        .map(|s| s.impact - s.top.1)
        .fold(f64::INFINITY, f64::min);
    let least = 5.0 / down;
    let fps = [24.0, 25.0, 30.0, 50.0, 60.0, 120.0][rng.random_range(0..6)];
    if fps > least {
        let uneven = if rng.random_bool(0.2) { 0.8 } else { 0.0 };
        out = thin(&out, fps, uneven, rng);
    }
    if rng.random_bool(0.3) {
        out = mute(&out);
    }
    out
}

/// What is done to a take's time.
pub const KINDS: [&str; 9] = [
    "nothing",
    "stretched",
    "two speeds",
    "rest at the top",
    "rest on the way",
    "slow and silent",
    "cut short",
    "rehearsal first",
    "waggles",
];

/// Between a base's name and what was done to it.
pub const AS: &str = " as ";

/// How one take was found.
#[derive(Clone, Debug)]
pub struct Outcome {
    pub name: String,
    pub number_right: bool,
    pub takeaway: bool,
    pub top: bool,
    pub impact: bool,
    /// Seconds off: takeaway, top, impact, and the backswing's, a frame's and the downswing's length.
    pub off: [f64; 6],
}

#[derive(Clone, Debug, Default)]
pub struct Tally(pub Vec<Outcome>);

fn outside(t: f64, (from, to): (f64, f64)) -> f64 {
    if t < from {
        t - from
    } else {
        (t - to).max(0.0)
    }
}

impl Tally {
    pub fn add(&mut self, case: &Case, take: &Take) {
        let number_right = take.swings.len() == case.swings.len();
        for s in &case.swings {
            let frame = longest_step(case, s.top.0, s.impact);
            let back = s.top.0 - s.takeaway.1;
            // The found swing whose impact is nearest.
            let near = take.swings.iter().min_by(|a, b| {
                let off = |p: &quarterturn::find::Phases| (p.impact.time_s - s.impact).abs();
                off(a).total_cmp(&off(b))
            });
            let off = near.map_or([f64::INFINITY; 3], |p| {
                [
                    p.takeaway
                        .map_or(f64::INFINITY, |m| outside(m.time_s, s.takeaway)),
                    outside(p.top.time_s, s.top),
                    p.impact.time_s - s.impact,
                ]
            });
            self.0.push(Outcome {
                name: case.name.clone(),
                number_right,
                takeaway: off[0].abs() <= (0.1 * back).max(2.0 * frame),
                top: off[1].abs() <= (2.0 * frame).max(0.03 * back),
                impact: off[2].abs() <= 2.0 * frame,
                off: [off[0], off[1], off[2], back, frame, s.impact - s.top.1],
            });
        }
    }

    /// A table by what `group` says of each swing.
    fn by(
        &self,
        f: &mut fmt::Formatter<'_>,
        head: &str,
        group: impl Fn(&Outcome) -> String,
    ) -> fmt::Result {
        writeln!(
            f,
            "| {head} | swings | number right | takeaway | top | impact |\n| --- | --- | --- | --- | --- | --- |"
        )?;
        let groups: BTreeSet<String> = self.0.iter().map(&group).collect();
        for g in groups {
            let of = Self(self.0.iter().filter(|c| group(c) == g).cloned().collect());
            let percent = |right: fn(&Outcome) -> bool| 100.0 * of.share(right);
            writeln!(
                f,
                "| {g} | {} | {:.1} | {:.1} | {:.1} | {:.1} |",
                of.0.len(),
                percent(|c| c.number_right),
                percent(|c| c.takeaway),
                percent(|c| c.top),
                percent(|c| c.impact)
            )?;
        }
        Ok(())
    }

    pub fn share(&self, of: impl Fn(&Outcome) -> bool) -> f64 {
        self.0.iter().filter(|c| of(c)).count() as f64 / self.0.len().max(1) as f64
    }
}

/// Longest time from frame to frame between two times.
fn longest_step(case: &Case, from: f64, to: f64) -> f64 {
    let t: Vec<f64> = case.track.observations.iter().map(|o| o.time_s).collect();
    let steps: Vec<f64> = t
        .windows(2)
        .filter(|w| w[1] > from && w[0] < to)
        .map(|w| w[1] - w[0])
        .collect();
    quarterturn::math::stats::median(&steps).unwrap_or(0.0)
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{} swings: number right {:.2} %, takeaway {:.2} %, top {:.2} %, impact by hands {:.2} %",
            self.0.len(),
            100.0 * self.share(|c| c.number_right),
            100.0 * self.share(|c| c.takeaway),
            100.0 * self.share(|c| c.top),
            100.0 * self.share(|c| c.impact),
        )?;
        self.by(f, "what was done", |c| {
            c.name.rsplit(AS).next().unwrap_or_default().to_owned()
        })?;
        self.by(f, "from", |c| {
            let role = Role::ALL.map(|r| r.key());
            let of = role.into_iter().find(|r| c.name.contains(r));
            of.unwrap_or("elsewhere").to_owned()
        })?;
        self.by(f, "frames a downswing", |c| {
            let n = c.off[5] / c.off[4].max(1e-6);
            ["a: fewer than 8", "b: to 12", "c: to 20", "d: more"]
                [[8.0, 12.0, 20.0].iter().filter(|x| n >= **x).count()]
            .to_owned()
        })?;
        let all = std::env::var_os("FINDING_TELL_ALL").is_some();
        let right = |c: &Outcome| c.number_right && c.takeaway && c.top && c.impact;
        for c in self.0.iter().filter(|c| all || !right(c)) {
            writeln!(
                f,
                "  {}: number {} takeaway {:+.3} {} top {:+.3} {} impact {:+.3} {} of a backswing of {:.3}, frames of {:.3}, down {:.3}",
                c.name,
                c.number_right,
                c.off[0],
                c.takeaway,
                c.off[1],
                c.top,
                c.off[2],
                c.impact,
                c.off[3],
                c.off[4],
                c.off[5]
            )?;
        }
        Ok(())
    }
}
