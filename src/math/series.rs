//! Values sampled at increasing times.

use nalgebra::{Matrix3, Vector3};

/// Linear interpolation of `values` at `t`; `None` outside the sampled times.
pub fn interpolate(times: &[f64], values: &[f64], t: f64) -> Option<f64> {
    let (i, f) = locate(times, t)?;
    let (a, b) = (
        *values.get(i)?,
        *values.get(i + 1).unwrap_or(values.get(i)?),
    );
    Some(a + f * (b - a))
}

/// Index of the sample at or before `t` and the fraction of the way to the next.
pub fn locate(times: &[f64], t: f64) -> Option<(usize, f64)> {
    let (first, last) = (*times.first()?, *times.last()?);
    if !t.is_finite() || t < first || t > last {
        return None;
    }
    let i = times.partition_point(|x| *x <= t).saturating_sub(1);
    match times.get(i + 1) {
        Some(next) if *next > times[i] => Some((i, (t - times[i]) / (next - times[i]))),
        _ => Some((i, 0.0)),
    }
}

/// The samples on both sides of `t` and the fraction of the way between them; `None` outside, and
/// across a gap of more than `max_gap_s`.
pub fn between(times: &[f64], t: f64, max_gap_s: f64) -> Option<(usize, usize, f64)> {
    let (i, f) = locate(times, t)?;
    let next = (i + 1).min(times.len() - 1);
    (times.get(next)? - times.get(i)? <= max_gap_s).then_some((i, next, f))
}

/// The samples from `from` to `to`, both included.
pub fn within(times: &[f64], from: f64, to: f64) -> std::ops::Range<usize> {
    let first = times.partition_point(|x| *x < from);
    first..times.partition_point(|x| *x <= to).max(first)
}

/// Index of the sample nearest to `t`; `None` for an empty series.
pub fn nearest(times: &[f64], t: f64) -> Option<usize> {
    let i = times.partition_point(|x| *x < t);
    let candidates = [i.checked_sub(1), (i < times.len()).then_some(i)];
    candidates
        .into_iter()
        .flatten()
        .min_by(|a, b| (times[*a] - t).abs().total_cmp(&(times[*b] - t).abs()))
}

/// Vertex of the parabola through three equally meant samples round an extreme: the offset of the
/// extreme from the middle sample in units of the sample step, within ±1.
pub fn parabola_vertex(before: f64, middle: f64, after: f64) -> f64 {
    let curvature = before - 2.0 * middle + after;
    if curvature.abs() < 1e-12 {
        0.0
    } else {
        (0.5 * (before - after) / curvature).clamp(-1.0, 1.0)
    }
}

/// Where the parabola of least squares through samples (place, value) is lowest. `None` for fewer than five
/// of them, or where it has no lowest place.
pub fn lowest_of_parabola(samples: &[(f64, f64)]) -> Option<f64> {
    let far = samples.iter().map(|s| s.0.abs()).fold(0.0, f64::max);
    if samples.len() < 5 || far <= 0.0 {
        return None;
    }
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for (x, y) in samples {
        let x = x / far;
        let row = Vector3::new(1.0, x, x * x);
        normal += row * row.transpose();
        right += row * *y;
    }
    let of = normal.cholesky()?.solve(&right);
    (of.z > 0.0).then(|| -0.5 * far * of.y / of.z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lowest_place_of_a_parabola_is_found_between_uneven_samples() {
        let on = |xs: &[f64], bend: f64| -> Vec<(f64, f64)> {
            xs.iter()
                .map(|x| (*x, bend * (x - 0.3).powi(2) + 2.0))
                .collect()
        };
        let xs = [-1.0, -0.4, -0.1, 0.2, 0.7];
        let lowest = lowest_of_parabola(&on(&xs, 4.0)).expect("a lowest place");
        assert!((lowest - 0.3).abs() < 1e-9, "{lowest}");
        assert_eq!(lowest_of_parabola(&on(&xs, -4.0)), None);
        assert_eq!(lowest_of_parabola(&on(&xs[..4], 4.0)), None);
        assert_eq!(lowest_of_parabola(&[(0.0, 1.0); 6]), None);
    }

    #[test]
    fn interpolation_is_exact_on_a_line_and_none_outside() {
        let t = [0.0, 1.0, 3.0];
        let v = [0.0, 2.0, 6.0];
        assert_eq!(interpolate(&t, &v, 2.0), Some(4.0));
        assert_eq!(interpolate(&t, &v, 3.0), Some(6.0));
        assert_eq!(interpolate(&t, &v, 3.1), None);
        assert_eq!(between(&t, 0.5, 1.5), Some((0, 1, 0.5)));
        assert_eq!(between(&t, 2.0, 1.5), None);
        assert_eq!(between(&t, 3.0, 1.5), Some((2, 2, 0.0)));
        assert_eq!(within(&t, 0.5, 3.0), 1..3);
        assert_eq!(within(&t, 1.5, 0.5), 2..2);
    }

    #[test]
    fn the_vertex_of_a_shifted_parabola_is_found() {
        let f = |x: f64| -(x - 0.3) * (x - 0.3);
        assert!((parabola_vertex(f(-1.0), f(0.0), f(1.0)) - 0.3).abs() < 1e-12);
    }
}
