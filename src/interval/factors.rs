//! Calibrated scale factors of intervals, by way of filming, measure and event.
//!
//! Split conformal prediction (Vovk et al. 2005; Lei et al. 2018): on calibration clips, the
//! normalised scores |estimate − truth| / (1.96 σ) are ranked, and the ⌈(n+1)·0.95⌉-th is the
//! factor by which 1.96 σ must be scaled for 95 % of new clips of the same kind.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use crate::terms::{Event, Measure, ViewMode};

/// Half-width of a normal 95 % interval in standard deviations.
pub const Z95: f64 = 1.959_964;

/// One calibrated factor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Factor {
    mode: ViewMode,
    measure: Measure,
    /// The event, or absent for all events and the curve.
    #[serde(default)]
    event: Option<Event>,
    scale: f64,
    /// Number of calibration scores it rests on.
    n: usize,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    made: String,
    factors: Vec<Factor>,
}

/// All factors.
#[derive(Clone, Debug, PartialEq)]
pub struct Factors {
    file: File,
    default_scale: f64,
}

static BUILT_IN: LazyLock<Option<File>> =
    LazyLock::new(|| toml::from_str(include_str!("../../pipelines/calibration.toml")).ok());

impl Factors {
    /// The factors that come with the program; `default_scale` where none is on record.
    pub fn built_in(default_scale: f64) -> Self {
        let file = BUILT_IN.clone().unwrap_or(File {
            made: String::new(),
            factors: Vec::new(),
        });
        Self {
            file,
            default_scale,
        }
    }

    /// No scaling: propagated variances as they are; for calibration itself.
    pub fn unit() -> Self {
        Self {
            file: File {
                made: String::new(),
                factors: Vec::new(),
            },
            default_scale: 1.0,
        }
    }

    /// Factor for a measure at an event; for the curve with `None`.
    pub fn scale(&self, mode: ViewMode, measure: Measure, event: Option<Event>) -> f64 {
        let find = |e: Option<Event>| {
            self.file
                .factors
                .iter()
                .find(|f| f.mode == mode && f.measure == measure && f.event == e)
                .map(|f| f.scale)
        };
        event
            .and_then(|e| find(Some(e)))
            .or_else(|| find(None))
            .unwrap_or(self.default_scale)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_file_is_valid() {
        assert!(BUILT_IN.is_some());
    }

    #[test]
    fn an_events_own_factor_comes_before_the_general_one() {
        let factor = |event, scale| Factor {
            mode: ViewMode::FaceOn,
            measure: Measure::PelvisTurn,
            event,
            scale,
            n: 16,
        };
        let f = Factors {
            file: File {
                made: String::new(),
                factors: vec![factor(None, 2.0), factor(Some(Event::Top), 3.0)],
            },
            default_scale: 1.0,
        };
        assert_eq!(
            f.scale(ViewMode::FaceOn, Measure::PelvisTurn, Some(Event::Top)),
            3.0
        );
        assert_eq!(
            f.scale(ViewMode::FaceOn, Measure::PelvisTurn, Some(Event::Impact)),
            2.0
        );
        assert_eq!(f.scale(ViewMode::TwoView, Measure::PelvisTurn, None), 1.0);
    }
}
