//! Address, top, impact and finish, each with a standard deviation in time.

use super::speed::{STEP_S, fastest_opening, turn_and_rate};
use crate::body::Fused;
use crate::config::SwingConfig;
use crate::find::{Coordinate, Window, fit_reversal};
use crate::math::rotation::{SegmentAngles, unwrap};
use crate::terms::Event;

/// A moment on the result's clock.
pub use crate::find::Moment as EventTime;

/// What fixed the impact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ImpactFrom {
    /// The strike was heard.
    Sound,
    /// The hands passed their place at address.
    Hands,
}

/// The moments of one swing.
#[derive(Clone, Debug, Default)]
pub struct Events {
    /// The last still moment before the takeaway.
    pub address: Option<EventTime>,
    /// Where thorax and hands turn back together.
    pub top: Option<EventTime>,
    /// The strike, and what fixed it.
    pub impact: Option<(EventTime, ImpactFrom)>,
    /// The first still moment afterwards.
    pub finish: Option<EventTime>,
    /// Reversal of the pelvis and of the thorax.
    pub pelvis_top: Option<EventTime>,
    /// Reversal of the thorax.
    pub thorax_top: Option<EventTime>,
}

impl Events {
    /// Those of the four moments that were seen, in order.
    pub fn seen(&self) -> impl Iterator<Item = (Event, EventTime)> {
        [
            (Event::Address, self.address),
            (Event::Top, self.top),
            (Event::Impact, self.impact.map(|i| i.0)),
            (Event::Finish, self.finish),
        ]
        .into_iter()
        .filter_map(|(event, at)| Some((event, at?)))
    }
}

/// What the events are found from; times on the result's clock.
#[derive(Clone, Debug)]
pub struct Clues<'a> {
    /// The pelvis over time.
    pub pelvis: &'a Fused,
    /// The thorax over time.
    pub thorax: &'a Fused,
    /// Roughly the fastest opening of the thorax.
    pub fast_s: f64,
    /// Roughly its reversal.
    pub rough_top: EventTime,
    /// Roughly when the backswing begins.
    pub begins_s: f64,
    /// Roughly how long the downswing takes: the measure of all that is near or far.
    pub down_s: f64,
    /// Where the hands leave their place at address.
    pub takeaway: Option<EventTime>,
    /// Where the golfer stands still again.
    pub finish: Option<EventTime>,
    /// Strikes less their travel time, loudest first.
    pub strikes: Vec<EventTime>,
    /// When the hands pass their address place again.
    pub hands_back: Option<EventTime>,
    /// Farthest that the strike may be from the hands' return, seconds.
    pub strike_reach_s: f64,
    /// The hands' picture coordinates in each view, in golfer heights.
    pub hands: Vec<Coordinate>,
    /// How a reversal is fitted.
    pub window: Window,
    /// What is near and far.
    pub config: &'a SwingConfig,
}

/// The last time before `fast_s` at which a segment's smoothed turn stopped closing.
pub fn turning_back(fused: &Fused, fast_s: f64, back_to_s: f64) -> Option<f64> {
    let mut t = fast_s;
    let (_, mut rate) = turn_and_rate(fused, t)?;
    while t > back_to_s {
        let before = t - STEP_S;
        let (_, r) = turn_and_rate(fused, before)?;
        if r >= 0.0 && rate < 0.0 {
            return Some(before + STEP_S * r / (r - rate));
        }
        (t, rate) = (before, r);
    }
    None
}

/// A segment's turn as each view read it, one coordinate a view, radians.
fn turn_coordinates(fused: &Fused) -> Vec<Coordinate> {
    let views = fused
        .readings
        .iter()
        .map(|r| r.view)
        .max()
        .map_or(0, |v| v + 1);
    (0..views)
        .map(|view| {
            let mut samples = Vec::new();
            let mut variance = 0.0;
            for r in fused.readings.iter().filter(|r| r.view == view) {
                if let Some(a) = SegmentAngles::decompose(&r.world_from_segment) {
                    samples.push((r.time_s, a.turn));
                    variance += r.covariance[(2, 2)];
                }
            }
            let mut turns: Vec<f64> = samples.iter().map(|s| s.1).collect();
            unwrap(&mut turns);
            for (s, turn) in samples.iter_mut().zip(turns) {
                s.1 = turn;
            }
            Coordinate {
                sigma: (variance / (samples.len().max(1) as f64)).sqrt().max(0.01),
                samples,
            }
        })
        .collect()
}

/// Reversal of one segment, from its own readings.
fn segment_top(fused: &Fused, fast_s: f64, back_to_s: f64, window: &Window) -> Option<EventTime> {
    let guess = turning_back(fused, fast_s, back_to_s)?;
    fit_reversal(&turn_coordinates(fused), guess, window)
}

/// The top as the fused curves turn back and as the finding of the swing saw it in each view. The first
/// comes early where a reading flattens out before the top; what they differ by is doubt.
fn agreed(fitted: EventTime, found: EventTime, config: &SwingConfig) -> EventTime {
    let share = config.top_as_found;
    let mix = |a: f64, b: f64| (1.0 - share) * a + share * b;
    let sigma_s = mix(fitted.sigma_s.powi(2), found.sigma_s.powi(2)).sqrt();
    EventTime {
        time_s: mix(fitted.time_s, found.time_s),
        sigma_s: sigma_s.hypot(config.top_apart * (fitted.time_s - found.time_s)),
    }
}

