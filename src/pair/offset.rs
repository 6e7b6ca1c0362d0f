//! Time offset between two phones: from the strike's sound, checked against motion.

use super::heading::local_slope;
use crate::clip::Strike;
use crate::config::PairConfig;
use crate::math::series::{interpolate, parabola_vertex};

/// Where an offset comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OffsetFrom {
    /// The strike was heard in both clips.
    Sound,
    /// The turning speeds were matched.
    Motion,
}

/// Seconds to add to the second view's clock to get the first's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offset {
    /// Seconds to add to the second clip's time.
    pub offset_s: f64,
    /// Its standard deviation, seconds.
    pub sigma_s: f64,
    /// What it was found from.
    pub from: OffsetFrom,
    /// Correlation of the two views' speeds (of turning, or of the hands' rise) at the motion's best offset, −1..1.
    pub correlation: f64,
}

/// One view's share: what moves alike in every view, and its strikes as heard: the sound's travel is
/// taken off once it is known where the cameras stand. All on real time.
#[derive(Clone, Debug)]
pub struct Clocked<'a> {
    /// Where the chest faces, radians.
    pub turn: Moving,
    /// How high the hands are above the hips, golfer heights.
    pub rise: Moving,
    /// Loud sounds, real seconds, loudest first.
    pub strikes: &'a [Strike],
}

/// A value over real time, seconds, at any spacing.
#[derive(Clone, Debug, Default)]
pub struct Moving {
    /// Ascending.
    pub time_s: Vec<f64>,
    /// As many.
    pub value: Vec<f64>,
}

/// Step of the common time axis for the correlation, seconds.
const STEP_S: f64 = 1.0 / 240.0;

/// Offset of `b` against `a`. `None` when the views' movements don't match: different swings.
///
/// Turning speed about the vertical is the same from every side, and so is how fast the hands rise, so no
/// camera need be known. The turn is what is measured and is asked first; of people whom the networks read badly it
/// is too rough from frame to frame, and their hands are not.
pub fn find_offset(a: &Clocked<'_>, b: &Clocked<'_>, config: &PairConfig) -> Option<Offset> {
    let (motion, correlation) = [(&a.turn, &b.turn), (&a.rise, &b.rise)]
        .into_iter()
        .filter_map(|(a, b)| by_motion(a, b, config))
        .find(|(_, correlation)| *correlation >= config.min_correlation)?;
    let mut best: Option<(f64, f64, f64)> = None;
    for (i, x) in a.strikes.iter().enumerate() {
        for (j, y) in b.strikes.iter().enumerate() {
            let offset = x.time_s - y.time_s;
            let miss = (offset - motion).abs();
            // Loud strikes first; among them the one that fits the motion.
            let cost = miss + 0.01 * (i + j) as f64;
            if miss < config.sound_motion_tolerance_s && best.is_none_or(|(c, _, _)| cost < c) {
                best = Some((cost, offset, x.sigma_s.hypot(y.sigma_s)));
            }
        }
    }
    Some(match best {
        Some((_, offset_s, sigma)) => Offset {
            offset_s,
            sigma_s: sigma.max(config.sound_offset_sigma_s),
            from: OffsetFrom::Sound,
            correlation,
        },
        None => Offset {
            offset_s: motion,
            sigma_s: config.motion_offset_sigma_s,
            from: OffsetFrom::Motion,
            correlation,
        },
    })
}

