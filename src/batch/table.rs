//! One row of the table of all swings.

use super::planned::SwingKind;
use crate::measure::Refusal;
use crate::result::Estimate;
use crate::terms::{Event, Measure};

/// The turns of the table, each at an event.
pub(super) const COLUMNS: [(Event, Measure); 5] = [
    (Event::Top, Measure::PelvisTurnFromAddress),
    (Event::Top, Measure::ThoraxTurnFromAddress),
    (Event::Top, Measure::Separation),
    (Event::Impact, Measure::PelvisTurnFromAddress),
    (Event::Impact, Measure::ThoraxTurnFromAddress),
];

/// One swing as a row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    pub name: String,
    pub player: Option<String>,
    /// What was tried, as typed in; may be empty.
    pub label: String,
    /// The picture that shows it, below the result's folder: `stills/face_on_top.jpg`.
    pub still: Option<String>,
    /// `2026-05-14 09:03`, UTC; empty where no clip tells.
    pub date: String,
    pub created_unix_s: Option<f64>,
    pub kind: Option<SwingKind>,
    pub views: String,
    pub turns: Vec<Estimate>,
    pub warnings: Vec<String>,
    /// Why there are no numbers.
    pub nothing: Option<Refusal>,
}