/// Finds the events of the swing round `clues.fast_s`.
pub fn find_events(clues: &Clues<'_>) -> Events {
    let (rough_top_s, down_s, config) = (clues.rough_top.time_s, clues.down_s, clues.config);
    let round_top_s = config.round_top * down_s;
    let back_to = clues.begins_s.min(rough_top_s - round_top_s);
    // The fused curve's own fastest time: the rough one is from one view.
    let near = config.fastest_near * down_s;
    let fastest = fastest_opening(clues.thorax, clues.fast_s - near, clues.fast_s + near)
        .unwrap_or(clues.fast_s);
    let thorax_top = segment_top(clues.thorax, fastest, back_to, &clues.window);
    let (from, to) = (rough_top_s - round_top_s, clues.fast_s + round_top_s);
    let pelvis_top = fastest_opening(clues.pelvis, from, to)
        .and_then(|f| segment_top(clues.pelvis, f, back_to, &clues.window));
    // The top is where thorax and hands turn back together: the hands are seen sharpest.
    let guess = turning_back(clues.thorax, fastest, back_to)
        .filter(|t| (t - rough_top_s).abs() < config.top_near * down_s)
        .unwrap_or(rough_top_s);
    let mut all = turn_coordinates(clues.thorax);
    all.extend(clues.hands.iter().cloned());
    let fitted = fit_reversal(&all, guess, &clues.window);
    let top = Some(fitted.map_or(clues.rough_top, |f| agreed(f, clues.rough_top, config)));
    let (least_s, most_s) = (config.impact_least * down_s, config.impact_most * down_s);
    let plausible =
        |t: f64| top.is_none_or(|top| (top.time_s + least_s..=top.time_s + most_s).contains(&t));
    let hands_back = clues.hands_back.filter(|h| plausible(h.time_s));
    // The hands are seen less sharply than a strike is heard, but a strike far from them is not theirs.
    let theirs = |t: f64| hands_back.is_none_or(|h| (t - h.time_s).abs() <= clues.strike_reach_s);
    let impact = clues
        .strikes
        .iter()
        .find(|s| plausible(s.time_s) && theirs(s.time_s))
        .map(|s| (*s, ImpactFrom::Sound))
        .or_else(|| hands_back.map(|h| (h, ImpactFrom::Hands)));
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Motion, TurnReading, smooth};
    use nalgebra::Matrix3;

    const WINDOW: Window = Window {
        guess_sigma_s: 0.1,
        model_sigma_s: 0.01,
        ..Window::USUAL
    };

    /// A thorax that closes to 90° at 1.0 s and opens fast.
    fn fused() -> Fused {
        let readings: Vec<TurnReading> = (0..120)
            .map(|i| {
                let t = i as f64 / 60.0;
                let turn = if t < 1.0 {
                    1.57 - 1.9 * (1.0 - t).powi(2)
                } else {
                    1.57 - 12.0 * (t - 1.0).powi(2)
                };
                TurnReading {
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
        Fused {
            stretches: smooth(&readings, &motion).0,
            readings,
        }
    }

    #[test]
    fn the_top_is_where_the_thorax_turns_back() {
        let f = fused();
        let top = segment_top(&f, 1.3, 0.2, &WINDOW).expect("a reversal");
        assert!((top.time_s - 1.0).abs() < 0.005, "{top:?}");
    }

    #[test]
    fn a_top_that_is_seen_at_two_times_lies_between_them_and_is_doubted() {
        let config = crate::config::Pipeline::default().swing;
        let at = |time_s| EventTime {
            time_s,
            sigma_s: 0.01,
        };
        let same = agreed(at(1.0), at(1.0), &config);
        assert!((same.time_s - 1.0).abs() < 1e-12 && (same.sigma_s - 0.01).abs() < 1e-12);
        let apart = agreed(at(1.0), at(1.1), &config);
        assert!(apart.time_s > 1.05 && apart.time_s < 1.1 && apart.sigma_s > 0.04);
    }

    #[test]
    fn a_strike_outside_a_downswing_is_not_the_impact() {
        let f = fused();
        let config = crate::config::Pipeline::default().swing;
        let strike = |t| EventTime {
            time_s: t,
            sigma_s: 0.003,
        };
        let clues = Clues {
            pelvis: &f,
            thorax: &f,
            fast_s: 1.3,
            rough_top: strike(1.0),
            begins_s: 0.2,
            down_s: 0.28,
            takeaway: Some(strike(0.2)),
            finish: None,
            strikes: vec![strike(0.4), strike(1.28)],
            hands_back: None,
            strike_reach_s: 0.12,
            hands: Vec::new(),
            window: WINDOW,
            config: &config,
        };
        let events = find_events(&clues);
        assert_eq!(events.impact, Some((strike(1.28), ImpactFrom::Sound)));
        // Loudest first: the neighbour's ball, then the golfer's own.
        let events = find_events(&Clues {
            strikes: vec![strike(1.6), strike(1.27)],
            hands_back: Some(strike(1.29)),
            ..clues
        });
        assert_eq!(events.impact, Some((strike(1.27), ImpactFrom::Sound)));
    }
}
