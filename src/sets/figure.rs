//! A number of a set: told with its interval, or not told and why.

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use super::mean::Told;
use crate::report::untold::CANT_TELL;
use crate::report::words::decimal;
use crate::terms::Unit;

/// A number with its interval, or the reason why there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Figure {
    /// Of use.
    Told(Told),
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
    pub fn within(told: Option<Told>, widest: f64) -> Self {
        match told {
            None => Self::Untold(NO_SWING),
            Some(t) if t.high - t.low > widest => Self::Untold(TOO_WIDE),
            Some(t) if (t.low + t.value + t.high).is_finite() => Self::Told(t),
            Some(_) => Self::Untold(TOO_WIDE),
        }
    }

    /// The number, where it is told.
    pub fn told(&self) -> Option<Told> {
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
        let plus = |t: Told| t.value > 0.0 && decimal(t.value, digits) != decimal(0.0, digits);
        self.written(
            unit,
            if self.told().is_some_and(plus) {
                "+"
            } else {
                ""
            },
        )
    }

    fn written(&self, unit: Unit, plus: &str) -> String {
        let number = |v: f64| decimal(v, unit.decimals());
        match self {
            Self::Told(t) => format!(
                "{plus}{}{} ({} to {})",
                number(t.value),
                unit.suffix(),
                number(t.low),
                number(t.high)
            ),
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
