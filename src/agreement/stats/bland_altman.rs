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

/// A 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Its low end.
    pub low: f64,
    /// Its high end.
    pub high: f64,
}

impl Interval {
    /// So much to either side.
    fn around(centre: f64, half: f64) -> Self {
        Self {
            low: centre - half,
            high: centre + half,
        }
    }
}

/// Agreement of one measure. Units are those of the differences. One reading or one cluster tells
/// the bias, and no spread.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Limits {
    /// Readings.
    pub n: usize,
    /// Clusters (players, or swings for curves); equal to `n` in the simple form.
    pub clusters: usize,
    /// Mean difference.
    pub bias: f64,
    /// Its 95 % interval; `None` where one reading or one cluster is all there is.
    pub bias_interval: Option<Interval>,
    /// Standard deviation of a single difference. `None` for n = 1.
    pub sd: Option<f64>,
    /// Lower limit of agreement.
    pub low: Option<f64>,
    /// Upper limit of agreement.
    pub high: Option<f64>,
    /// 95 % interval of the lower limit.
    pub low_interval: Option<Interval>,
    /// 95 % interval of the upper limit.
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
        ..Limits::default()
    };
    let Some(s) = sd(differences) else {
        return Some(limits);
    };
    let t = t_quantile(0.975, (n - 1) as f64)?;
    let (low, high) = (bias - factor * s, bias + factor * s);
    let limit_half = t * (3.0 * s * s / n as f64).sqrt();
    limits.bias_interval = Some(Interval::around(bias, t * s / (n as f64).sqrt()));
    limits.sd = Some(s);
    (limits.low, limits.high) = (Some(low), Some(high));
    limits.low_interval = Some(Interval::around(low, limit_half));
    limits.high_interval = Some(Interval::around(high, limit_half));
    Some(limits)
}

/// The clustered form: differences grouped by player (or by swing). The bias is the mean of the
/// clusters' means, so that a player with many swings doesn't outweigh the others.
pub fn clustered(groups: &[Vec<f64>]) -> Option<Limits> {
    let groups: Vec<&Vec<f64>> = groups.iter().filter(|g| !g.is_empty()).collect();
    let all: Vec<f64> = groups.iter().flat_map(|g| g.iter().copied()).collect();
    let (k, n) = (groups.len(), all.len());
    if k == n {
        return simple(&all, LIMIT_FACTOR);
    }
    let means: Vec<f64> = groups.iter().filter_map(|g| mean(g)).collect();
    let bias = mean(&means)?;
    let mut limits = Limits {
        n,
        clusters: k,
        bias,
        ..Limits::default()
    };
    let Some(between) = sd(&means).map(|s| s * s) else {
        return Some(limits);
    };
    let within_df = (n - k) as f64;
    let within = groups
        .iter()
        .zip(&means)
        .flat_map(|(g, m)| g.iter().map(move |v| (v - m).powi(2)))
        .sum::<f64>()
        / within_df;
    let harmonic = k as f64 / groups.iter().map(|g| 1.0 / g.len() as f64).sum::<f64>();
    let within_share = (1.0 - 1.0 / harmonic) * within;
    let total = between + within_share;
    let s = total.sqrt();
    let df = (k - 1) as f64;
    let t = t_quantile(0.975, df)?;
    let half = t * (between / k as f64).sqrt();
    limits.bias_interval = Some(Interval::around(bias, half));
    limits.sd = Some(s);
    let (low, high) = (bias - LIMIT_FACTOR * s, bias + LIMIT_FACTOR * s);
    (limits.low, limits.high) = (Some(low), Some(high));
    // Intervals of the two variances, combined on the variance scale, then with the bias's.
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

/// How far a variance's 95 % interval reaches below and above it, as shares of it.
fn variance_factors(df: f64) -> Option<(f64, f64)> {
    let chi = ChiSquared::new(df).ok()?;
    let (low, high) = (chi.inverse_cdf(0.025), chi.inverse_cdf(0.975));
    (low > 0.0 && high.is_finite()).then(|| (1.0 - df / high, df / low - 1.0))
}
