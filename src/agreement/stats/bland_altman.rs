//! Bias and 95 % limits of agreement, with 95 % confidence intervals.
//!
//! Simple form: Bland and Altman 1986 (Lancet i:307–310), limits d̄ ± 1.96 s, standard error of a
//! limit √(3 s²/n). Clustered form, for several readings of one player: the variance of a single
//! difference is that between players plus that within one (Bland and Altman 2007, J Biopharm
//! Stat 17:571–582), and the limits' intervals are by recovery of variances (Zou 2013, Stat
//! Methods Med Res 22:630–642).

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{mean, sd, t_quantile};

/// Standard deviations on each side of the bias.
pub const LIMIT_FACTOR: f64 = 1.96;

#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

/// Agreement of one measure. Units are those of the differences.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limits {
    /// Readings.
    pub n: usize,
    /// Clusters (players, or swings for curves); equal to `n` in the simple form.
    pub clusters: usize,
    pub bias: f64,
    pub bias_interval: Option<Interval>,
    /// Standard deviation of a single difference. `None` for n = 1.
    pub sd: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub low_interval: Option<Interval>,
    pub high_interval: Option<Interval>,
}

/// The simple form: every difference is independent. `factor` is [`LIMIT_FACTOR`] in use; the
/// 1986 paper's own example takes 2.
pub fn simple(differences: &[f64], factor: f64) -> Option<Limits> {
    let bias = mean(differences)?;
    let n = differences.len();
    let mut limits = Limits {
        n,
        clusters: n,
        bias,
        bias_interval: None,
        sd: None,
        low: None,
        high: None,
        low_interval: None,
        high_interval: None,
    };
    let Some(s) = sd(differences) else {
        return Some(limits);
    };
    let t = t_quantile(0.975, (n - 1) as f64)?;
    let around = |centre: f64, half: f64| {
        Some(Interval {
            low: centre - half,
            high: centre + half,
        })
    };
    let (low, high) = (bias - factor * s, bias + factor * s);
    let limit_half = t * (3.0 * s * s / n as f64).sqrt();
    limits.bias_interval = around(bias, t * s / (n as f64).sqrt());
    limits.sd = Some(s);
    (limits.low, limits.high) = (Some(low), Some(high));
    limits.low_interval = around(low, limit_half);
    limits.high_interval = around(high, limit_half);
    Some(limits)
}

/// The clustered form: differences grouped by player (or by swing). The bias is the mean of the
/// clusters' means, so that a player with many swings doesn't outweigh the others.
pub fn clustered(groups: &[Vec<f64>]) -> Option<Limits> {
    if groups.iter().all(|g| g.len() <= 1) {
        let all: Vec<f64> = groups.iter().flatten().copied().collect();
        return simple(&all, LIMIT_FACTOR);
    }
    let sizes: Vec<f64> = groups.iter().map(|g| g.len() as f64).collect();
    clustered_serial(groups, &sizes)
}

/// The clustered form for readings that hang together in time: `worth` tells how many independent
/// readings each group is worth.
pub fn clustered_serial(groups: &[Vec<f64>], worth: &[f64]) -> Option<Limits> {
    let groups: Vec<(&Vec<f64>, f64)> = groups
        .iter()
        .zip(worth)
        .filter(|(g, _)| !g.is_empty())
        .map(|(g, w)| (g, w.clamp(1.0, g.len() as f64)))
        .collect();
    let k = groups.len();
    let means: Vec<f64> = groups.iter().filter_map(|(g, _)| mean(g)).collect();
    let bias = mean(&means)?;
    let mut limits = Limits {
        n: groups.iter().map(|(g, _)| g.len()).sum(),
        clusters: k,
        bias,
        bias_interval: None,
        sd: None,
        low: None,
        high: None,
        low_interval: None,
        high_interval: None,
    };
    let Some(seen) = sd(&means).map(|s| s * s) else {
        return Some(limits);
    };
    let squares: f64 = groups
        .iter()
        .zip(&means)
        .flat_map(|((g, _), m)| g.iter().map(move |v| (v - m).powi(2)))
        .sum();
    // A group's own mean takes up the share 1 / worth of its variance.
    let free: f64 = groups
        .iter()
        .map(|(g, w)| g.len() as f64 * (1.0 - 1.0 / w))
        .sum();
    let within = if free > 0.0 { squares / free } else { 0.0 };
    let harmonic = k as f64 / groups.iter().map(|(_, w)| 1.0 / w).sum::<f64>();
    // Means can't be known better than their groups' own scatter allows: few groups may lie
    // close together by chance.
    let between = seen.max(within / harmonic);
    let within_share = (1.0 - 1.0 / harmonic) * within;
    let total = between + within_share;
    let s = total.sqrt();
    let df = (k - 1) as f64;
    let t = t_quantile(0.975, df)?;
    let half = t * (between / k as f64).sqrt();
    limits.bias_interval = Some(Interval {
        low: bias - half,
        high: bias + half,
    });
    limits.sd = Some(s);
    let (low, high) = (bias - LIMIT_FACTOR * s, bias + LIMIT_FACTOR * s);
    (limits.low, limits.high) = (Some(low), Some(high));
    // Intervals of the two variances, combined on the variance scale, then with the bias's.
    let within_df = groups.iter().map(|(_, w)| w - 1.0).sum::<f64>().max(0.5);
    let (b_down, b_up) = variance_factors(df)?;
    let (w_down, w_up) = variance_factors(within_df)?;
    let down = (between * b_down).hypot(within_share * w_down);
    let up = (between * b_up).hypot(within_share * w_up);
    let s_low = (total - down).max(0.0).sqrt();
    let s_high = (total + up).sqrt();
    let inner = half.hypot(LIMIT_FACTOR * (s - s_low));
    let outer = half.hypot(LIMIT_FACTOR * (s_high - s));
    limits.high_interval = Some(Interval {
        low: high - inner,
        high: high + outer,
    });
    limits.low_interval = Some(Interval {
        low: low - outer,
        high: low + inner,
    });
    Some(limits)
}

/// How many independent readings a series is worth, from the correlation of neighbours:
/// n (1 − ρ) / (1 + ρ), as for a first-order autoregressive series.
pub fn independent_worth(series: &[f64]) -> f64 {
    let n = series.len() as f64;
    let Some(m) = mean(series) else { return 0.0 };
    let whole: f64 = series.iter().map(|v| (v - m).powi(2)).sum();
    let neighbours: f64 = series
        .windows(2)
        .filter_map(|w| Some((w.first()? - m) * (w.get(1)? - m)))
        .sum();
    if whole <= 0.0 {
        return 1.0;
    }
    let rho = (neighbours / whole).clamp(0.0, 0.999);
    (n * (1.0 - rho) / (1.0 + rho)).clamp(1.0, n.max(1.0))
}

/// How far a variance's 95 % interval reaches below and above it, as shares of it.
fn variance_factors(df: f64) -> Option<(f64, f64)> {
    let chi = ChiSquared::new(df).ok()?;
    let (low, high) = (chi.inverse_cdf(0.025), chi.inverse_cdf(0.975));
    (low > 0.0 && high.is_finite()).then(|| (1.0 - df / high, df / low - 1.0))
}
