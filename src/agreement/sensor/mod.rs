//! In: bytes of a sensor recording and a mapping. Out: swings on the sensor's clock, degrees.

mod csv_file;
mod derive;
mod load;
mod mapping;
mod markers;

use std::collections::BTreeMap;

use crate::terms::{Event, Measure};

pub use csv_file::read_csv_bytes;
pub use load::{MAX_SENSOR_BYTES, load_sensor};
pub use mapping::{AngleUnit, Axis, ColumnRule, Mapping, TimeRule, TimeUnit};
pub use markers::read_c3d_bytes;

/// One swing as a sensor system saw it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SensorSwing {
    /// Empty where the file doesn't say.
    pub name: String,
    /// Seconds on the sensor's clock, rising.
    pub time_s: Vec<f64>,
    /// Degrees in the project's signs; `None` in a gap. Each has the length of `time_s`.
    pub series: BTreeMap<Measure, Vec<Option<f64>>>,
    /// Seconds on the sensor's clock.
    pub events: BTreeMap<Event, f64>,
    /// How the angles were made from what the file holds, for the page.
    pub notes: Vec<String>,
    /// Markers need the golfer's side to be told before they become angles.
    pub left_handed_series: Option<BTreeMap<Measure, Vec<Option<f64>>>>,
}
