//! The closer looks. Reasons stand in `pipelines/two-view.toml`.

use serde::{Deserialize, Serialize};

/// `[look]`: where a swing is read closely: windows round its moments, in parts of its downswing's time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LookConfig {
    /// Windows reach this many of a moment's standard deviations to either side,
    pub sigmas: f64,
    /// and at least so far before the top,
    pub before_top: f64,
    /// after the impact,
    pub after_impact: f64,
    /// to either side of the takeaway,
    pub round_takeaway: f64,
    /// and to either side of the finish.
    pub round_finish: f64,
    /// Longest step between frames that are read, from top to impact,
    pub step_down: f64,
    /// at the takeaway and where readings contradict each other,
    pub step_takeaway: f64,
    /// and at the finish.
    pub step_finish: f64,
    /// A reading of the chest's turn this far from the middle of its neighbours asks for those between
    /// them, degrees.
    pub contradiction_deg: f64,
    /// Longest time between those neighbours.
    pub contradiction_within: f64,
    /// Where no swing was found, a movement at least this probable is read whole before it is given up.
    pub least_probability: f64,
    /// Who may swing at all is asked with the odds of a swing (log) raised by this much,
    pub may_odds: f64,
    /// and, by joints alone, by this much.
    pub may_odds_by_joints: f64,
}
