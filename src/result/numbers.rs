//! Numbers with their 95 % intervals, each with the word whether it is of use.

use serde::{Deserialize, Serialize};

use super::why::Why;
use crate::interval::Ranged;
use crate::terms::Unit;

/// A number of degrees with its 95 % interval; all `None` where it could not be observed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "EstimateInFile", into = "EstimateInFile")]
pub struct Estimate {
    /// The value, degrees.
    pub deg: Option<f64>,
    /// Low end of the interval, degrees.
    pub low: Option<f64>,
    /// High end of the interval, degrees.
    pub high: Option<f64>,
    /// Why it can't be told, though there may be a value.
    pub why: Option<Why>,
}

impl Estimate {
    /// A value with its interval, of use until it is judged.
    pub fn new(deg: f64, low: f64, high: f64) -> Self {
        Self {
            deg: Some(deg),
            low: Some(low),
            high: Some(high),
            why: None,
        }
    }

    /// The same, not to be told for this reason.
    pub fn because(self, why: impl Into<Option<Why>>) -> Self {
        let why = why.into();
        Self { why, ..self }
    }

    /// The value with its interval, or `None` where any part is missing. For computing on; what is
    /// shown comes from [`told`](Self::told).
    pub fn parts(&self) -> Option<(f64, f64, f64)> {
        Some((self.deg?, self.low?, self.high?))
    }

    /// The value with its interval where it is of use.
    pub fn told(&self) -> Option<(f64, f64, f64)> {
        self.parts().filter(|_| self.why.is_none())
    }

    /// Why there is nothing to tell, where there isn't.
    pub fn untold(&self) -> Option<Why> {
        let none = self.told().is_none();
        none.then(|| self.why.unwrap_or(Why::NotSeen))
    }
}

impl From<Option<Ranged>> for Estimate {
    fn from(angle: Option<Ranged>) -> Self {
        angle.map_or_else(Self::default, |a| Self::new(a.value, a.low, a.high))
    }
}

/// A number with a unit other than degrees, and its 95 % interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "QuantityInFile", into = "QuantityInFile")]
pub struct Quantity {
    /// The value.
    pub value: Option<f64>,
    /// Low end of the interval.
    pub low: Option<f64>,
    /// High end of the interval.
    pub high: Option<f64>,
    /// Its unit.
    pub unit: Unit,
    /// Why it can't be told, though there may be a value.
    pub why: Option<Why>,
}

impl Quantity {
    /// The numbers of an estimate in a unit.
    pub fn of(e: Estimate, unit: Unit) -> Self {
        Self {
            value: e.deg,
            low: e.low,
            high: e.high,
            unit,
            why: e.why,
        }
    }

    fn estimate(&self) -> Estimate {
        Estimate {
            deg: self.value,
            low: self.low,
            high: self.high,
            why: self.why,
        }
    }

    /// The value with its interval where it is of use.
    pub fn told(&self) -> Option<(f64, f64, f64)> {
        self.estimate().told()
    }

    /// Why there is nothing to tell, where there isn't.
    pub fn untold(&self) -> Option<Why> {
        self.estimate().untold()
    }
}

/// A moment on the result's clock with its 95 % interval, seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Moment {
    /// When, seconds.
    pub s: Option<f64>,
    /// Low end of the interval, seconds.
    pub low: Option<f64>,
    /// High end of the interval, seconds.
    pub high: Option<f64>,
}

/// A number that is said to be of no use keeps that, whatever reason is missing.
fn why(usable: Option<bool>, why: Option<Why>) -> Option<Why> {
    match usable {
        Some(false) => Some(why.unwrap_or(Why::TooWide)),
        _ => why,
    }
}

/// What stands in the file of a number, and both ways between them. `usable` is absent in version 1.
macro_rules! in_file {
    ($type:ident as $file:ident { $($field:ident: $of:ty),* }) => {
        #[derive(Serialize, Deserialize)]
        struct $file {
            $($field: $of,)*
            usable: Option<bool>,
            #[serde(default, skip_serializing_if = "Option::is_none")]
            why: Option<Why>,
        }

        impl From<$file> for $type {
            fn from(f: $file) -> Self {
                Self {
                    $($field: f.$field,)*
                    why: why(f.usable, f.why),
                }
            }
        }

        impl From<$type> for $file {
            fn from(n: $type) -> Self {
                Self {
                    $($field: n.$field,)*
                    usable: Some(n.untold().is_none()),
                    why: n.untold(),
                }
            }
        }
    };
}

in_file!(Estimate as EstimateInFile { deg: Option<f64>, low: Option<f64>, high: Option<f64> });
in_file!(Quantity as QuantityInFile {
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    unit: Unit
});
