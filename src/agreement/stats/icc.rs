//! ICC(A,1): two-way, absolute agreement, single reading (McGraw and Wong 1996, Psychol Methods
//! 1:30–46), between our reading and the sensor's.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// ICC(A,1) with its 95 % interval; 1 is perfect agreement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Icc {
    /// The coefficient.
    pub value: f64,
    /// Low end of the interval.
    pub low: f64,
    /// High end of the interval.
    pub high: f64,
    /// Pairs of readings.
    pub n: usize,
}

/// `None` for fewer than three pairs, or where the readings don't vary.
pub fn icc_a1(pairs: &[(f64, f64)]) -> Option<Icc> {
    let n = pairs.len();
    if n < 3 {
        return None;
    }
    let nf = n as f64;
    let k = 2.0;
    let grand = pairs.iter().map(|(a, b)| a + b).sum::<f64>() / (k * nf);
    let rows = pairs.iter().map(|(a, b)| (a + b) / k);
    let ssr = k * rows.map(|m| (m - grand).powi(2)).sum::<f64>();
    let a = pairs.iter().map(|p| p.0).sum::<f64>() / nf;
    let b = pairs.iter().map(|p| p.1).sum::<f64>() / nf;
    let ssc = nf * ((a - grand).powi(2) + (b - grand).powi(2));
    let sst: f64 = pairs
        .iter()
        .map(|(a, b)| (a - grand).powi(2) + (b - grand).powi(2))
        .sum();
    let msr = ssr / (nf - 1.0);
    let msc = ssc / (k - 1.0);
    let mse = ((sst - ssr - ssc) / ((nf - 1.0) * (k - 1.0))).max(0.0);
    if mse <= 0.0 || msr <= 0.0 {
        return None;
    }
    let value = (msr - mse) / (msr + (k - 1.0) * mse + k * (msc - mse) / nf);
    let f = msc / mse;
    let part = nf * (1.0 + (k - 1.0) * value) - k * value;
    let top = (k - 1.0) * (nf - 1.0) * (k * value * f + part).powi(2);
    let bottom = (nf - 1.0) * (k * value * f).powi(2) + part.powi(2);
    let v = top / bottom;
    let upper = FisherSnedecor::new(nf - 1.0, v).ok()?.inverse_cdf(0.975);
    let lower = FisherSnedecor::new(v, nf - 1.0).ok()?.inverse_cdf(0.975);
    let mixed = k * msc + (k * nf - k - nf) * mse;
    let low = nf * (msr - upper * mse) / (upper * mixed + nf * msr);
    let high = nf * (lower * msr - mse) / (mixed + nf * lower * msr);
    (value.is_finite() && low.is_finite() && high.is_finite()).then_some(Icc {
        value,
        low,
        high,
        n,
    })
}
