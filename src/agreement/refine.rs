//! Placing a shift finely: least squares on the speed of the difference of both curves.
//!
//! At each instant a straight line is fitted, with Gaussian weights, to sensor less estimate at the
//! sensor's own samples: its slope is the difference of speeds, the same for both whatever is
//! missing. Outliers are weighted down (Huber), because an estimate can be wrong for a while.

use std::collections::BTreeMap;

use super::interpolate::Samples;
use super::shift::{FLOOR_S, STEP_S, Shift, TurnPair};
use super::stats::t_quantile;
use crate::math::series::within;
use crate::math::stats::median;

/// Standard deviation of the weights, seconds. On measured swings of 22 rendered clips narrower was
/// worse (their jitter), on made errors that vary slowly wider was worse: between the two, shifts
/// were 3.4 ms wrong (root mean square) and at most 4.8 ms.
const WINDOW_S: f64 = 0.05;
/// A slope is kept where this share of the weights is there on either side.
const MIN_SIDE: f64 = 0.2;
/// Step of the numerical derivative, seconds.
const DELTA_S: f64 = 0.005;
/// Length of a block whose residuals may hang together, seconds.
const BLOCK_S: f64 = 0.12;

/// The sensor's clock as a function of ours.
#[derive(Clone, Copy)]
struct Clock {
    shift: f64,
    /// Its rate over ours, less 1.
    rate: f64,
    /// Where on our clock the shift holds.
    centre: f64,
}

impl Clock {
    fn ours(self, sensor: f64) -> f64 {
        self.centre + (sensor - self.shift - self.centre) / (1.0 + self.rate)
    }
}

/// What the fit sees at one instant.
struct Point {
    /// Our clock, seconds.
    t: f64,
    /// Sensor's speed less ours.
    r: f64,
    /// Change of `r` with the shift.
    j: f64,
}

/// Gauss–Newton on the shift from `start`. `None` without a common moving stretch.
pub(super) fn refine(pairs: &[&TurnPair], start: f64, correlation: f64) -> Option<Shift> {
    let mut clock = Clock {
        shift: start,
        rate: 0.0,
        centre: 0.0,
    };
    for _ in 0..15 {
        let (step, _) = fit(&points(pairs, clock), |_| 1.0)?;
        clock.shift -= step.clamp(-2.0 * STEP_S, 2.0 * STEP_S);
        if step.abs() < 1e-5 {
            break;
        }
    }
    let last = points(pairs, clock);
    let half = fit(&last, |_| 1.0)?.1.hypot(FLOOR_S);
    Some(Shift {
        s: clock.shift,
        low: clock.shift - half,
        high: clock.shift + half,
        correlation,
        rate_error: rate_error(pairs, clock, &last),
    })
}

/// The rate of the sensor's clock, fitted together with the shift about the middle of the
/// movement, where the two are least entangled.
fn rate_error(pairs: &[&TurnPair], at: Clock, seen: &[Point]) -> Option<(f64, f64)> {
    let w: f64 = seen.iter().map(|p| p.j * p.j).sum();
    let wt: f64 = seen.iter().map(|p| p.j * p.j * p.t).sum();
    let mut clock = Clock {
        centre: wt / w,
        ..at
    };
    let mut half = 0.0;
    for _ in 0..25 {
        let now = points(pairs, clock);
        clock.shift -= fit(&now, |_| 1.0)?.0.clamp(-2.0 * STEP_S, 2.0 * STEP_S);
        let (step, step_half) = fit(&now, |t| t - clock.centre)?;
        // Beyond a quarter it is another kind of recording, not a clock that runs a little fast.
        clock.rate = (clock.rate - step.clamp(-0.02, 0.02)).clamp(-0.25, 0.25);
        half = step_half;
        if step.abs() < 1e-4 {
            break;
        }
    }
    Some((clock.rate, half))
}

fn points(pairs: &[&TurnPair], clock: Clock) -> Vec<Point> {
    pairs.iter().flat_map(|p| points_of(p, clock)).collect()
}

