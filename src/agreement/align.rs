//! How far the sensor's clock is ahead of ours, for one swing, and how sure that is.
//!
//! Turn speeds of both are compared at every shift on a 5 ms grid (normalised cross-correlation
//! over the instants where both are known), and `refine` places the best finely. Time is never stretched: a clock that
//! runs at another rate is estimated and told.

use super::interpolate::{Samples, turn_speed};
use super::refine::refine;
use super::shift::{FLOOR_S, STEP_S, Shift, TurnPair};

/// Correlation of turn speeds below which the two recordings are not the same swing.
const MIN_CORRELATION: f64 = 0.8;
/// A second peak this close to the best, farther than [`RIVAL_S`] from it, makes a shift ambiguous.
const RIVAL_SHARE: f64 = 0.97;
const RIVAL_S: f64 = 0.25;
/// A shift must leave at least this much of the swing known to both, seconds.
const MIN_OVERLAP_S: f64 = 0.4;
/// Longest offset that is searched, as a number of grid steps; two minutes.
const MAX_STEPS: usize = 24_000;

/// Why no shift could be found; each a sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoShift {
    /// The overlap of both recordings holds no moving turn that both know.
    #[error("our curve and the sensor's have no turn in common that moves for half a second")]
    NothingCommon,
    /// The sensor's turns mirror ours, so its sign is the other way.
    #[error("the sensor turns the other way. Set sign = -1 for its turn columns in the mapping")]
    OtherWay,
    /// No shift gives turn speeds that go together; the best correlation.
    #[error(
        "the turn speeds don't match at any shift (best correlation {0:.2}). Check that it is the same swing and that its clock runs in real time"
    )]
    NoMatch(f64),
    /// Two shifts fit about equally well, seconds.
    #[error(
        "the recording matches about equally well at two shifts ({0:.2} s and {1:.2} s). Cut it to the one swing, or name its events"
    )]
    Ambiguous(f64, f64),
}

/// Estimates the shift from turn speeds. `others`: further angles, which help to place it finely.
/// `near`: only shifts within this interval are searched.
///
/// # Errors
/// [`NoShift`]: nothing moves in both, the sensor turns the other way, or no one shift stands out.
pub fn by_turn_speed(
    pairs: &[TurnPair],
    others: &[TurnPair],
    near: Option<(f64, f64)>,
) -> Result<Shift, NoShift> {
    let speeds: Vec<Speeds> = pairs.iter().filter_map(Speeds::new).collect();
    let span = speeds
        .iter()
        .map(|s| (s.sensor_t0 - s.ours_end(), s.sensor_end() - s.ours_t0))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
        .ok_or(NoShift::NothingCommon)?;
    let (from, to) = near.map_or(span, |n| (n.0.max(span.0), n.1.min(span.1)));
    let steps = ((to - from) / STEP_S).ceil();
    if !(steps.is_finite() && steps >= 0.0) {
        return Err(NoShift::NothingCommon);
    }
    let steps = (steps as usize).min(MAX_STEPS);
    let curve: Vec<(f64, Option<f64>)> = (0..=steps)
        .map(|i| from + i as f64 * STEP_S)
        .map(|lag| (lag, correlation(&speeds, lag)))
        .collect();
    let known = || curve.iter().filter_map(|(l, c)| Some((*l, (*c)?)));
    let best = known().max_by(|a, b| a.1.total_cmp(&b.1));
    let (lag, top) = best.ok_or(NoShift::NothingCommon)?;
    let worst = known().map(|c| c.1).fold(f64::INFINITY, f64::min);
    if top < MIN_CORRELATION {
        return Err(if -worst >= MIN_CORRELATION && -worst > top {
            NoShift::OtherWay
        } else {
            NoShift::NoMatch(top)
        });
    }
    let rival = known()
        .filter(|(l, c)| (l - lag).abs() > RIVAL_S && *c > top * RIVAL_SHARE)
        .max_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((other, _)) = rival {
        return Err(NoShift::Ambiguous(lag.min(other), lag.max(other)));
    }
    let all: Vec<&TurnPair> = pairs.iter().chain(others).collect();
    refine(&all, lag, top).ok_or(NoShift::NothingCommon)
}

