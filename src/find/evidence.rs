//! How well a stretch between knots looks like a part of a swing, as logarithms of odds against a
//! body that does anything else. All lengths are in golfer heights or turns, all times in ratios.

use nalgebra::Vector2;

use super::knots::{Knots, distance};
use crate::config::FindConfig;

/// Log of a Student density (three degrees of freedom) without its constant: what is odd counts
/// against, and what is very odd not without bound.
fn student(z: f64) -> f64 {
    -2.0 * (1.0 + z * z / 3.0).ln()
}

/// The same where only what falls short is odd.
fn at_least(value: f64, usual: f64, spread: f64) -> f64 {
    student(((value - usual) / spread).min(0.0))
}

/// The same where only what goes beyond is odd.
fn at_most(value: f64, usual: f64, spread: f64) -> f64 {
    student(((value - usual) / spread).max(0.0))
}

/// The same by a law that bodies keep: what falls short is as improbable as of a normal error.
fn lawful_at_least(value: f64, usual: f64, spread: f64) -> f64 {
    let z = ((value.max(1e-6) / usual).ln() / spread).min(0.0);
    -0.5 * z * z
}

fn log_ratio(value: f64, usual: f64, spread: f64) -> f64 {
    student((value.max(1e-6) / usual).ln() / spread)
}

/// The same where only what falls short is odd.
fn log_at_least(value: f64, usual: f64, spread: f64) -> f64 {
    student(((value.max(1e-6) / usual).ln() / spread).min(0.0))
}

/// The swing that begins at one knot: what its later parts are compared with.
pub struct Start<'a> {
    pub knots: &'a Knots,
    pub config: &'a FindConfig,
    pub a: usize,
    pub hands: Vector2<f64>,
    pub turn: f64,
    /// Whether the address is in the clip; else it is what the impact says it was.
    pub seen: bool,
}

/// What lies between an address and an impact.
#[derive(Clone, Copy, Debug, Default)]
pub struct Way {
    /// Farthest that hands and chest are from the address.
    pub farthest: f64,
    /// Most that the chest is turned from it, radians.
    pub turned: f64,
    /// Longest rest after the top, seconds of playback.
    pub rest_s: f64,
}

/// A backswing that ends at a knot.
#[derive(Clone, Copy, Debug)]
pub struct Back {
    pub t: usize,
    /// Where the rest at the top begins; `t` without one.
    pub rest: usize,
    pub turned: f64,
    pub moved: f64,
    /// Seconds of playback from the takeaway to the rest at the top, without a rest on the way.
    pub moving_s: f64,
    /// Where the longest stillness soon after the takeaway begins, and how long it is, in parts of the
    /// time that the backswing moves.
    pub stood: Option<(usize, f64)>,
    pub score: f64,
}

impl<'a> Start<'a> {
    /// `None` where the hands are too high or too far apart for an address.
    pub fn new(knots: &'a Knots, a: usize, config: &'a FindConfig) -> Option<Self> {
        let k = knots.all.get(a)?;
        let fits = k.hands.y < config.address_highest && k.apart < config.apart_most;
        fits.then_some(Self {
            knots,
            config,
            a,
            hands: k.hands,
            turn: k.turn,
            seen: true,
        })
    }

    /// The swing of a clip that begins after the takeaway: hands come back to where they were at
    /// address, so the pose at an impact at knot `i` tells it. `None` where no impact looks so.
    pub fn unseen(knots: &'a Knots, i: usize, config: &'a FindConfig) -> Option<Self> {
        let k = Self::new(knots, i, config)?;
        Some(Self {
            a: 0,
            turn: k.turn + config.impact_open_deg.to_radians(),
            seen: false,
            ..k
        })
    }

    /// Standing at address: the hands hang before the body.
    pub fn score(&self) -> f64 {
        let c = self.config;
        let odds = if self.seen {
            0.0
        } else {
            -c.address_unseen_odds
        };
        odds + student((self.hands.y + c.address_below) / c.address_height_spread)
    }

