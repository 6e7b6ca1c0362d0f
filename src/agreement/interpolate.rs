//! Values between samples, and speed, of series with gaps and uneven times.

use crate::math::series::within;

/// Between neighbours farther apart than this, seconds, nothing is interpolated: in a downswing of
/// 600°/s a straight line across 50 ms can already be a degree wrong.
pub const MAX_GAP_S: f64 = 0.05;

/// Standard deviation of the Gaussian weights of [`turn_speed`], seconds: wide enough for five
/// frames at 30 fps, narrow against the 0.25 s of a downswing.
pub const SPEED_WINDOW_S: f64 = 0.025;

/// The samples of a series that hold a value.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Samples {
    /// Rising times, seconds.
    pub time_s: Vec<f64>,
    /// The values at those times.
    pub value: Vec<f64>,
}

impl Samples {
    /// The samples of a series with gaps.
    pub fn new(time_s: &[f64], series: &[Option<f64>]) -> Self {
        let (time_s, value) = time_s
            .iter()
            .zip(series)
            .filter_map(|(t, v)| Some((*t, (*v)?)))
            .unzip();
        Self { time_s, value }
    }

    /// Straight line between the two samples around `t`; `None` in a gap or outside.
    pub fn at(&self, t: f64) -> Option<f64> {
        let i = self.time_s.partition_point(|s| *s < t);
        let (t1, v1) = (*self.time_s.get(i)?, *self.value.get(i)?);
        if t1 == t {
            return Some(v1);
        }
        let before = i.checked_sub(1)?;
        let (t0, v0) = (*self.time_s.get(before)?, *self.value.get(before)?);
        (t1 - t0 <= MAX_GAP_S).then(|| v0 + (v1 - v0) * (t - t0) / (t1 - t0))
    }

    /// Slope at `t` of a straight line fitted with Gaussian weights, per second; `None` where
    /// samples are too few, lie on one side only or leave a gap.
    pub fn slope(&self, t: f64) -> Option<f64> {
        let reach = 3.0 * SPEED_WINDOW_S;
        let near = within(&self.time_s, t - reach, t + reach);
        let times = self.time_s.get(near.clone())?;
        let values = self.value.get(near)?;
        let (first, last) = (*times.first()?, *times.last()?);
        let inside = SPEED_WINDOW_S * 1.5;
        if times.len() < 4 || first > t - inside || last < t + inside {
            return None;
        }
        if times
            .windows(2)
            .any(|w| matches!(w, [a, b] if b - a > MAX_GAP_S))
        {
            return None;
        }
        let (mut sw, mut st, mut sv, mut stt, mut stv) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (s, v) in times.iter().zip(values) {
            let d = s - t;
            let w = (-0.5 * (d / SPEED_WINDOW_S).powi(2)).exp();
            sw += w;
            st += w * d;
            sv += w * v;
            stt += w * d * d;
            stv += w * d * v;
        }
        let det = sw * stt - st * st;
        (det > 0.0).then(|| (sw * stv - st * sv) / det)
    }
}

/// Slopes at every time of a grid.
pub fn turn_speed(samples: &Samples, grid_s: &[f64]) -> Vec<Option<f64>> {
    grid_s.iter().map(|t| samples.slope(*t)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_gives_no_value_and_a_short_step_gives_the_line() {
        let s = Samples::new(
            &[0.0, 0.01, 0.02, 0.2],
            &[Some(0.0), None, Some(4.0), Some(8.0)],
        );
        assert_eq!(s.at(0.01), Some(2.0));
        assert_eq!(s.at(0.02), Some(4.0));
        assert_eq!(s.at(0.1), None);
        assert_eq!(s.at(0.3), None);
        assert_eq!(s.at(-0.1), None);
    }

    #[test]
    fn slope_of_a_line_is_exact_on_uneven_times() {
        let t: Vec<f64> = (0..60)
            .map(|i| f64::from(i) / 60.0 + 0.002 * f64::from(i % 3))
            .collect();
        let v: Vec<Option<f64>> = t.iter().map(|t| Some(5.0 - 200.0 * t)).collect();
        let s = Samples::new(&t, &v);
        assert!((s.slope(0.5).expect("inside") + 200.0).abs() < 1e-9);
        assert_eq!(s.slope(0.001), None, "one-sided at the edge");
    }
}
