//! In: measured swings that belong together by player, lesson and label. Out: their means and spreads
//! with intervals, two such sets compared, one player's lessons in a row; pages, tables and words of them.
//!
//! What the swings of one session share of their errors does not average away: it was learnt from
//! pairs of swings with known truth (`[[shared]]` of pipelines/calibration.toml). docs/sets.md.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

pub mod contrast;
pub mod export;
pub mod figure;
pub mod mean;
pub mod number;
pub mod over;
pub mod page;
pub mod reading;
pub mod select;
pub mod set;
pub mod spread;
pub mod story;
pub mod typed;
mod write;

pub use contrast::TwoSets;
pub use over::Course;
pub use select::{NoSet, Wanted, read, read_of};
pub use set::{Filmed, Row, SetSwing, SwingSet};
pub use write::{
    SetsError, c3d, csv, json_of_course, json_of_set, json_of_two, write_progress, write_set,
    write_two,
};
