//! The curves of one swing: every measure at every frame of the first view.

use std::collections::BTreeMap;

use super::numbers::Estimate;
use crate::terms::Measure;

/// Curves on the result's clock. Every series has the length of `time_s`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curves {
    /// The first view's frame times, seconds on the result's clock.
    pub time_s: Vec<f64>,
    /// Every measure along them, degrees.
    pub series: BTreeMap<Measure, Vec<Estimate>>,
}