fn points_of(pair: &TurnPair, clock: Clock) -> Vec<Point> {
    // Sensor samples on our clock, and what both say there.
    let mut t = Vec::new();
    let (mut ours, mut change) = (Vec::new(), Vec::new());
    let mut sensor = Vec::new();
    let moved =
        |s: &Samples, at: f64| Some((s.at(at + DELTA_S)? - s.at(at - DELTA_S)?) / (2.0 * DELTA_S));
    for (sensor_t, v) in pair.sensor.time_s.iter().zip(&pair.sensor.value) {
        let at = clock.ours(*sensor_t);
        let Some(o) = pair.ours.at(at) else { continue };
        // The mean of both slopes: neither curve's own noise then tilts the fit.
        let speeds = (moved(&pair.ours, at), moved(&pair.sensor, *sensor_t));
        let (Some(a), Some(b)) = speeds else { continue };
        t.push(at);
        ours.push(o);
        sensor.push(*v);
        change.push(f64::midpoint(a, b));
    }
    let difference: Vec<f64> = sensor.iter().zip(&ours).map(|(s, o)| s - o).collect();
    let (Some(first), Some(last)) = (t.first().copied(), t.last().copied()) else {
        return Vec::new();
    };
    // Neighbouring samples stand this far apart where nothing is missing.
    let steps: Vec<f64> = t
        .windows(2)
        .filter_map(|w| Some(w.get(1)? - w.first()?))
        .collect();
    let spacing = median(&steps).unwrap_or(STEP_S);
    let n = ((last - first) / STEP_S).floor().clamp(0.0, 720_000.0) as usize;
    (0..=n)
        .filter_map(|i| {
            let at = first + i as f64 * STEP_S;
            let line = Line::around(&t, at, spacing)?;
            Some(Point {
                t: at,
                r: line.slope(&difference),
                j: line.slope(&change),
            })
        })
        .collect()
}

/// A weighted straight line through samples around one instant.
struct Line {
    from: usize,
    weight: Vec<f64>,
}

impl Line {
    fn around(t: &[f64], at: f64, spacing: f64) -> Option<Self> {
        let reach = 3.0 * WINDOW_S;
        let near = within(t, at - reach, at + reach);
        let from = near.start;
        let times = t.get(near)?;
        let (mut sw, mut st, mut stt) = (0.0, 0.0, 0.0);
        let (mut before, mut after) = (0.0, 0.0);
        let mut weight = Vec::with_capacity(times.len());
        for s in times {
            let d = s - at;
            let w = (-0.5 * (d / WINDOW_S).powi(2)).exp();
            sw += w;
            st += w * d;
            stt += w * d * d;
            *(if d > 0.0 { &mut after } else { &mut before }) += w;
            weight.push(w);
        }
        let whole = WINDOW_S * std::f64::consts::TAU.sqrt() / spacing.max(1e-4);
        let det = sw * stt - st * st;
        if f64::min(before, after) < MIN_SIDE * whole || det <= 0.0 {
            return None;
        }
        // The slope is a weighted sum of values: store those weights.
        for (w, s) in weight.iter_mut().zip(times) {
            *w *= (sw * (s - at) - st) / det;
        }
        Some(Self { from, weight })
    }

    fn slope(&self, values: &[f64]) -> f64 {
        let values = values.iter().skip(self.from);
        self.weight.iter().zip(values).map(|(w, v)| w * v).sum()
    }
}

/// Least-squares coefficient of the residuals on `j · factor(t)`, and the half-width of its 95 %
/// interval: cluster-robust over blocks of time, with Student's t for as many blocks as carry the
/// information.
fn fit(points: &[Point], factor: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    let sizes: Vec<f64> = points.iter().map(|p| p.r.abs()).collect();
    // Median absolute deviation, as a standard deviation.
    let scale = 1.4826 * median(&sizes)? + 1e-9;
    let weight = |r: f64| (scale / r.abs().max(1e-12)).min(1.0);
    let (mut xx, mut xr) = (0.0, 0.0);
    for p in points {
        let (x, w) = (p.j * factor(p.t), weight(p.r));
        xx += w * x * x;
        xr += w * x * p.r;
    }
    if xx <= 0.0 {
        return None;
    }
    let coefficient = xr / xx;
    // All angles of one instant stay in one block.
    let mut blocks: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
    for p in points {
        let (x, w) = (p.j * factor(p.t), weight(p.r));
        let block = blocks.entry((p.t / BLOCK_S).floor() as i64).or_default();
        block.0 += w * x * (p.r - coefficient * x);
        block.1 += w * x * x;
    }
    let meat: f64 = blocks.values().map(|b| b.0 * b.0).sum();
    let squares: f64 = blocks.values().map(|b| b.1 * b.1).sum();
    // As many blocks as carry the information, were they all alike.
    let count = (xx * xx / squares.max(f64::MIN_POSITIVE)).max(1.5);
    let t = t_quantile(0.975, count - 1.0)?;
    let spread = (meat * count / (count - 1.0)).sqrt() / xx;
    Some((coefficient, t * spread))
}
