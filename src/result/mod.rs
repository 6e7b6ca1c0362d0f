//! In: measures with intervals. Out: `swing.json` and `curves.csv`, versioned, written by rename,
//! and read back with every number checked. The types here are what every later room shows.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod clock;
mod curves;
mod name_pattern;
mod naming;
mod numbers;
mod retype;
mod role_names;
mod store;
mod stored;
mod swing_file;
mod told;
mod typed_in;
mod usable;
mod why;

pub use clock::{Clock, ClockFrom};
pub use curves::Curves;
pub use name_pattern::NamePattern;
pub use naming::{is_folder_name, no_formula, stem, swing_name};
pub use numbers::{Estimate, Moment, Quantity};
pub use retype::rewrite_typed_in;
pub use role_names::split_role;
pub use store::{
    PART, ResultError, folders_in, part_folder, read_curves, read_curves_bytes, read_swing,
    read_swing_bytes, swing_folders, write_by_rename, write_json, write_result,
};
pub use stored::StoredSwing;
pub use swing_file::{
    Between, CameraEntry, SCHEMA, SCHEMA_1, SwingResult, Tempo, TurnSpeed, ViewEntry,
};
pub use told::Told;
pub use typed_in::{Lesson, NOTES_MAX, NoDay, TEXT_MAX, TypedIn};
pub use usable::{judge, widest_deg};
pub use why::Why;

/// A result of two views that version 1 wrote, for tests.
#[cfg(test)]
pub(crate) const OLD: &str = include_str!("../../tests/old_results/version_1_swing.json");

/// The same as it is read.
#[cfg(test)]
pub(crate) fn old_swing() -> SwingResult {
    read_swing_bytes(OLD.as_bytes(), "old".as_ref()).expect("a result")
}