    /// A way that has knot `k` in it too.
    pub fn over(&self, way: Way, k: usize) -> Way {
        Way {
            farthest: way.farthest.max(self.away(k)),
            turned: way.turned.max(self.turned(k)),
            ..way
        }
    }

    fn turned(&self, k: usize) -> f64 {
        self.knots.all[k].turn - self.turn
    }

    fn moved(&self, k: usize) -> f64 {
        (self.knots.all[k].hands - self.hands).norm()
    }

    /// The backswing from here to knot `t`. `None` where it is none at all.
    pub fn back(&self, t: usize) -> Option<Back> {
        let (k, c) = (self.knots, self.config);
        // Seen along the line, hands come down again in the picture as they go behind the head.
        let most = |of: &dyn Fn(usize) -> f64| (self.a..=t).map(of).fold(f64::MIN, f64::max);
        let (turned, moved) = (self.turned(t), most(&|j| self.moved(j)));
        if turned < c.least_turn_deg.to_radians() || moved < c.least_moved {
            return None;
        }
        let still = c.rest_share * moved.hypot(c.turn_weight * turned);
        let rest = (self.a..=t)
            .rev()
            .take_while(|j| k.distance(*j, t, c) < still)
            .last()
            .unwrap_or(t);
        let time = |i: usize| k.all[i].time_s;
        // A backswing slows down before it turns: only what lasts is a rest.
        let long = time(t) - time(rest) > c.rest_least * (time(rest) - time(self.a));
        let rest = if long { rest } else { t };
        let taken_s = time(rest) - time(self.a);
        if taken_s <= 0.0 && self.seen {
            return None;
        }
        let pause_s = k.pause_s(self.a, rest, c);
        // The turn and the hands go one way: what they wander besides speaks against.
        let wander = (k.hands_way[t] - k.hands_way[self.a]) / moved;
        let waver = (k.turn_way[t] - k.turn_way[self.a]) / turned;
        let rise = k.all[t].hands.y - self.hands.y;
        let before = if self.seen {
            self.before(rest, taken_s)
        } else {
            0.0
        };
        let resting = if rest < t || pause_s > 0.0 {
            -c.rest_odds
        } else {
            0.0
        };
        let score = log_at_least(turned.to_degrees(), c.back_turn_deg, c.back_turn_spread)
            + log_at_least(self.moved(t), c.back_moved, c.back_moved_spread)
            + at_least(rise, c.back_rise, c.back_rise_spread)
            + at_most(wander, c.wander, c.wander_spread)
            + at_most(waver, c.waver, c.waver_spread)
            + before
            + resting
            + at_most(k.apart(self.a, t), c.apart, c.apart_spread);
        Some(Back {
            t,
            rest,
            turned,
            moved,
            moving_s: taken_s - pause_s,
            stood: self.stood(rest, taken_s),
            score,
        })
    }

    /// The longest stillness near the address in a backswing to knot `rest` that takes `taken_s`.
    fn stood(&self, rest: usize, taken_s: f64) -> Option<(usize, f64)> {
        let (k, c) = (self.knots, self.config);
        if !self.seen {
            return None;
        }
        let near = c.stood_way * self.away(rest);
        let still_s = |j: usize| k.rest_s(j);
        let j = (self.a..rest)
            .take_while(|j| self.away(*j) < near)
            .max_by(|i, j| still_s(*i).total_cmp(&still_s(*j)))?;
        // Stillness in the pose that it began with is the address itself.
        if self.away(j) < c.same_pose_steps * k.step {
            return None;
        }
        Some((j, still_s(j) / (taken_s - still_s(j)).max(1e-6)))
    }

    /// Who steps up to the ball and stands, then swings, begins where they stood: hands come back to that
    /// place sooner than to where they were before it.
    fn begins_later(&self, back: &Back, i: usize) -> f64 {
        let (k, c) = (self.knots, self.config);
        let Some((j, long)) = back.stood else {
            return 0.0;
        };
        let place = k.all[j + 1].hands;
        let nearer = k.nearest_pass(i, self.hands) - k.nearest_pass(i, place);
        let share = 1.0 / (1.0 + (-nearer / c.stood_nearer).exp());
        share * at_most(long, c.stood, c.stood_spread)
    }

