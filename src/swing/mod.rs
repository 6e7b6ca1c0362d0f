//! In: segments and joints over time. Out: events with intervals in time, and the measures.

mod angles;
mod events;
mod speed;
mod sway;
mod tempo;

pub use angles::{AngleTable, Body, Limbs, Read, line_turn};
pub use events::{Clues, EventTime, Events, ImpactFrom, find_events};
pub use speed::{Peak, turn_and_rate};
pub use sway::sway;
pub use tempo::{Openings, Sure, Tempo, largest_in_downswing, openings, tempo};
