//! In: nothing. Out: the words that every room uses for one thing: where a phone stands, the
//! moments of a swing, the hands, units, and the table of measures.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod keyed;
mod measures;
mod names;
mod unit;

pub(crate) use keyed::keyed;
pub use measures::{ANGLES, Angle, Headline, Measure, MeasureSpec, MoreLess, Tells};
pub use names::{Event, Handedness, Role, ViewMode};
pub use unit::Unit;
