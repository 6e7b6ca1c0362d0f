//! The studio calibration: what a sensor day taught, stored as TOML and applied to later results.

use std::collections::BTreeMap;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::error::{AgreementError, read_bounded};

use crate::result::{Curves, Estimate, SwingResult, write_by_rename};
use crate::terms::{Measure, ViewMode};
use crate::warning::Warning;

pub const SCHEMA: &str = "quarterturn.calibration/1";
const MAX_BYTES: u64 = 1 << 20;

/// How one measure is corrected.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeasureRule {
    /// Taken off the estimate, degrees; 0 where no bias was significant.
    pub bias_deg: f64,
    /// Factor on the distance from the estimate to each end of its interval.
    pub interval_scale: f64,
    /// 95 % interval of the bias that was seen, degrees, over players.
    pub bias_low: f64,
    /// High end of that interval, degrees.
    pub bias_high: f64,
    /// Share of sensor readings inside our intervals, each player left out in turn, 0..1.
    pub coverage_before: f64,
    /// The same share with the rule applied.
    pub coverage_after: f64,
}

/// What the rules of one set-up rest on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Players told apart.
    pub players: usize,
    /// Swings that both measured.
    pub swings: usize,
    /// Over all measures, each player left out in turn.
    pub coverage_before: f64,
    /// The same with the rules applied.
    pub coverage_after: f64,
}

/// The rules for one way of filming.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ViewRule {
    /// Which views they hold for.
    pub set_up: ViewMode,
    /// What they rest on.
    pub evidence: Evidence,
    /// A rule for each measure that could be learnt.
    pub measures: BTreeMap<Measure, MeasureRule>,
}

/// A whole studio calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// Name and version of the format.
    pub schema: String,
    /// Version of the program that learnt it.
    pub tool_version: String,
    /// What the result calls it.
    pub name: String,
    /// Names of the sensor files.
    pub sensor_files: Vec<String>,
    /// Rules by the way of filming.
    pub views: Vec<ViewRule>,
}

impl Calibration {
    /// Reads and checks a file.
    ///
    /// # Errors
    /// [`AgreementError`] where the file can't be read, or what [`from_bytes`](Self::from_bytes) says.
    pub fn read(path: &Path) -> Result<Self, AgreementError> {
        Self::from_bytes(&read_bounded(path, MAX_BYTES)?, path)
    }

    /// Parses the bytes of a calibration file; `path` is for messages only.
    ///
    /// # Errors
    /// [`AgreementError::Bad`] where it is no calibration of this schema, or a value in it is out of range.
    pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<Self, AgreementError> {
        let bad = |detail: String| {
            AgreementError::bad(
                path,
                format!(
                    "not a usable calibration ({detail}). Learn it again with `quarterturn agree --learn`."
                ),
            )
        };
        let text = std::str::from_utf8(bytes).map_err(|_| bad("not UTF-8".into()))?;
        let c: Self = toml::from_str(text).map_err(|e| bad(e.message().to_owned()))?;
        if c.schema != SCHEMA {
            return Err(bad(format!(
                "schema \"{:.60}\" is not \"{SCHEMA}\"",
                c.schema
            )));
        }
        for (m, r) in c.views.iter().flat_map(|v| &v.measures) {
            let sane = r.bias_deg.abs() <= 90.0 && (0.1..=50.0).contains(&r.interval_scale);
            if !sane {
                return Err(bad(format!("{m}: bias or interval_scale is out of range")));
            }
        }
        Ok(c)
    }

    /// Writes the file as a whole, with a head that says what it is.
    ///
    /// # Errors
    /// [`AgreementError`] where the file can't be written.
    pub fn write(&self, path: &Path) -> Result<(), AgreementError> {
        let text =
            toml::to_string_pretty(self).map_err(|e| AgreementError::bad(path, e.to_string()))?;
        let head = "# Studio calibration: bias (estimate − sensor) taken off, and interval scale, by set-up of phones.\n# Degrees. Apply with `quarterturn measure --calibration FILE`.\n\n";
        Ok(write_by_rename(path, format!("{head}{text}").as_bytes())?)
    }

    /// Corrects a result and its curves in place, and says so in it. A result that already
    /// carries a calibration, or a set-up of phones that was never learnt, is left as it is, with
    /// a warning.
    pub fn apply(&self, swing: &mut SwingResult, curves: &mut Curves) {
        let set_up = ViewMode::of(swing.views.iter().map(|v| v.role));
        let found = match self.views.iter().find(|v| v.set_up == set_up) {
            _ if swing.calibration.is_some() => Err("one was applied before".to_owned()),
            Some(view) => Ok(view),
            None => Err(format!("it has nothing for {}", set_up.words())),
        };
        let view = match found {
            Ok(view) => view,
            Err(why) => {
                let name = &self.name;
                swing.warnings.push(Warning::new(
                    "calibration_not_applied",
                    format!("The studio calibration \"{name}\" was not applied: {why}."),
                ));
                return;
            }
        };
        for (measure, rule) in &view.measures {
            for at in swing.at.values_mut() {
                if let Some(e) = at.get_mut(measure) {
                    *e = rule.correct(*e);
                }
            }
            if let Some(series) = curves.series.get_mut(measure) {
                series.iter_mut().for_each(|e| *e = rule.correct(*e));
            }
            if *measure == Measure::Separation {
                swing.peak_separation = swing.peak_separation.map(|e| rule.correct(e));
            }
        }
        let shifted: Vec<String> = view
            .measures
            .iter()
            .filter(|(_, r)| r.bias_deg != 0.0)
            .map(|(m, r)| format!("{} {:+.1}°", m.key().replace('_', " "), -r.bias_deg))
            .collect();
        let told = format!(
            "{}: {}, learnt from {} swings of {} players against sensors; {}; intervals of {} measures re-scaled",
            self.name,
            set_up.words(),
            view.evidence.swings,
            view.evidence.players,
            if shifted.is_empty() {
                "no value moved".to_owned()
            } else {
                format!("moved: {}", shifted.join(", "))
            },
            view.measures
                .values()
                .filter(|r| r.interval_scale != 1.0)
                .count(),
        );
        swing.warnings.push(Warning::new(
            "studio_calibration",
            format!("A studio calibration was applied ({told})."),
        ));
        swing.calibration = Some(told);
    }
}

impl MeasureRule {
    /// An estimate with the bias taken off and its interval re-scaled.
    pub fn correct(&self, e: Estimate) -> Estimate {
        let Some(deg) = e.deg else {
            return e;
        };
        let moved = deg - self.bias_deg;
        Estimate {
            deg: Some(moved),
            low: e.low.map(|low| moved - (deg - low) * self.interval_scale),
            high: e
                .high
                .map(|high| moved + (high - deg) * self.interval_scale),
            why: e.why,
        }
    }
}