/// Best offset of `b` against `a`, seconds, and the correlation of their speeds there.
fn by_motion(a: &Moving, b: &Moving, config: &PairConfig) -> Option<(f64, f64)> {
    let rate = |m: &Moving| -> Option<(f64, Vec<f64>)> {
        let t = &m.time_s;
        let v = local_slope(t, &m.value, config.rate_half_window_s);
        let (start, end) = (*t.first()?, *t.last()?);
        let n = ((end - start) / STEP_S).floor() as usize + 1;
        if !(8..=config.max_correlation_steps).contains(&n) {
            return None;
        }
        let resampled = (0..n)
            .map(|k| interpolate(t, &v, start + k as f64 * STEP_S).unwrap_or(0.0))
            .collect();
        Some((start, resampled))
    };
    let ((start_a, va), (start_b, vb)) = (rate(a)?, rate(b)?);
    let norm = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>().sqrt().max(1e-9);
    let scale = norm(&va) * norm(&vb);
    // Element b[k] lies on a[k + lag].
    let correlate = |lag: i64| -> f64 {
        vb.iter()
            .enumerate()
            .filter_map(|(k, y)| {
                let i = usize::try_from(k as i64 + lag).ok()?;
                va.get(i).map(|x| x * y)
            })
            .sum::<f64>()
            / scale
    };
    let (min, max) = (-(vb.len() as i64) + 1, va.len() as i64 - 1);
    // Coarse search, then every lag round the best: the speeds are smooth over tens of steps.
    let coarse = (min..=max)
        .step_by(4)
        .max_by(|x, y| correlate(*x).total_cmp(&correlate(*y)))?;
    let best = (coarse - 4..=coarse + 4).max_by(|x, y| correlate(*x).total_cmp(&correlate(*y)))?;
    let peak = correlate(best);
    let shift = parabola_vertex(correlate(best - 1), peak, correlate(best + 1));
    Some((start_a + (best as f64 + shift) * STEP_S - start_b, peak))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn moving(shift: f64, fps: f64, zero: f64) -> Moving {
        let time_s: Vec<f64> = (0..(2.5 * fps) as usize).map(|i| i as f64 / fps).collect();
        let value: Vec<f64> = time_s
            .iter()
            .map(|t| {
                zero + 2.0 / (1.0 + (-(t + shift - 1.5) * 12.0).exp())
                    - 1.2 / (1.0 + (-(t + shift - 0.9) * 6.0).exp())
            })
            .collect();
        Moving { time_s, value }
    }

    fn turning(turn: Moving, strikes: &[Strike]) -> Clocked<'_> {
        Clocked {
            turn,
            rise: Moving::default(),
            strikes,
        }
    }

    #[test]
    fn motion_alone_finds_the_offset_across_frame_rates_and_camera_places() {
        let config = Pipeline::default().pair;
        let (a, b) = (moving(0.0, 60.0, 0.0), moving(0.213, 30.0, 1.5));
        let found = find_offset(&turning(a, &[]), &turning(b, &[]), &config).expect("same swing");
        assert_eq!(found.from, OffsetFrom::Motion);
        assert!((found.offset_s - 0.213).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn hands_tell_the_offset_where_the_turn_is_too_rough() {
        let config = Pipeline::default().pair;
        let rough = |seed: f64| Moving {
            value: (0..150).map(|i| (seed * f64::from(i * i)).sin()).collect(),
            time_s: (0..150).map(|i| f64::from(i) / 60.0).collect(),
        };
        let view = |seed: f64, rise: Moving| Clocked {
            turn: rough(seed),
            rise,
            strikes: &[],
        };
        let (a, b) = (moving(0.0, 60.0, 0.0), moving(0.213, 30.0, 1.5));
        let found = find_offset(&view(1.1, a), &view(2.3, b), &config).expect("same swing");
        assert!((found.offset_s - 0.213).abs() < 0.01, "{found:?}");
        let none = find_offset(
            &view(1.1, Moving::default()),
            &view(2.3, Moving::default()),
            &config,
        );
        assert_eq!(none, None);
    }

    #[test]
    fn a_strike_near_the_motions_offset_wins_over_a_louder_one_elsewhere() {
        let config = Pipeline::default().pair;
        let (a, b) = (moving(0.0, 60.0, 0.0), moving(0.2, 60.0, 1.5));
        let strike = |t| Strike {
            time_s: t,
            sigma_s: 0.0005,
            prominence_db: 30.0,
        };
        let (sa, sb) = ([strike(1.6)], [strike(0.3), strike(1.402)]);
        let found = find_offset(&turning(a, &sa), &turning(b, &sb), &config).expect("same swing");
        assert_eq!(found.from, OffsetFrom::Sound);
        assert!((found.offset_s - 0.198).abs() < 1e-9);
    }
}
