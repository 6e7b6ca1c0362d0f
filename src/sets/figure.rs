//! A number of a set: told with its interval, or not told and why.

use serde::Serialize;

use crate::interval::Ranged;
use crate::report::untold::CANT_TELL;
use crate::report::words::{decimal, with_interval, with_unit};
use crate::terms::Unit;

/// A number with its interval, or the reason why there is none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Figure {
    /// Of use.
    Told(Ranged),
    /// Not to be told.
    Untold {
        /// The reason.
        why: &'static str,
    },
}

/// None of the set's swings tells it.
pub const NO_SWING: Figure = Figure::Untold {
    why: "no swing tells it",
};
/// Its interval is too wide.
pub const TOO_WIDE: Figure = Figure::Untold {
    why: "too unsure to be of use",
};
/// It takes more swings.
pub const TOO_FEW: Figure = Figure::Untold {
    why: "too few swings",
};

impl Figure {
    /// Told where its interval is no wider than `widest`.
    pub fn within(told: Option<Ranged>, widest: f64) -> Self {
        match told {
            None => NO_SWING,
            Some(t) if t.high - t.low > widest => TOO_WIDE,
            Some(t) if (t.low + t.value + t.high).is_finite() => Self::Told(t),
            Some(_) => TOO_WIDE,
        }
    }

    /// The number, where it is told.
    pub fn told(&self) -> Option<Ranged> {
        match self {
            Self::Told(t) => Some(*t),
            Self::Untold { .. } => None,
        }
    }

    /// "41° (37 to 45)", or that it can't be told and why.
    pub fn words(&self, unit: Unit) -> String {
        self.written(unit, "")
    }

    /// The same with a plus before what is above nought, as differences are written.
    pub fn signed(&self, unit: Unit) -> String {
        let digits = unit.decimals();
        let plus = |t: Ranged| t.value > 0.0 && decimal(t.value, digits) != decimal(0.0, digits);
        self.written(
            unit,
            if self.told().is_some_and(plus) {
                "+"
            } else {
                ""
            },
        )
    }

    /// A spread in words. One that is nothing once the measurement's own scatter is taken off is told
    /// by how large it may be.
    pub fn spread_words(&self, unit: Unit) -> String {
        let digits = unit.decimals();
        let nought = |v: f64| decimal(v, digits) == decimal(0.0, digits);
        match self.told() {
            Some(t) if nought(t.high) => {
                let step = 0.1_f64.powi(digits as i32);
                format!("none seen (under {})", with_unit(step, unit))
            }
            Some(t) if nought(t.value) => {
                format!("none seen (at most {})", with_unit(t.high, unit))
            }
            _ => self.words(unit),
        }
    }

    fn written(&self, unit: Unit, plus: &str) -> String {
        match self {
            Self::Told(t) => {
                let told = with_interval((t.value, t.low, t.high), unit);
                format!("{plus}{told}")
            }
            Self::Untold { why } => format!("{CANT_TELL}: {why}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spread_of_nothing_tells_how_large_it_may_be() {
        let told = |value, low, high| {
            Figure::Told(Ranged { value, low, high }).spread_words(Unit::Degrees)
        };
        assert_eq!(told(0.0, 0.0, 0.3), "none seen (under 1°)");
        assert_eq!(told(0.2, 0.0, 4.4), "none seen (at most 4°)");
        assert_eq!(told(2.0, 0.0, 4.4), "2° (0 to 4)");
        let tempo = Figure::Told(Ranged {
            value: 0.0,
            low: 0.0,
            high: 0.004,
        });
        assert_eq!(
            tempo.spread_words(Unit::Seconds),
            "none seen (under 0.01 s)"
        );
        let none = NO_SWING.spread_words(Unit::Degrees);
        assert!(none.contains("no swing tells it"), "{none}");
    }
}