    /// How still it is before a backswing to knot `rest` that takes `taken_s`.
    fn before(&self, rest: usize, taken_s: f64) -> f64 {
        let (k, c) = (self.knots, self.config);
        let time = |i: usize| k.all[i].time_s;
        let before_s = c.before_share * taken_s;
        let seen_s = (time(self.a) - before_s).max(time(0));
        let way = k.way[rest] - k.way[self.a];
        if time(self.a) - seen_s < 0.2 * before_s {
            // A movement from rest grows with time squared: who is under way at once began before.
            let first = k.way_at(time(self.a) + c.start_share * taken_s) - k.way[self.a];
            let at_once = at_most(first / way.max(1e-9), c.start_way, c.start_way_spread);
            return at_once - c.before_unseen_odds;
        }
        let speed = (k.way[self.a] - k.way_at(seen_s)) / (time(self.a) - seen_s);
        at_most(
            speed / (way / taken_s).max(1e-9),
            c.before_speed,
            c.before_speed_spread,
        )
    }

    /// Distance of knot `k`'s pose from the address.
    pub fn away(&self, k: usize) -> f64 {
        let pose = &self.knots.all[k];
        distance(
            (self.hands, self.turn),
            (pose.hands, pose.turn),
            self.config,
        )
    }

    /// The downswing after `back` to an impact at knot `i`, over `way`. `None` where it is none at all.
    pub fn down(&self, back: &Back, i: usize, way: &Way) -> Option<f64> {
        let (k, c) = (self.knots, self.config);
        let turned = self.turned(i);
        let miss = k.nearest_pass(i, self.hands) / back.moved;
        if back.turned - turned < 0.5 * back.turned || miss > c.miss_most {
            return None;
        }
        let down_s = k.all[i].time_s - k.all[back.t].time_s;
        if down_s <= 0.0 {
            return None;
        }
        // The top is where hands and chest, or a chest that turned one way alone, are farthest away.
        let wavered = (k.turn_way[back.t] - k.turn_way[self.a]) / back.turned;
        let by_chest = back.turned / way.turned * (c.waver / wavered).min(1.0);
        let gone = (self.away(back.t) / way.farthest).max(by_chest);
        let mean = (k.way[i] - k.way[back.t]) / down_s;
        let wander = (k.hands_way[i] - k.hands_way[back.t]) / back.moved;
        let waver = (k.turn_way[i] - k.turn_way[back.t]) / (back.turned - turned);
        Some(
            at_least(gone, c.top_farthest, c.top_farthest_spread)
                + at_most(way.rest_s / down_s, c.down_rest, c.down_rest_spread)
                + at_most(miss, c.miss, c.miss_spread)
                + student((turned.to_degrees() + c.impact_open_deg) / c.impact_open_spread_deg)
                + self.tempo(back, down_s)
                + at_least(
                    (k.speed(i) / mean).ln(),
                    c.impact_speed,
                    c.impact_speed_spread,
                )
                + at_most(wander, c.wander, c.wander_spread)
                + at_most(waver, c.waver, c.waver_spread)
                + log_ratio(down_s, c.usual_downswing_s, c.downswing_seconds_spread)
                // Hands are swung by the chest: arms that only come down leave it where it was.
                + lawful_at_least(
                    (back.turned - turned).to_degrees() / back.moved,
                    c.open_per_height_deg,
                    c.open_per_height_spread,
                )
                + self.standing(back.t, i)
                + self.begins_later(back, i)
                // And they do not stop at the ball.
                + at_most(
                    k.dwell_s(i, c.dwell_way * self.away(back.t), c) / down_s,
                    c.dwell,
                    c.dwell_spread,
                ),
        )
    }

