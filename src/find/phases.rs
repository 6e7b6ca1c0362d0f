//! A swing's moments and phases, in the file's own time or on another clock.

use crate::config::FindConfig;
use crate::terms::Handedness;

/// A moment with its standard deviation, seconds of playback.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// When, seconds.
    pub time_s: f64,
    /// Its standard deviation, seconds.
    pub sigma_s: f64,
}

/// One swing: when each part of it was, seconds of playback.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phases {
    /// Which way the golfer swings.
    pub hand: Handedness,
    /// Probability that this is a swing, 0 to 1.
    pub probability: f64,
    /// When the golfer began to stand still before the takeaway.
    pub still_from_s: f64,
    /// First movement of the backswing. `None` where the clip begins after it.
    pub takeaway: Option<Moment>,
    /// Since when hands and chest had been at the top; the top itself without a rest.
    pub rest_from_s: f64,
    /// How long they rested on the way to it.
    pub paused_s: f64,
    /// When hands and chest turn back.
    pub top: Moment,
    /// How long before and after the top the pose is near it, seconds.
    pub near_top_s: (f64, f64),
    /// When the hands pass their address place again.
    pub impact: Moment,
    /// Fastest opening of the thorax.
    pub fast_s: f64,
    /// When the follow-through comes to rest. `None` where it is not seen.
    pub finish: Option<Moment>,
    /// The last moment that belongs to the swing.
    pub end_s: f64,
}

impl Phases {
    /// A right-hander's swing with its takeaway, top and impact at these times, seconds, for tests.
    #[cfg(test)]
    pub(crate) fn made([takeaway_s, top_s, impact_s]: [f64; 3]) -> Self {
        let at = |time_s| Moment {
            time_s,
            sigma_s: 0.01,
        };
        let (back_s, down_s) = (top_s - takeaway_s, impact_s - top_s);
        Self {
            hand: Handedness::Right,
            probability: 1.0,
            still_from_s: takeaway_s - 0.5 * back_s,
            takeaway: Some(at(takeaway_s)),
            rest_from_s: top_s,
            paused_s: 0.0,
            top: at(top_s),
            near_top_s: (0.25 * back_s, 0.4 * down_s),
            impact: at(impact_s),
            fast_s: impact_s - 0.3 * down_s,
            finish: None,
            end_s: impact_s + 2.0 * down_s,
        }
    }

    /// Seconds of playback from the takeaway to the top, rests at the top and on the way left out.
    pub fn moving_back_s(&self) -> Option<f64> {
        Some(self.rest_from_s - self.takeaway?.time_s - self.paused_s).filter(|s| *s > 0.0)
    }

    /// Seconds of playback from the top to the impact.
    pub fn down_s(&self) -> Option<f64> {
        Some(self.impact.time_s - self.top.time_s).filter(|s| *s > 0.0)
    }

    /// Whether the clip is likelier to play backwards. A swing of the other side is seen then, without an
    /// address: down from the finish, and up to the top in what passes for a follow-through, which is
    /// quicker than it should be, with the chest fastest late.
    pub fn seems_backwards(&self, config: &FindConfig) -> bool {
        let (None, Some(down_s), Some(finish)) = (self.takeaway, self.down_s(), self.finish) else {
            return false;
        };
        let through_s = finish.time_s - self.impact.time_s;
        through_s < config.backwards_through * down_s
            && self.fast_s - self.top.time_s > config.backwards_fast * down_s
    }

    /// From the takeaway, or what is seen first, to the end.
    pub fn begins_s(&self) -> f64 {
        self.takeaway.map_or(self.still_from_s, |t| t.time_s)
    }

    /// The same on another clock: each time over `time_scale`.
    pub fn over(&self, time_scale: f64) -> Self {
        let moment = |m: Moment| Moment {
            time_s: m.time_s / time_scale,
            sigma_s: m.sigma_s / time_scale,
        };
        Self {
            still_from_s: self.still_from_s / time_scale,
            takeaway: self.takeaway.map(moment),
            rest_from_s: self.rest_from_s / time_scale,
            paused_s: self.paused_s / time_scale,
            top: moment(self.top),
            impact: moment(self.impact),
            near_top_s: (
                self.near_top_s.0 / time_scale,
                self.near_top_s.1 / time_scale,
            ),
            fast_s: self.fast_s / time_scale,
            finish: self.finish.map(moment),
            end_s: self.end_s / time_scale,
            ..*self
        }
    }
}
