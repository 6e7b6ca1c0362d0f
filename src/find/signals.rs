//! What the finding of swings looks at, frame by frame: turns and hands, free of the picture's size.

use nalgebra::Vector2;

use crate::config::FindConfig;
use crate::math::rotation::{unwrap, wrap};
use crate::math::stats::quantile;
use crate::pose::{Observation, Person, body_height_px, landmark};

/// A clip's signals over the frames that were read.
#[derive(Clone, Debug, Default)]
pub struct Signals {
    /// Seconds of playback.
    pub time_s: Vec<f64>,
    /// Azimuth of the left side of pelvis and thorax seen from above, radians, unwrapped, any zero;
    /// a right-hander's backswing lowers it.
    pub heading: [Vec<f64>; 2],
    /// Middle of the hands from the middle of the hips, golfer heights; x right, y up.
    pub hands: Vec<Vector2<f64>>,
    /// Distance of the wrists in the picture, golfer heights.
    pub apart: Vec<f64>,
    /// Middle of the ankles in the picture, golfer heights; x right, y up.
    pub feet: Vec<Vector2<f64>>,
    /// How high the shoulders are over the hips, golfer heights.
    pub trunk: Vec<f64>,
    /// Standard deviation of one frame's hands (golfer heights) and of its thorax heading (radians).
    pub hands_sigma: f64,
    /// Standard deviation of the heading, radians.
    pub heading_sigma: f64,
}

/// Signals of what was seen. Headings are the torso network's where it read most frames, else those of
/// the landmark network's own joints, which tell when a body turns though not how far.
pub fn signals(observations: &[Observation], config: &FindConfig) -> Signals {
    let seen: Vec<(&Observation, &Person)> = observations
        .iter()
        .filter(|o| !o.repeated)
        .filter_map(|o| Some((o, o.person.as_ref()?)))
        .collect();
    let with_torso = seen.iter().filter(|s| s.1.torso.is_some()).count();
    let by_torso = 2 * with_torso >= seen.len();
    let Some(height) = body_height_px(seen.iter().map(|s| s.1)) else {
        return Signals::default();
    };
    let mut s = Signals::default();
    for (o, p) in seen {
        let headings = if by_torso { of_torso(p) } else { of_joints(p) };
        if let (Some([pelvis, thorax]), Some(limbs)) = (headings, limbs(p, height)) {
            s.time_s.push(o.time_s);
            s.heading[0].push(pelvis);
            s.heading[1].push(thorax);
            s.hands.push(limbs.hands);
            s.apart.push(limbs.apart);
            s.feet.push(limbs.feet);
            s.trunk.push(limbs.trunk);
        }
    }
    let near = neighbours(&s.time_s, close_s(&s.time_s, config));
    for h in &mut s.heading {
        without_jumps(h, &near, config.jump_deg.to_radians());
        unwrap(h);
        *h = calm(&middle_of_three(h, &near), &near);
    }
    let part = |v: &[Vector2<f64>], k: usize| -> Vec<f64> { v.iter().map(|h| h[k]).collect() };
    s.hands_sigma = noise(&part(&s.hands, 0)).hypot(noise(&part(&s.hands, 1)));
    s.heading_sigma = noise(&s.heading[1]);
    let settled = |v: &[Vector2<f64>]| -> Vec<Vector2<f64>> {
        let [x, y] = [0, 1].map(|k| middle_of_three(&part(v, k), &near));
        x.into_iter()
            .zip(y)
            .map(|(x, y)| Vector2::new(x, y))
            .collect()
    };
    (s.hands, s.feet) = (settled(&s.hands), settled(&s.feet));
    s.apart = middle_of_three(&s.apart, &near);
    s.trunk = middle_of_three(&s.trunk, &near);
    s
}

fn of_torso(p: &Person) -> Option<[f64; 2]> {
    let torso = p.torso.as_ref()?;
    let azimuth = |k: usize| {
        let m = torso.crop_from_segment.get(k)?;
        Some(m[(2, 0)].atan2(m[(0, 0)])).filter(|a| a.is_finite())
    };
    Some([azimuth(0)?, azimuth(1)?])
}

fn of_joints(p: &Person) -> Option<[f64; 2]> {
    let azimuth = |[l, r]: [usize; 2]| {
        let (l, r) = (p.world_m.get(l)?, p.world_m.get(r)?);
        Some((l[2] - r[2]).atan2(l[0] - r[0])).filter(|a| a.is_finite())
    };
    Some([azimuth(landmark::HIP)?, azimuth(landmark::SHOULDER)?])
}

/// A frame's limbs, golfer heights.
struct Limbs {
    hands: Vector2<f64>,
    apart: f64,
    feet: Vector2<f64>,
    trunk: f64,
}