    /// At an impact at knot `i` the hands are as low as anywhere after the top, where they were no
    /// lower than `lowest` before it.
    pub fn lowest(&self, i: usize, lowest: f64) -> f64 {
        let (k, c) = (self.knots, self.config);
        let y = k.all[i].hands.y;
        let after = k.all.get(i + 1).map_or(y, |n| n.hands.y);
        at_most(y - lowest.min(after), c.impact_low, c.impact_low_spread)
    }

    /// Who was at address in the clip began there: hands that had been where they are at impact before a
    /// top, `nearest` to it, speak against a clip that begins later.
    pub fn never_stood(&self, nearest: f64, moved: f64) -> f64 {
        let c = self.config;
        at_least(nearest / moved, c.begun_away, c.begun_away_spread)
    }

    /// Who swings stands: the feet stay where they were, the trunk stays over the hips.
    fn standing(&self, t: usize, i: usize) -> f64 {
        let (k, c) = (&self.knots.all, self.config);
        let moved = (k[i].feet - k[self.a].feet).norm();
        let trunk = k[t].trunk.min(k[i].trunk);
        let leaning = ((trunk - c.trunk_upright) / c.trunk_upright_spread).min(0.0);
        at_most(moved, c.feet_moved, c.feet_moved_spread) - 0.5 * leaning * leaning
    }

    fn tempo(&self, back: &Back, down_s: f64) -> f64 {
        if !self.seen {
            return 0.0;
        }
        log_ratio(
            back.moving_s / down_s,
            self.config.tempo,
            self.config.tempo_spread,
        )
    }

    /// The follow-through from an impact at `i` to its end at `f`.
    pub fn through(&self, i: usize, f: usize) -> Option<f64> {
        let (k, c) = (self.knots, self.config);
        let opened = self.turned(i) - self.turned(f);
        let taken_s = k.all[f].time_s - k.all[i].time_s;
        let moved = (k.all[f].hands - k.all[i].hands).norm();
        if taken_s <= 0.0 || opened < 0.5 * c.least_turn_deg.to_radians() {
            return None;
        }
        let mean = (k.way[f] - k.way[i]) / taken_s;
        let after_s = c.before_share * taken_s;
        let end_s = k.all[k.len() - 1].time_s.min(k.all[f].time_s + after_s);
        let after = if end_s - k.all[f].time_s < 0.2 * after_s {
            -c.before_unseen_odds
        } else {
            let speed = (k.way_at(end_s) - k.way[f]) / (end_s - k.all[f].time_s);
            at_most(
                speed / mean.max(1e-9),
                c.before_speed,
                c.before_speed_spread,
            )
        };
        let waver = (k.turn_way[f] - k.turn_way[i]) / opened;
        Some(
            log_at_least(
                opened.to_degrees(),
                c.through_turn_deg,
                c.through_turn_spread,
            ) + log_at_least(moved, c.back_moved, c.through_moved_spread)
                + log_ratio(
                    mean / k.speed(i).max(1e-9),
                    c.through_speed,
                    c.through_speed_spread,
                )
                + at_most(waver, c.waver, 2.0 * c.waver_spread)
                + after,
        )
    }

    /// A clip that ends soon after the impact at `i`.
    pub fn cut_off(&self, back: &Back, i: usize) -> f64 {
        let (k, c) = (self.knots, self.config);
        let down_s = k.all[i].time_s - k.all[back.t].time_s;
        let left_s = k.all[k.len() - 1].time_s - k.all[i].time_s;
        -c.cut_off_odds + at_most(left_s / down_s.max(1e-6), c.cut_off_after, 0.5)
    }
}

/// Log odds that a strike at `strike_s` is the impact at `impact_s`, with the downswing's length as
/// the measure of how far off is far.
pub fn struck(strikes_s: &[f64], impact_s: f64, down_s: f64, config: &FindConfig) -> f64 {
    strikes_s
        .iter()
        .map(|s| (s - impact_s) / (config.strike_spread * down_s.max(1e-6)))
        .map(|z| config.strike_odds * (-0.5 * z * z).exp())
        .fold(0.0, f64::max)
}
