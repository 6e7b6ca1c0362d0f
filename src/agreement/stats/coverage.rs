//! Share of sensor readings inside our 95 % intervals, with its own interval.

use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF};

use super::Interval;

/// How many readings lie inside.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Coverage {
    /// `inside` over `n`.
    pub share: f64,
    /// Readings inside.
    pub inside: usize,
    /// All readings.
    pub n: usize,
    /// Clopper–Pearson, for independent readings; `None` over curves, whose instants are not.
    pub interval: Option<Interval>,
}

/// `independent`: whether the readings may be counted as separate trials.
pub fn coverage(inside: &[bool], independent: bool) -> Option<Coverage> {
    let n = inside.len();
    if n == 0 {
        return None;
    }
    let k = inside.iter().filter(|i| **i).count();
    let edge = |p: f64, a: f64, b: f64| Beta::new(a, b).ok().map(|d| d.inverse_cdf(p));
    let (kf, nf) = (k as f64, n as f64);
    let low = if k == 0 {
        Some(0.0)
    } else {
        edge(0.025, kf, nf - kf + 1.0)
    };
    let high = if k == n {
        Some(1.0)
    } else {
        edge(0.975, kf + 1.0, nf - kf)
    };
    let interval = match (low, high) {
        (Some(low), Some(high)) if independent => Some(Interval { low, high }),
        _ => None,
    };
    Some(Coverage {
        share: kf / nf,
        inside: k,
        n,
        interval,
    })
}
