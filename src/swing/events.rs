//! Address, top, impact and finish, each with a standard deviation in time.

use crate::body::Fused;
use crate::math::rotation::SegmentAngles;

/// A moment on the result's clock with its standard deviation, seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EventTime {
    pub time_s: f64,
    pub sigma_s: f64,
}

/// What fixed the impact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ImpactFrom {
    Sound,
    Hands,
}

/// The moments of one swing.
#[derive(Clone, Debug, Default)]
pub struct Events {
    pub address: Option<EventTime>,
    pub top: Option<EventTime>,
    pub impact: Option<(EventTime, ImpactFrom)>,
    pub finish: Option<EventTime>,
    /// Reversal of the pelvis and of the thorax.
    pub pelvis_top: Option<EventTime>,
    pub thorax_top: Option<EventTime>,
}

/// What the events are found from; times on the result's clock.
#[derive(Clone, Debug)]
pub struct Clues<'a> {
    pub pelvis: &'a Fused,
    pub thorax: &'a Fused,
    /// Roughly the fastest opening of the thorax.
    pub fast_s: f64,
    /// Roughly its reversal.
    pub rough_top_s: f64,
    pub takeaway: Option<EventTime>,
    pub finish: Option<EventTime>,
    /// Strikes less their travel time, loudest first.
    pub strikes: Vec<EventTime>,
    /// When the hands pass their address place again.
    pub hands_back: Option<EventTime>,
    pub top_sigma_s: f64,
    pub downswing_s: (f64, f64),
}

/// Turn and turn rate of a fused segment; radians and radians a second.
pub fn turn_and_rate(fused: &Fused, t: f64) -> Option<(f64, f64)> {
    let s = fused.at(t)?;
    let a = SegmentAngles::decompose(&s.world_from_segment)?;
    let x = s.world_from_segment.matrix().column(0).into_owned();
    let flat = x.x * x.x + x.y * x.y;
    let v = s.velocity.cross(&x);
    // turn = −atan2(x.y, x.x)
    Some((a.turn, -(x.x * v.y - x.y * v.x) / flat.max(1e-6)))
}

/// Step of the search for a reversal, seconds: far below a frame.
const STEP_S: f64 = 1.0 / 480.0;

/// The last time before `fast_s` at which a segment stopped closing and began to open.
pub fn reversal(
    fused: &Fused,
    fast_s: f64,
    back_to_s: f64,
    model_sigma_s: f64,
) -> Option<EventTime> {
    let mut t = fast_s;
    let (_, mut rate) = turn_and_rate(fused, t)?;
    while t > back_to_s {
        let before = t - STEP_S;
        let Some((_, r)) = turn_and_rate(fused, before) else {
            break;
        };
        if r >= 0.0 && rate < 0.0 {
            let time_s = before + STEP_S * r / (r - rate);
            let acceleration = ((r - rate) / STEP_S).abs().max(1.0);
            let rate_sigma = fused
                .at(time_s)
                .map_or(0.5, |s| s.covariance[(5, 5)].max(0.0).sqrt());
            return Some(EventTime {
                time_s,
                sigma_s: model_sigma_s.hypot((rate_sigma / acceleration).min(0.05)),
            });
        }
        (t, rate) = (before, r);
    }
    None
}

/// Finds the events of the swing round `clues.fast_s`.
pub fn find_events(clues: &Clues<'_>) -> Events {
    let back_to = clues
        .takeaway
        .map_or(clues.rough_top_s - 1.0, |a| a.time_s)
        .min(clues.rough_top_s - 0.1);
    // The fused curve's own fastest time: the rough one is from one view.
    let fastest = fastest_opening(clues.thorax, clues.fast_s - 0.15, clues.fast_s + 0.15)
        .unwrap_or(clues.fast_s);
    let thorax_top = reversal(clues.thorax, fastest, back_to, clues.top_sigma_s);
    let pelvis_top = fastest_opening(clues.pelvis, clues.rough_top_s - 0.1, clues.fast_s + 0.1)
        .and_then(|f| reversal(clues.pelvis, f, back_to, clues.top_sigma_s));
    let top = thorax_top;
    let (shortest, longest) = clues.downswing_s;
    let plausible = |t: f64| {
        top.is_none_or(|top| {
            (top.time_s + 0.6 * shortest..=top.time_s + 1.4 * longest).contains(&t)
        })
    };
    let impact = clues
        .strikes
        .iter()
        .find(|s| plausible(s.time_s))
        .map(|s| (*s, ImpactFrom::Sound))
        .or_else(|| {
            clues
                .hands_back
                .filter(|h| plausible(h.time_s))
                .map(|h| (h, ImpactFrom::Hands))
        });
    let address = clues
        .takeaway
        .filter(|a| top.is_none_or(|t| a.time_s < t.time_s));
    let finish = clues
        .finish
        .filter(|f| impact.is_none_or(|(i, _)| f.time_s > i.time_s));
    Events {
        address,
        top,
        impact,
        finish,
        pelvis_top,
        thorax_top,
    }
}

/// Time of the fastest opening between two times.
fn fastest_opening(fused: &Fused, from: f64, to: f64) -> Option<f64> {
    let n = ((to - from) / STEP_S) as usize;
    (0..=n)
        .map(|k| from + k as f64 * STEP_S)
        .filter_map(|t| Some((t, turn_and_rate(fused, t)?.1)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(t, _)| t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Motion, Reading, smooth};
    use nalgebra::Matrix3;

    /// A thorax that closes to 90° at 1.0 s and opens fast.
    fn fused() -> Fused {
        let readings: Vec<Reading> = (0..120)
            .map(|i| {
                let t = i as f64 / 60.0;
                let turn = if t < 1.0 {
                    1.57 - 1.9 * (1.0 - t).powi(2)
                } else {
                    1.57 - 12.0 * (t - 1.0).powi(2)
                };
                Reading {
                    time_s: t,
                    view: 0,
                    world_from_segment: SegmentAngles {
                        turn: turn.max(-0.8),
                        side: 0.2,
                        forward: 0.4,
                    }
                    .compose(),
                    covariance: Matrix3::from_diagonal_element(1e-4),
                }
            })
            .collect();
        let motion = Motion {
            acceleration: 70.0,
            max_gap_s: 0.15,
            student_nu: 4.0,
        };
        let (stretches, weights) = smooth(&readings, &motion);
        Fused {
            stretches,
            readings,
            weights,
        }
    }

    #[test]
    fn the_top_is_where_the_thorax_turns_back() {
        let f = fused();
        let top = reversal(&f, 1.3, 0.2, 0.01).expect("a reversal");
        assert!((top.time_s - 1.0).abs() < 0.02, "{top:?}");
    }

    #[test]
    fn a_strike_outside_a_downswing_is_not_the_impact() {
        let f = fused();
        let strike = |t| EventTime {
            time_s: t,
            sigma_s: 0.003,
        };
        let clues = Clues {
            pelvis: &f,
            thorax: &f,
            fast_s: 1.3,
            rough_top_s: 1.0,
            takeaway: Some(strike(0.2)),
            finish: None,
            strikes: vec![strike(0.4), strike(1.28)],
            hands_back: None,
            top_sigma_s: 0.01,
            downswing_s: (0.15, 0.6),
        };
        let events = find_events(&clues);
        assert_eq!(events.impact, Some((strike(1.28), ImpactFrom::Sound)));
    }
}
