//! Small statistics: medians, quantiles, robust weights.

/// Median of the finite values; `None` when there are none.
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Linear-interpolated quantile (type 7 of Hyndman and Fan 1996) of the finite values.
pub fn quantile(values: &[f64], q: f64) -> Option<f64> {
    let mut v: Vec<f64> = values.iter().copied().filter(|x| x.is_finite()).collect();
    if v.is_empty() || !(0.0..=1.0).contains(&q) {
        return None;
    }
    v.sort_by(f64::total_cmp);
    let h = q * (v.len() - 1) as f64;
    let (lo, hi) = (h.floor() as usize, h.ceil() as usize);
    Some(v[lo] + (h - h.floor()) * (v[hi] - v[lo]))
}

/// The least and the largest of the finite values; `None` when there are none.
pub fn bounds(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    let finite = values.into_iter().filter(|v| v.is_finite());
    finite
        .map(|v| (v, v))
        .reduce(|(low, high), (v, _)| (low.min(v), high.max(v)))
}

/// Weight of an observation of dimension `dim` whose squared Mahalanobis distance is `d2`, under a
/// Student t distribution with `nu` degrees of freedom.
pub fn student_weight(d2: f64, dim: f64, nu: f64) -> f64 {
    (nu + dim) / (nu + d2.max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_interpolate_between_ordered_values() {
        let v = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(quantile(&v, 0.0), Some(1.0));
        assert_eq!(quantile(&v, 1.0), Some(4.0));
        assert_eq!(median(&v), Some(2.5));
        assert_eq!(median(&[f64::NAN]), None);
    }
}
