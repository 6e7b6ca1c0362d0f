//! What one or two views together tell of a segment, and how sure.
//!
//! A view errs in each angle by something that lasts the whole swing: an offset, a slope a radian of
//! turn from address, and bends that come back whenever the turn does; and by something that lasts
//! about a tenth of a second. All are in the network's own standard deviations, with spreads that
//! were learnt ([`Spread`]). The difference of two views over the whole swing tells of what lasts (a
//! Kalman update of its parts, one node of the curve after another), and the learnt spreads say whose
//! it is. What is left is averaged by the weights of what passes. Angles of two moments share their
//! lasting errors, so the covariance of any two moments is kept, not variances alone.

use nalgebra::{Rotation3, SMatrix, SVector};

use super::view_curve::ViewCurve;
use crate::config::{BodyConfig, Learned, Segment, SegmentAngle, Spread};
use crate::math::rotation::{SegmentAngles, wrap};

/// Turns from address round which a view's error may bend, radians: its bends are hats from one of
/// them to the next. A thorax goes from 2 at the top to -2 at the finish.
const BENDS: [f64; 5] = [-1.6, -0.8, 0.0, 0.8, 1.6];
/// Parts of a view's lasting error: offset, slope, bends.
const PARTS: usize = 2 + BENDS.len();
/// Parts of two views.
const ALL: usize = 2 * PARTS;
type Parts = SVector<f64, ALL>;

/// The lasting errors of one angle: the parts of view 0, then of view 1.
#[derive(Clone, Debug)]
struct Lasting {
    mean: Parts,
    covariance: SMatrix<f64, ALL, ALL>,
    noise: [f64; 2],
}

/// How much of each bend there is at a turn from address: hats that sum to 1.
fn bends(turn: f64) -> [f64; BENDS.len()] {
    let mut out = [0.0; BENDS.len()];
    let step = BENDS[1] - BENDS[0];
    let at = ((turn - BENDS[0]) / step).clamp(0.0, (BENDS.len() - 1) as f64);
    let i = (at as usize).min(BENDS.len() - 2);
    out[i + 1] = at - i as f64;
    out[i] = 1.0 - out[i + 1];
    out
}

/// A segment as all views see it.
#[derive(Clone, Debug)]
pub struct Belief {
    /// Each view's own curve, in the views' order.
    pub curves: Vec<ViewCurve>,
    /// Turn, side bend, forward bend: before and after the views were compared.
    prior: [Lasting; 3],
    lasting: [Lasting; 3],
    config: BodyConfig,
}

impl Belief {
    /// From each view's own curve; `from_s`: about the takeaway, from which turns count, seconds.
    pub fn new(
        curves: Vec<ViewCurve>,
        segment: Segment,
        from_s: f64,
        learned: &Learned,
        config: &BodyConfig,
    ) -> Self {
        let prior = SegmentAngle::ALL.map(|angle| {
            let spreads: Vec<Spread> = curves
                .iter()
                .map(|c| learned.spread(c.role, segment, angle))
                .collect();
            Lasting::prior(&spreads, learned.alike(segment, angle))
        });
        let mut belief = Self {
            curves,
            lasting: prior.clone(),
            prior,
            config: config.clone(),
        };
        if belief.curves.len() == 2 {
            for k in 0..3 {
                belief.compare(k, from_s);
            }
        }
        belief
    }

    /// The views' difference of angle `k`, view 0 less view 1, radians; `None` where one is missing.
    pub fn difference(&self, k: usize, t: f64) -> Option<f64> {
        let [a, b] = self.curves.as_slice() else {
            return None;
        };
        Some(wrap(a.angles_at(t)?[k] - b.angles_at(t)?[k]))
    }

