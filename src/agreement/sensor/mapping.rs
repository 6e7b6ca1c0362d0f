//! A mapping file: other column names, signs, units, rates, swing names and marker labels.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;

use crate::agreement::error::{AgreementError, read_bounded};
use crate::terms::{Event, Measure, keyed};

const MAX_MAPPING_BYTES: u64 = 1 << 20;

/// Unit of a column of angles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum AngleUnit {
    /// Degrees.
    #[default]
    Deg,
    /// Radians.
    Rad,
    /// Whole turns.
    Rev,
}

impl AngleUnit {
    /// A value of this unit in degrees.
    pub fn to_degrees(self, v: f64) -> f64 {
        match self {
            Self::Deg => v,
            Self::Rad => v.to_degrees(),
            Self::Rev => v * 360.0,
        }
    }
}

/// Unit of the time column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TimeUnit {
    /// Seconds.
    #[default]
    S,
    /// Milliseconds.
    Ms,
    /// Microseconds.
    Us,
    /// Sample numbers; needs `rate_hz`.
    Frames,
}

/// Where times come from.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeRule {
    /// Column with the time; `time_s` when absent. With `rate_hz` alone, rows are counted.
    pub column: Option<String>,
    /// Unit of that column.
    #[serde(default)]
    pub unit: TimeUnit,
    /// Samples a second, where rows or samples are counted.
    pub rate_hz: Option<f64>,
}

/// Where a measure comes from.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ColumnRule {
    /// Name of the column.
    pub column: String,
    /// Unit of its angles.
    #[serde(default)]
    pub unit: AngleUnit,
    /// 1 or −1.
    #[serde(default = "plus")]
    pub sign: i8,
}

fn plus() -> i8 {
    1
}

keyed! {
    /// A direction of the laboratory frame.
    pub enum Axis {
        /// Along x.
        PlusX = "+x",
        /// Against x.
        MinusX = "-x",
        /// Along y.
        PlusY = "+y",
        /// Against y.
        MinusY = "-y",
        /// Along z.
        PlusZ = "+z",
        /// Against z.
        MinusZ = "-z",
    }
}

impl Axis {
    /// The unit vector.
    pub fn vector(self) -> nalgebra::Vector3<f64> {
        use nalgebra::Vector3 as V;
        match self {
            Self::PlusX => V::x(),
            Self::MinusX => -V::x(),
            Self::PlusY => V::y(),
            Self::MinusY => -V::y(),
            Self::PlusZ => V::z(),
            Self::MinusZ => -V::z(),
        }
    }
}

/// A whole mapping file; see docs/agreement.md for an example.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Mapping {
    /// Where times come from.
    pub time: TimeRule,
    /// Column that names the swing of each row.
    pub swing_column: String,
    /// Column that names an event on the row where it happens.
    pub event_column: String,
    /// One character between cells: "," ";" or a tab.
    pub delimiter: String,
    /// "." or ",".
    pub decimal: String,
    /// Lines to pass over before the header.
    pub skip_lines: usize,
    /// Cell texts that mean "no value", besides an empty cell.
    pub missing: Vec<String>,
    /// Measure name to column.
    pub columns: BTreeMap<Measure, ColumnRule>,
    /// The file's word for an event to ours.
    pub events: BTreeMap<String, Event>,
    /// The file's name of a swing to the name of the measured swing.
    pub swings: BTreeMap<String, String>,
    /// Name of the measured swing to who swung.
    pub players: BTreeMap<String, String>,
    /// Wu's landmark to the file's marker label.
    pub labels: BTreeMap<String, String>,
    /// Laboratory direction of the target line.
    pub target_axis: Axis,
    /// Laboratory direction up.
    pub up_axis: Axis,
}

impl Default for Mapping {
    fn default() -> Self {
        Self {
            time: TimeRule::default(),
            swing_column: "swing".into(),
            event_column: "event".into(),
            delimiter: ",".into(),
            decimal: ".".into(),
            skip_lines: 0,
            missing: vec!["nan".into(), "null".into(), "na".into()],
            columns: BTreeMap::new(),
            events: BTreeMap::new(),
            swings: BTreeMap::new(),
            players: BTreeMap::new(),
            labels: BTreeMap::new(),
            target_axis: Axis::PlusX,
            up_axis: Axis::PlusZ,
        }
    }
}

impl Mapping {
    /// Reads and checks a mapping file.
    ///
    /// # Errors
    /// [`AgreementError`] where the file can't be read, or what [`from_bytes`](Self::from_bytes) says.
    pub fn read(path: &Path) -> Result<Self, AgreementError> {
        Self::from_bytes(&read_bounded(path, MAX_MAPPING_BYTES)?, path)
    }

    /// Parses the bytes of a mapping file; `path` is for messages only.
    ///
    /// # Errors
    /// [`AgreementError::Bad`] with the line or the value that makes no sense.
    pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<Self, AgreementError> {
        let bad = |detail: String| AgreementError::bad(path, detail);
        let text = std::str::from_utf8(bytes)
            .map_err(|_| bad("not UTF-8 text. Save the mapping as UTF-8.".into()))?;
        let map: Self = toml::from_str(text).map_err(|e| {
            let at = e.to_string().trim().replace('\n', " ");
            bad(format!(
                "{at}. Compare it with the example in docs/agreement.md."
            ))
        })?;
        map.check().map_err(bad)?;
        Ok(map)
    }

    fn check(&self) -> Result<(), String> {
        if self.delimiter.len() != 1 {
            return Err("delimiter must be one character, such as \";\".".into());
        }
        if self.decimal != "." && self.decimal != "," {
            return Err("decimal must be \".\" or \",\".".into());
        }
        if self.decimal == self.delimiter {
            return Err("delimiter and decimal are the same character. Change one.".into());
        }
        if let Some(rate) = self.time.rate_hz
            && !(rate.is_finite() && rate > 0.0 && rate <= 100_000.0)
        {
            return Err(format!(
                "time.rate_hz = {rate} is not a rate in samples a second. Correct it."
            ));
        }
        if self.time.unit == TimeUnit::Frames && self.time.rate_hz.is_none() {
            return Err("time.unit = \"frames\" needs time.rate_hz. Add it.".into());
        }
        for (m, c) in &self.columns {
            if c.sign != 1 && c.sign != -1 {
                return Err(format!("columns.{m}.sign must be 1 or -1."));
            }
        }
        let up = self.up_axis.vector();
        if self.target_axis.vector().dot(&up).abs() > 0.5 {
            return Err("target_axis and up_axis lie along the same line. Change one.".into());
        }
        Ok(())
    }

    /// Our event for the file's word.
    pub fn event(&self, word: &str) -> Option<Event> {
        self.events.get(word).copied().or_else(|| {
            Event::ALL
                .into_iter()
                .find(|e| e.key() == word.to_lowercase())
        })
    }

    /// The marker label that holds a landmark.
    pub fn label<'a>(&'a self, landmark: &'a str) -> &'a str {
        self.labels.get(landmark).map_or(landmark, String::as_str)
    }
}
