//! In: what the networks saw in one clip. Out: a [`Take`]: every swing in it with its probability,
//! its moments with their spread, and its side, all in the file's own time.
//!
//! Swings are found by geometry and order: a path through standing at address, backswing, a rest at
//! the top, downswing, follow-through and finish. Nothing here asks how long a second of playback is.

mod evidence;
mod fill;
mod knots;
mod moments;
mod path;
mod phases;
mod reversal;
mod signals;
mod take;

pub use phases::{Moment, Phases};
pub use reversal::{Coordinate, Window, fit_reversal};
pub use signals::{Signals, signals};
pub use take::{Take, find_take, find_take_by, find_take_in, find_take_of};
