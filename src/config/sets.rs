//! Sets of swings.

use serde::{Deserialize, Serialize};

/// What is told of several swings together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SetsConfig {
    /// Fewest swings whose spread is told.
    pub spread_fewest: usize,
    /// Widest interval of a spread that is told, as a share of the width from which the measure itself is of no use.
    pub spread_width_share: f64,
    /// A difference within this share of that width counts as none; of angles `report.compare_same_deg` says it.
    pub same_share: f64,
    /// Most swings a set that are asked for.
    pub swings_most: usize,
    /// Most swings whose films are shown side by side.
    pub films_most: usize,
}
