//! In: the clips of one swing and options. Out: the swing measured, through all the rooms.

mod alone;
mod assemble;
mod clock;
mod closer;
mod driver;
mod entries;
mod geometry;
mod inconsistency;
mod measured;
mod moments;
mod nothing;
mod options;
mod overlay;
mod pace;
mod placement;
mod prepare;
mod unwind;

pub use alone::{CLIP_NOT_USED, OTHER_CLIP, OTHER_FOLDER};
pub use closer::{closer_looks, may_show_a_swing, shows_a_swing};
pub use driver::{measure_swing, measure_tracks};
pub use measured::Measured;
pub use nothing::{Nothing, Refusal};
pub use options::{Known, MeasureError, Options};
