//! A number of a set: told with its interval, or not told and why.

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use crate::interval::Ranged;
use crate::report::untold::CANT_TELL;
use crate::report::words::{decimal, with_interval, with_unit};
use crate::terms::Unit;

/// A number with its interval, or the reason why there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Figure {
    /// Of use.
    Told(Ranged),
    /// Not to be told.
    Untold(&'static str),
}

/// Why a figure can't be told.
pub const NO_SWING: &str = "no swing tells it";
/// The same.
pub const TOO_WIDE: &str = "too unsure to be of use";
/// The same.
pub const TOO_FEW: &str = "too few swings";

impl Figure {
    /// Told where its interval is no wider than `widest`.
    pub fn within(told: Option<Ranged>, widest: f64) -> Self {
        match told {
            None => Self::Untold(NO_SWING),
            Some(t) if t.high - t.low > widest => Self::Untold(TOO_WIDE),
            Some(t) if (t.low + t.value + t.high).is_finite() => Self::Told(t),
            Some(_) => Self::Untold(TOO_WIDE),
        }
    }

    /// The number, where it is told.
    pub fn told(&self) -> Option<Ranged> {
        match self {
            Self::Told(t) => Some(*t),
            Self::Untold(_) => None,
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
            Self::Untold(why) => format!("{CANT_TELL}: {why}"),
        }
    }
}

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut map = s.serialize_map(None)?;
        match self {
            Self::Told(t) => {
                map.serialize_entry("value", &t.value)?;
                map.serialize_entry("low", &t.low)?;
                map.serialize_entry("high", &t.high)?;
            }
            Self::Untold(why) => map.serialize_entry("why", why)?,
        }
        map.end()
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
        let none = Figure::Untold(NO_SWING).spread_words(Unit::Degrees);
        assert!(none.contains(NO_SWING), "{none}");
    }
}
