//! In: differences or pairs of readings. Out: bias, limits of agreement, ICC, CMC, coverage, each
//! with its interval, or `None` where there is too little to say.

mod bland_altman;
mod coverage;
mod icc;
mod waveform;

pub use bland_altman::{Interval, LIMIT_FACTOR, Limits, clustered, simple};
pub use coverage::{Coverage, coverage};
pub use icc::{Icc, icc_a1};
pub use waveform::cmc;

/// Quantile of Student's t.
pub(crate) fn t_quantile(p: f64, df: f64) -> Option<f64> {
    use statrs::distribution::{ContinuousCDF, StudentsT};
    Some(StudentsT::new(0.0, 1.0, df).ok()?.inverse_cdf(p)).filter(|v| v.is_finite())
}

pub(crate) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Sample standard deviation; `None` for fewer than two values.
pub(crate) fn sd(values: &[f64]) -> Option<f64> {
    let m = mean(values)?;
    let n = values.len();
    (n > 1).then(|| (values.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt())
}
