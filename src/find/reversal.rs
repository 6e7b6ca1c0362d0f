//! When a movement turns back, to a fraction of a frame.
//!
//! Near a reversal at T each coordinate follows p₀ + a₁ (t−T)² before it and p₀ + a₂ (t−T)² after
//! it. A downswing speeds up several times harder than a backswing slows down, so a smooth curve's
//! own extreme comes early; fitting both sides apart does not.

use nalgebra::{DMatrix, DVector};

use super::phases::Moment;
use crate::config::FindConfig;
use crate::math::stats::quantile;

/// One coordinate of a movement: samples (seconds, value) and the standard deviation of a value.
#[derive(Clone, Debug)]
pub struct Coordinate {
    /// Seconds and values, in order of time.
    pub samples: Vec<(f64, f64)>,
    /// Standard deviation of a value.
    pub sigma: f64,
}

/// Where and how far round the guess a reversal is fitted.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    /// Farthest from the guess, seconds.
    pub search_s: f64,
    /// Candidates on either side of the guess.
    pub search_steps: u32,
    /// Samples used before and after the candidate, seconds.
    pub before_s: f64,
    /// Samples used after the candidate, seconds.
    pub after_s: f64,
    /// How far the guess, from a smooth curve, comes early, and the spread of that, seconds.
    pub guess_early_s: f64,
    /// Spread of that, seconds.
    pub guess_sigma_s: f64,
    /// Standard deviation of the model's own time, seconds.
    pub model_sigma_s: f64,
}

impl Window {
    /// A full swing's, for tests.
    #[cfg(test)]
    pub(crate) const USUAL: Self = Self {
        search_s: 0.12,
        search_steps: 60,
        before_s: 0.22,
        after_s: 0.11,
        guess_early_s: 0.0,
        guess_sigma_s: 10.0,
        model_sigma_s: 0.004,
    };

    /// The window at a top that the movement comes near `before_s` ahead of it and leaves `after_s`
    /// later, in a downswing of `down_s`, seconds.
    pub fn at_top(before_s: f64, after_s: f64, down_s: f64, config: &FindConfig) -> Self {
        Self {
            search_s: config.top_search * down_s,
            search_steps: config.top_search_steps,
            before_s,
            after_s,
            guess_early_s: config.top_guess_early * down_s,
            guess_sigma_s: config.top_guess_sigma * down_s,
            model_sigma_s: config.top_sigma * down_s,
        }
    }
}

/// The common reversal of several coordinates. `None` where too few samples lie on either side.
pub fn fit_reversal(coordinates: &[Coordinate], guess_s: f64, window: &Window) -> Option<Moment> {
    let steps = i64::from(window.search_steps);
    let step_s = window.search_s / steps as f64;
    let weighted: Vec<(&Coordinate, Vec<f64>)> = coordinates
        .iter()
        .map(|c| (c, weights(&c.samples)))
        .collect();
    let costs: Vec<(f64, f64)> = (-steps..=steps)
        .filter_map(|k| {
            let t = guess_s + k as f64 * step_s;
            let (mut sum, mut count) = (0.0, 0.0);
            for (c, weights) in &weighted {
                if let Some((chi2, m)) = misfit(c, weights, t, window) {
                    sum += chi2;
                    count += m;
                }
            }
            let prior = ((t - guess_s - window.guess_early_s) / window.guess_sigma_s).powi(2);
            // Neighbouring samples' errors are alike: an eighth of them count.
            (count > 0.0).then(|| (t, sum / 8.0 + prior))
        })
        .collect();
    let best = (0..costs.len()).min_by(|a, b| costs[*a].1.total_cmp(&costs[*b].1))?;
    let (time_s, least) = costs[best];
    // One standard deviation: where the cost has grown by one; by more where the model fits badly.
    let samples: f64 = weighted.iter().flat_map(|(_, w)| w).sum();
    let rise = (least * 8.0 / samples.max(8.0)).max(1.0);
    let within: Vec<f64> = costs
        .iter()
        .filter(|c| c.1 <= least + rise)
        .map(|c| c.0)
        .collect();
    let half = (within.last()? - within.first()?) / 2.0;
    Some(Moment {
        time_s,
        sigma_s: window.model_sigma_s.hypot(half.min(0.4 * window.search_s)),
    })
}

