//! The mean of a set's swings, and the difference of two such means, with 95 % intervals.
//!
//! Model: reading = player's mean + what this swing does otherwise + the session's error + this
//! reading's own error. The session's error is one and the same in every swing of a session, so that
//! it does not average away: var(mean) = shared + s² / n. The variance s² of the readings holds what the
//! swings do otherwise and their own errors; it is never taken to be less than the own errors alone.
//! The shared part is known from calibration, s² from n − 1 swings: degrees of freedom by Welch (1947,
//! doi 10.1093/biomet/34.1-2.28) and Satterthwaite (1946, doi 10.2307/3002019).

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::reading::{Share, SwingValue};
use crate::interval::Ranged;

/// Largest degrees of freedom told apart from infinitely many.
const MANY: f64 = 1e6;

/// The two-sided 95 % quantile of Student's t.
pub fn t95(df: f64) -> f64 {
    StudentsT::new(0.0, 1.0, df.clamp(1.0, MANY)).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975))
}

/// The interval of an estimate whose variance is a sum of known parts and parts that were estimated
/// with so many degrees of freedom: (variance, degrees of freedom; infinite where known).
pub fn interval(value: f64, parts: &[(f64, f64)]) -> Ranged {
    let variance: f64 = parts.iter().map(|p| p.0).sum();
    let spent: f64 = parts
        .iter()
        .filter(|p| p.1.is_finite() && p.1 > 0.0)
        .map(|p| p.0 * p.0 / p.1)
        .sum();
    let df = if spent > 0.0 {
        variance * variance / spent
    } else {
        MANY
    };
    let half = t95(df) * variance.max(0.0).sqrt();
    Ranged::around(value, half)
}

/// What a set's readings give for its mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Number of readings.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Their variance; `None` for one.
    pub s2: Option<f64>,
    /// The mean variance of one reading's error.
    pub error: f64,
}

impl Summary {
    /// `None` without any reading.
    pub fn of(readings: &[SwingValue]) -> Option<Self> {
        let n = readings.len();
        if n == 0 {
            return None;
        }
        let of = |f: &dyn Fn(&SwingValue) -> f64| readings.iter().map(f).sum::<f64>() / n as f64;
        let mean = of(&|r| r.value);
        let squares = n as f64 * of(&|r| (r.value - mean).powi(2));
        Some(Self {
            n,
            mean,
            s2: (n > 1).then(|| squares / (n - 1) as f64),
            error: of(&|r| r.variance()),
        })
    }

    /// Variance from swing to swing with the readings' own errors, at least those; with its degrees of freedom.
    fn own(&self, share: f64) -> (f64, f64) {
        let floor = (1.0 - share) * self.error;
        match self.s2 {
            Some(s2) if s2 > floor => (s2, (self.n - 1) as f64),
            _ => (floor, f64::INFINITY),
        }
    }
}

/// The mean over many such swings. For one swing, that swing's own value.
pub fn mean(readings: &[SwingValue], share: Share) -> Option<Ranged> {
    let s = Summary::of(readings)?;
    let Some(_) = s.s2 else {
        return Some(interval(s.mean, &[(s.error, f64::INFINITY)]));
    };
    // More shared is less favourable to a mean.
    let (own, df) = s.own(share.high);
    let n = s.n as f64;
    Some(interval(
        s.mean,
        &[(share.high * s.error, f64::INFINITY), (own / n, df)],
    ))
}

/// Where the readings of two sets come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sessions {
    /// One session: the shared error is the same in both and goes out of the difference.
    One,
    /// Two sessions: each has its own.
    Two,
}

/// The parts of the variance of the difference of two means, with `n` swings in each set in place of
/// those there are, if given. A set of one swing borrows the other's variance.
fn parts(
    a: &Summary,
    b: &Summary,
    share: Share,
    sessions: Sessions,
    n: Option<usize>,
) -> Vec<(f64, f64)> {
    let shared = match sessions {
        Sessions::One => share.low,
        Sessions::Two => share.high,
    };
    let mut out = Vec::new();
    for (own, other) in [(a, b), (b, a)] {
        let source = if own.s2.is_some() { own } else { other };
        let (mut variance, mut df) = source.own(shared);
        // The borrowed one must not be less than its own errors.
        let floor = (1.0 - shared) * own.error;
        if variance < floor {
            (variance, df) = (floor, f64::INFINITY);
        }
        let count = n.unwrap_or(own.n);
        if df.is_finite() && n.is_some() {
            df = (count - 1) as f64;
        }
        out.push((variance / count as f64, df));
        if sessions == Sessions::Two {
            out.push((shared * own.error, f64::INFINITY));
        }
    }
    out
}

/// Second mean less first. `None` where one of the sets has no reading.
pub fn difference(
    first: &[SwingValue],
    second: &[SwingValue],
    share: Share,
    sessions: Sessions,
) -> Option<Ranged> {
    let (a, b) = (Summary::of(first)?, Summary::of(second)?);
    Some(interval(
        b.mean - a.mean,
        &parts(&a, &b, share, sessions, None),
    ))
}

/// How many swings each of the two sets would need, `most` at the most, for the difference's half-width to
/// come down to `half`, if the swings go on as they were; `None` where no such number would do.
pub fn needed(
    (first, second): (&[SwingValue], &[SwingValue]),
    share: Share,
    sessions: Sessions,
    half: f64,
    most: usize,
) -> Option<usize> {
    let (a, b) = (Summary::of(first)?, Summary::of(second)?);
    (2..=most).find(|n| {
        let told = interval(0.0, &parts(&a, &b, share, sessions, Some(*n)));
        told.high <= half
    })
}
