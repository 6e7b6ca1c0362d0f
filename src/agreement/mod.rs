//! In: measured swings and a sensor session (CSV or C3D). Out: how far they agree, as a report, a
//! page and exports; and a studio calibration that re-scales later intervals.
//! Sensor clocks and zeros are estimated and shown, never corrected silently.
//! Its numbers are the method that docs/agreement.md tells, not settings: a studio that could move them
//! would move the yardstick with what it measures.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

pub mod align;
pub mod c3d;
mod calibration;
mod compare;
mod error;
pub mod export;
pub mod interpolate;
mod learn;
mod load;
pub mod page;
mod pairing;
mod refine;
pub mod sensor;
mod shift;
pub mod stats;
mod summary;

pub use calibration::{Calibration, Evidence, MeasureRule, ViewRule};
pub use compare::{AtEvent, Comparison, CurveAgreement, MeasureAgreement, ZeroOffset, compare};
pub use error::AgreementError;
pub use learn::{Learned, learn};
pub use load::load_results;
pub use pairing::{Pair, SwingComparison};
pub use shift::{Shift, TurnPair};
pub use summary::{full_json, headline_json, written_words};