/// Speeds of one turn on the search grid.
struct Speeds {
    ours_t0: f64,
    sensor_t0: f64,
    ours: Vec<Option<f64>>,
    sensor: Vec<Option<f64>>,
}

impl Speeds {
    fn new(pair: &TurnPair) -> Option<Self> {
        let grid = |s: &Samples| -> Option<Vec<f64>> {
            let (a, b) = (*s.time_s.first()?, *s.time_s.last()?);
            // An hour at most: longer recordings are not one swing.
            let n = ((b - a) / STEP_S).floor().clamp(0.0, 720_000.0) as usize;
            Some((0..=n).map(|i| a + i as f64 * STEP_S).collect())
        };
        let (ours_grid, sensor_grid) = (grid(&pair.ours)?, grid(&pair.sensor)?);
        Some(Self {
            ours_t0: *ours_grid.first()?,
            sensor_t0: *sensor_grid.first()?,
            ours: turn_speed(&pair.ours, &ours_grid),
            sensor: turn_speed(&pair.sensor, &sensor_grid),
        })
    }

    fn ours_end(&self) -> f64 {
        self.ours_t0 + self.ours.len() as f64 * STEP_S
    }

    fn sensor_end(&self) -> f64 {
        self.sensor_t0 + self.sensor.len() as f64 * STEP_S
    }

    /// Pairs of speeds at a shift, to the nearest grid step.
    fn at(&self, lag: f64) -> impl Iterator<Item = (f64, f64)> {
        let offset = ((self.ours_t0 + lag - self.sensor_t0) / STEP_S).round() as i64;
        self.ours.iter().enumerate().filter_map(move |(i, a)| {
            let j = usize::try_from(i as i64 + offset).ok()?;
            Some(((*a)?, (*self.sensor.get(j)?)?))
        })
    }
}

/// Normalised cross-correlation of all turns together at one shift. The energy that our swing has
/// outside the overlap counts as unmatched, so that a sliver of overlap can't win.
fn correlation(speeds: &[Speeds], lag: f64) -> Option<f64> {
    let (mut ab, mut aa, mut bb, mut n) = (0.0, 0.0, 0.0, 0_usize);
    let mut whole = 0.0;
    for s in speeds {
        whole += s.ours.iter().flatten().map(|v| v * v).sum::<f64>();
        let mut count = 0;
        for (a, b) in s.at(lag) {
            ab += a * b;
            aa += a * a;
            bb += b * b;
            count += 1;
        }
        n = n.max(count);
    }
    if (n as f64) * STEP_S < MIN_OVERLAP_S || aa <= 0.25 * whole || bb <= 0.0 {
        return None;
    }
    Some(ab / (aa * bb).sqrt())
}

/// A moment on our clock with its interval, and the same on the sensor's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EventPair {
    /// The moment on our clock, seconds.
    pub ours: f64,
    /// Half the width of its 95 % interval, seconds.
    pub half_width: f64,
    /// The moment on the sensor's clock, seconds.
    pub sensor: f64,
}

/// Shift from named events, weighted by how sure ours are. `None` without any.
pub fn by_events(pairs: &[EventPair]) -> Option<Shift> {
    let weights: Vec<f64> = pairs
        .iter()
        .map(|p| 1.0 / p.half_width.max(0.002).powi(2))
        .collect();
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return None;
    }
    let differences = || {
        pairs
            .iter()
            .zip(&weights)
            .map(|(p, w)| (p.sensor - p.ours, w))
    };
    let s = differences().map(|(d, w)| d * w).sum::<f64>() / total;
    // Scatter beyond the stated intervals widens the result.
    let chi2: f64 = differences()
        .map(|(d, w)| (d - s).powi(2) * w * 1.96_f64.powi(2))
        .sum();
    let spare = pairs.len().saturating_sub(1).max(1) as f64;
    let half = (1.0 / total).sqrt() * (chi2 / spare).max(1.0).sqrt();
    let half = half.hypot(FLOOR_S);
    Some(Shift {
        s,
        low: s - half,
        high: s + half,
        correlation: f64::NAN,
        rate_error: None,
    })
}