    /// Learns of the lasting errors from the views' difference over the swing.
    fn compare(&mut self, k: usize, from_s: f64) {
        // Nodes this close are alike: each counts as a part of one.
        let (before_s, node_s) = (self.config.compare_before_s, self.config.compare_every_s);
        let repeat = (2.0 * self.config.alike_s / node_s).max(1.0);
        // A whole number of steps at any pace, which rounding must not make one less or more.
        let nodes = ((before_s + self.config.compare_after_s) / node_s - 1e-6) as usize;
        for i in 0..=nodes {
            let t = from_s - before_s + i as f64 * node_s;
            let Some(difference) = self.difference(k, t) else {
                continue;
            };
            let (h0, h1) = (self.row(k, 0, t), self.row(k, 1, t));
            let noise = (0..2)
                .map(|v| (self.lasting[k].noise[v] * self.curves[v].sigma_at(k, t)).powi(2))
                .sum::<f64>()
                .max(1e-10);
            self.lasting[k].update(&(h0 - h1), difference, noise * repeat);
        }
    }

    /// What a unit of each lasting error moves angle `k` of `view` by at `t`.
    fn row(&self, k: usize, view: usize, t: f64) -> Parts {
        let mut row = Parts::zeros();
        if let Some(curve) = self.curves.get(view) {
            let (first, turn) = (PARTS * view, curve.turn_at(t));
            row[first] = 1.0;
            row[first + 1] = turn;
            for (i, b) in bends(turn).into_iter().enumerate() {
                row[first + 2 + i] = b;
            }
            row *= curve.sigma_at(k, t);
        }
        row
    }

    /// Weight of each view at `t`, together 1; `None` where no view sees the segment.
    pub fn weights(&self, k: usize, t: f64) -> Option<[f64; 2]> {
        let mut w = [0.0; 2];
        for (v, (curve, w)) in self.curves.iter().zip(&mut w).enumerate() {
            let Some(depth) = curve.depth(t) else {
                continue;
            };
            let noise = (self.lasting[k].noise[v] * curve.sigma_at(k, t)).max(1e-4);
            *w = (depth / self.config.fade_s).clamp(1e-3, 1.0) / (noise * noise);
        }
        let sum = w[0] + w[1];
        (sum > 0.0).then(|| w.map(|w| w / sum))
    }

    /// Turn, side and forward bend by all views, radians.
    pub fn angles(&self, t: f64) -> Option<[f64; 3]> {
        let seen: Vec<Option<[f64; 3]>> = self.curves.iter().map(|c| c.angles_at(t)).collect();
        let base = *seen.iter().flatten().next()?;
        let mut out = [0.0; 3];
        for (k, out) in out.iter_mut().enumerate() {
            let w = self.weights(k, t)?;
            let sum: f64 = seen
                .iter()
                .enumerate()
                .filter_map(|(v, angles)| {
                    let own = (*angles)?[k];
                    let lasting = self.row(k, v, t).dot(&self.lasting[k].mean);
                    Some(w[v] * (wrap(own - base[k]) - lasting))
                })
                .sum();
            *out = wrap(base[k] + sum);
        }
        Some(out)
    }

    /// `world_from_segment` by all views; `None` where none sees the segment.
    pub fn rotation(&self, t: f64) -> Option<Rotation3<f64>> {
        let [turn, side, forward] = self.angles(t)?;
        Some(
            SegmentAngles {
                turn,
                side,
                forward,
            }
            .compose(),
        )
    }

    /// Covariance of the errors of angle `k` at two times, rad².
    pub fn covariance(&self, k: usize, t: f64, u: f64) -> Option<f64> {
        let (wt, wu) = (self.weights(k, t)?, self.weights(k, u)?);
        let combined = |w: [f64; 2], at: f64| {
            (0..self.curves.len()).fold(Parts::zeros(), |sum, v| sum + self.row(k, v, at) * w[v])
        };
        let lasting = &self.lasting[k];
        let slow = (combined(wt, t).transpose() * lasting.covariance * combined(wu, u))[0];
        let alike = (-(t - u).abs() / self.config.alike_s).exp();
        let fast: f64 = self
            .curves
            .iter()
            .enumerate()
            .map(|(v, c)| {
                let n = lasting.noise[v];
                wt[v] * wu[v] * n * n * c.sigma_at(k, t) * c.sigma_at(k, u)
            })
            .sum();
        Some(slow + fast * alike)
    }

    /// Variance of angle `k` at `t`, rad².
    pub fn variance(&self, k: usize, t: f64) -> Option<f64> {
        self.covariance(k, t, t)
    }