/// Most close steps that a sample stands for: a sparse look's; over more nothing is known.
const MOST_STEPS: f64 = 6.0;

/// How many samples each stands for, were all as close as the closest: the time round it over the
/// least step.
fn weights(samples: &[(f64, f64)]) -> Vec<f64> {
    let steps: Vec<f64> = samples.array_windows().map(|[a, b]| b.0 - a.0).collect();
    let least = quantile(&steps, 0.1).unwrap_or(1.0).max(1e-6);
    let last = samples.len().saturating_sub(1);
    (0..samples.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            let step = (samples[b].0 - samples[a].0) / (b - a).max(1) as f64;
            // Even steps are rarely even to the last digit.
            (step / least).round().clamp(1.0, MOST_STEPS)
        })
        .collect()
}

/// Sum of squared misfits over sigma² and the number of samples that they stand for; `None` for too few.
fn misfit(c: &Coordinate, weights: &[f64], t: f64, window: &Window) -> Option<(f64, f64)> {
    let near: Vec<(f64, f64, f64)> = c
        .samples
        .iter()
        .zip(weights)
        .map(|((s, v), w)| (s - t, *v, *w))
        .filter(|(d, ..)| (-window.before_s..=window.after_s).contains(d))
        .collect();
    let after = near.iter().filter(|(d, ..)| *d > 0.0).count();
    if after < 3 || near.len() - after < 3 {
        return None;
    }
    let a = DMatrix::from_fn(near.len(), 3, |i, k| {
        let (d, _, w) = near[i];
        let term = match k {
            0 => 1.0,
            1 if d <= 0.0 => d * d,
            2 if d > 0.0 => d * d,
            _ => 0.0,
        };
        term * w.sqrt()
    });
    let y = DVector::from_iterator(near.len(), near.iter().map(|x| x.1 * x.2.sqrt()));
    let normal = a.transpose() * &a;
    let x = normal.cholesky()?.solve(&(a.transpose() * &y));
    let r = y - a * x;
    let stands_for = near.iter().map(|x| x.2).sum();
    Some((r.norm_squared() / (c.sigma * c.sigma), stands_for))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn movement(t: f64, slow: f64, fast: f64) -> Coordinate {
        let samples = (0..90)
            .map(|i| {
                let s = f64::from(i) / 60.0;
                let d = s - t;
                (s, 1.5 - if d < 0.0 { slow } else { fast } * d * d)
            })
            .collect();
        Coordinate {
            samples,
            sigma: 0.02,
        }
    }

    proptest! {
        #[test]
        fn a_lopsided_reversal_is_found_between_frames(t in 0.6..0.9f64, slow in 0.5..3.0f64, fast in 5.0..20.0f64, off in -0.08..0.08f64) {
            let found = fit_reversal(&[movement(t, slow, fast)], t + off, &Window::USUAL).expect("enough samples");
            prop_assert!((found.time_s - t).abs() < 0.004, "{found:?}");
        }
    }

    #[test]
    fn a_reversal_half_of_which_was_read_sparsely_is_found_where_it_is() {
        let mut all = movement(0.75, 1.5, 12.0);
        let mut i = 0;
        all.samples.retain(|(s, _)| {
            i += 1;
            *s > 0.65 || i % 3 == 0
        });
        let found = fit_reversal(&[all], 0.72, &Window::USUAL).expect("enough samples");
        assert!((found.time_s - 0.75).abs() < 0.004, "{found:?}");
    }

    #[test]
    fn too_few_samples_give_no_reversal() {
        let c = Coordinate {
            samples: vec![(0.0, 0.0), (0.1, 1.0)],
            sigma: 0.1,
        };
        assert_eq!(fit_reversal(&[c], 0.05, &Window::USUAL), None);
    }
}
