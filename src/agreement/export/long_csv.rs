//! Long-form CSV: one row a reading, ours beside the sensor's, for statistics elsewhere.

use super::{FRAME, SEQUENCE};
use crate::agreement::compare::Comparison;
use crate::agreement::pairing::{Pair, SwingComparison};

/// The header of the table; angles in degrees, times in seconds.
pub const COLUMNS: &str = "swing,player,set_up,time_s,sensor_time_s,event,measure,estimate_deg,estimate_low_deg,estimate_high_deg,sensor_deg";

/// The whole file. Lines with `#` state units, frame and sequence; `event` is empty on the curve.
///
/// # Errors
/// Where it can't be written, which memory alone decides.
pub fn long_csv(c: &Comparison) -> csv::Result<Vec<u8>> {
    let head = format!(
        "# Units: degrees, seconds. time_s: the result's clock; sensor_time_s: the sensor's. Difference = estimate - sensor.\n# Frame: {FRAME}\n# Sequence: {SEQUENCE}\n{COLUMNS}\n"
    );
    let mut table = csv::Writer::from_writer(head.into_bytes());
    for s in &c.swings {
        for (event, at) in &s.at {
            for (measure, p) in at {
                table.write_record(row(s, event.key(), measure.key(), p))?;
            }
        }
        for (measure, pairs) in &s.curve {
            for p in pairs {
                table.write_record(row(s, "", measure.key(), p))?;
            }
        }
    }
    table.into_inner().map_err(|e| e.into_error().into())
}

fn row(s: &SwingComparison, event: &str, measure: &str, p: &Pair) -> [String; 11] {
    let number = |v: f64| format!("{v:.3}");
    let cell = |v: Option<f64>| v.map(number).unwrap_or_default();
    [
        s.name.clone(),
        s.player.clone().unwrap_or_default(),
        s.set_up.key().to_owned(),
        format!("{:.6}", p.time_s),
        format!("{:.6}", p.time_s + s.shift.s),
        event.to_owned(),
        measure.to_owned(),
        number(p.deg),
        cell(p.ours.low),
        cell(p.ours.high),
        number(p.sensor),
    ]
}
