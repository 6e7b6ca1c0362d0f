//! The spread from swing to swing with the measurement's own variance taken off.
//!
//! Readings y with own error variances v scatter by v + σ². Q(σ²) = Σ (y − ȳ)² / (v + σ²), ȳ weighted
//! alike, follows χ² with n − 1 degrees of freedom at the true σ. Where Q is n − 1 lies the estimate (Paule
//! and Mandel 1982, doi 10.6028/jres.087.022), where it is the quantiles of χ² the interval's ends
//! (Viechtbauer 2007, doi 10.1002/sim.2514). For equal v this is the χ² interval of a variance less v.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::reading::{Share, SwingValue};
use crate::interval::Ranged;

/// Variance that every reading has at least: numbers are told in whole degrees at best.
const FLOOR: f64 = 1e-4;

/// Σ w (y − ȳ)² with w = 1 / (v + σ²).
fn q(values: &[f64], own: &[f64], variance: f64) -> f64 {
    let weights: Vec<f64> = own
        .iter()
        .map(|v| 1.0 / (v.max(FLOOR) + variance))
        .collect();
    let total: f64 = weights.iter().sum();
    let mean = values.iter().zip(&weights).map(|(y, w)| y * w).sum::<f64>() / total;
    values
        .iter()
        .zip(&weights)
        .map(|(y, w)| w * (y - mean).powi(2))
        .sum()
}

/// The variance at which Q comes down to `goal`; 0 where it lies below it from the start.
fn solve(values: &[f64], own: &[f64], goal: f64) -> f64 {
    if q(values, own, 0.0) <= goal {
        return 0.0;
    }
    let mut high = 1.0;
    while q(values, own, high) > goal && high < 1e12 {
        high *= 4.0;
    }
    let mut low = 0.0;
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if q(values, own, middle) > goal {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// The variance between, its estimate and 95 % interval. `own` are the error variances of the values, and
/// may be given otherwise for the two ends. `None` for fewer than two values.
pub fn between_variance(
    values: &[f64],
    own: &[f64],
    own_most: &[f64],
    own_least: &[f64],
) -> Option<Ranged> {
    let df = values.len().checked_sub(1).filter(|d| *d > 0)? as f64;
    let chi = ChiSquared::new(df).ok()?;
    let value = solve(values, own, df);
    Some(Ranged {
        value,
        low: solve(values, own_most, chi.inverse_cdf(0.975)).min(value),
        high: solve(values, own_least, chi.inverse_cdf(0.025)).max(value),
    })
}

/// The standard deviation from swing to swing with its interval. `None` for fewer than two.
pub fn spread(readings: &[SwingValue], share: Share) -> Option<Ranged> {
    let values: Vec<f64> = readings.iter().map(|r| r.value).collect();
    let own = |shared: f64| -> Vec<f64> {
        readings
            .iter()
            .map(|r| (1.0 - shared) * r.variance())
            .collect()
    };
    let found = between_variance(
        &values,
        &own(share.likely),
        &own(share.low),
        &own(share.high),
    )?;
    // Readings that scatter by less than their errors say that the errors were taken too large, not that the
    // swings were one: then all of the scatter may be the swings'.
    let all = vec![0.0; values.len()];
    let most = match found.high {
        high if high > 0.0 => high,
        _ => between_variance(&values, &all, &all, &all)?.high,
    };
    Some(Ranged {
        value: found.value.sqrt(),
        low: found.low.sqrt(),
        high: most.sqrt(),
    })
}

/// Second spread less first, by the method of variance estimates recovery (Zou and Donner 2008, doi
/// 10.1002/sim.3095).
pub fn difference(first: Ranged, second: Ranged) -> Ranged {
    let value = second.value - first.value;
    Ranged {
        value,
        low: value - (second.value - second.low).hypot(first.high - first.value),
        high: value + (second.high - second.value).hypot(first.value - first.low),
    }
}