    /// Variance of angle `k` at `t` less its mean over `since`, rad².
    pub fn variance_since(&self, k: usize, t: f64, since: &[f64]) -> Option<f64> {
        let n = since.len() as f64;
        if since.is_empty() {
            return None;
        }
        let mut then = 0.0;
        let mut both = 0.0;
        for a in since {
            both += self.covariance(k, t, *a)?;
            for b in since {
                then += self.covariance(k, *a, *b)?;
            }
        }
        Some((self.variance(k, t)? + then / (n * n) - 2.0 * both / n).max(0.0))
    }

    /// The views' difference of angle `k` at `t`, less its mean over `since` (nothing taken off where
    /// that is empty), and the standard deviation that the learnt spreads give it. Radians.
    pub fn view_inconsistency(&self, k: usize, t: f64, since: &[f64]) -> Option<(f64, f64)> {
        let prior = &self.prior[k];
        let row = |t: f64| self.row(k, 0, t) - self.row(k, 1, t);
        let noise = |t: f64| -> f64 {
            (0..2)
                .map(|v| Some((prior.noise[v] * self.curves.get(v)?.sigma_at(k, t)).powi(2)))
                .sum::<Option<f64>>()
                .unwrap_or(0.0)
        };
        let (mut d, mut h, mut fast) = (self.difference(k, t)?, row(t), noise(t));
        let then: Vec<(f64, f64)> = since
            .iter()
            .filter_map(|s| Some((*s, self.difference(k, *s)?)))
            .collect();
        let n = then.len() as f64;
        for (s, difference) in &then {
            d -= difference / n;
            h -= row(*s) / n;
            fast += noise(*s) / n;
        }
        let slow = (h.transpose() * prior.covariance * h)[0];
        Some((d, (slow + fast).max(1e-8).sqrt()))
    }

    /// The views' difference of angle `k` at `t` over the standard deviation that the network gives it:
    /// how far apart they are before anything learnt is asked.
    pub fn inconsistency_by_network(&self, k: usize, t: f64) -> Option<f64> {
        let variance: f64 = self.curves.iter().map(|c| c.sigma_at(k, t).powi(2)).sum();
        Some(self.difference(k, t)?.abs() / variance.max(1e-8).sqrt())
    }

    /// Variance for what the views differ by beyond what their spreads allow, rad²: one of them
    /// errs by the rest, and either may be the one, each with its weight.
    pub fn excess(&self, k: usize, t: f64, since: &[f64]) -> f64 {
        let (Some((d, s)), Some(w)) = (self.view_inconsistency(k, t, since), self.weights(k, t))
        else {
            return 0.0;
        };
        (d * d - s * s).max(0.0) * (w[0] * w[0] + w[1] * w[1]) / 2.0
    }
}

impl Lasting {
    fn prior(spreads: &[Spread], alike: (f64, f64)) -> Self {
        let mut prior = Self {
            mean: Parts::zeros(),
            covariance: SMatrix::zeros(),
            noise: [0.0; 2],
        };
        let sigma =
            |s: &Spread, part: usize| [s.offset, s.slope].get(part).copied().unwrap_or(s.bend);
        for (v, s) in spreads.iter().take(2).enumerate() {
            prior.noise[v] = s.noise;
            for part in 0..PARTS {
                let at = PARTS * v + part;
                prior.covariance[(at, at)] = sigma(s, part).powi(2);
            }
        }
        if let [a, b] = spreads {
            for part in 0..PARTS {
                let correlation = if part == 0 { alike.0 } else { alike.1 };
                let shared = correlation * sigma(a, part) * sigma(b, part);
                prior.covariance[(part, PARTS + part)] = shared;
                prior.covariance[(PARTS + part, part)] = shared;
            }
        }
        prior
    }

    /// A Kalman update by `seen` = row · errors + noise.
    fn update(&mut self, row: &Parts, seen: f64, noise: f64) {
        let spread = self.covariance * row;
        let s = row.dot(&spread) + noise;
        let gain = spread / s;
        self.mean += gain * (seen - row.dot(&self.mean));
        self.covariance -= gain * spread.transpose();
    }
}