fn limbs(p: &Person, height: f64) -> Option<Limbs> {
    let at = |i: usize| {
        let k = p.landmarks.get(i)?;
        let v = Vector2::new(k.x_px, -k.y_px);
        v.iter().all(|x| x.is_finite()).then_some(v)
    };
    let both = |[l, r]: [usize; 2]| Some((at(l)?, at(r)?));
    let middle = |pair: [usize; 2]| both(pair).map(|(l, r)| (l + r) / (2.0 * height));
    let (left, right) = both(landmark::WRIST)?;
    let hips = middle(landmark::HIP)?;
    Some(Limbs {
        hands: middle(landmark::WRIST)? - hips,
        apart: (left - right).norm() / height,
        feet: middle(landmark::ANKLE)?,
        trunk: (middle(landmark::SHOULDER)? - hips).y,
    })
}

/// Longest time between readings that belong together, seconds of playback: the film may play slower than
/// any at which readings are usually that far apart.
pub fn close_s(time_s: &[f64], config: &FindConfig) -> f64 {
    let steps: Vec<f64> = time_s.array_windows().map(|[a, b]| b - a).collect();
    let long = quantile(&steps, config.long_steps).unwrap_or(0.0);
    config.close_s.max(config.close_steps * long)
}

/// Whether a frame and both its neighbours belong together: over a gap nothing is known, and what
/// comes after it is not the mean of both sides.
fn neighbours(time_s: &[f64], close_s: f64) -> Vec<bool> {
    let mut out = vec![false; time_s.len()];
    for (k, w) in time_s.windows(3).enumerate() {
        if let [a, b, c] = w {
            out[k + 1] = b - a <= close_s && c - b <= close_s;
        }
    }
    out
}

/// Replaces single readings that jump away and back by more than `jump_rad` by the middle of their neighbours.
fn without_jumps(angle: &mut [f64], near: &[bool], jump_rad: f64) {
    for k in (1..angle.len().saturating_sub(1)).filter(|k| near[*k]) {
        let (a, b, c) = (angle[k - 1], angle[k], angle[k + 1]);
        let (there, back, across) = (wrap(b - a), wrap(c - b), wrap(c - a));
        let least = there.abs().min(back.abs());
        if least > jump_rad && across.abs() < 0.5 * least {
            angle[k] = a + across / 2.0;
        }
    }
}

/// Median of each value and its neighbours.
fn middle_of_three(v: &[f64], near: &[bool]) -> Vec<f64> {
    let mut out = v.to_vec();
    for (k, w) in v.windows(3).enumerate().filter(|w| near[w.0 + 1]) {
        if let [a, b, c] = w {
            out[k + 1] = a.max(*b).min(a.min(*b).max(*c));
        }
    }
    out
}

/// A quarter, a half, a quarter: takes out what changes sign from frame to frame, as readings of
/// plain and mirrored crops by turns do. Symmetric, so nothing moves in time.
fn calm(v: &[f64], near: &[bool]) -> Vec<f64> {
    let mut out = v.to_vec();
    for (k, w) in v.windows(3).enumerate().filter(|w| near[w.0 + 1]) {
        if let [a, b, c] = w {
            out[k + 1] = 0.25 * a + 0.5 * b + 0.25 * c;
        }
    }
    out
}

/// Share of the frames that tell a frame's own error: fewer than half of them stand still in a short clip.
const QUIET: f64 = 0.4;
/// How many standard deviations that share of a normal error's sizes is within.
const QUIET_SIGMAS: f64 = 0.5244;

/// Standard deviation of a frame's own error, from second differences (variance six times it).
fn noise(v: &[f64]) -> f64 {
    let second: Vec<f64> = v
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]).abs())
        .collect();
    quantile(&second, QUIET).unwrap_or(0.0) / (QUIET_SIGMAS * 6f64.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_reading_turned_about_is_taken_out_and_a_turn_stays() {
        let mut a: Vec<f64> = (0..20).map(|i| 0.2 * f64::from(i)).collect();
        a[7] += std::f64::consts::PI;
        let near = vec![true; 20];
        without_jumps(&mut a, &near, 0.8);
        for (i, v) in a.iter().enumerate() {
            assert!((v - 0.2 * i as f64).abs() < 1e-9, "{i}: {v}");
        }
    }

    #[test]
    fn nothing_is_smoothed_over_a_gap() {
        let near = neighbours(&[0.0, 0.02, 0.04, 1.04, 1.06, 1.08], 0.15);
        let v = [0.0, 0.0, 0.0, 8.0, 8.0, 8.0];
        assert_eq!(calm(&v, &near), v);
        assert_eq!(calm(&v, &[true; 6])[3], 6.0);
    }

    #[test]
    fn noise_is_told_from_movement() {
        let v: Vec<f64> = (0..400)
            .map(|i| (f64::from(i) / 60.0).sin() + if i % 2 == 0 { 0.01 } else { -0.01 })
            .collect();
        // Second differences of a sign that alternates are four times its size.
        assert!((noise(&v) - 0.0311).abs() < 0.003, "{}", noise(&v));
        assert!(noise(&(0..50).map(f64::from).collect::<Vec<_>>()) < 1e-9);
    }
}
