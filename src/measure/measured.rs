//! What comes of a swing.

use std::collections::BTreeMap;

use crate::body::Overlay;
use crate::config::Evidence;
use crate::result::{Curves, SwingResult};
use crate::terms::{Event, Measure};

/// A measured swing and what is needed to draw it.
#[derive(Clone, Debug)]
pub struct Measured {
    /// What goes into `swing.json`.
    pub result: SwingResult,
    /// What goes into `curves.csv`.
    pub curves: Curves,
    /// What is drawn over each view's frames.
    pub overlays: Vec<Overlay>,
    /// What the intervals' learnt score was told, by event and measure.
    pub evidence: BTreeMap<Event, BTreeMap<Measure, Evidence>>,
    /// The other clip alone, where two were given that do not show one swing.
    pub other: Option<Box<Measured>>,
}
