//! Long-form CSV: one row a reading, ours beside the sensor's, for statistics elsewhere.

use super::{FRAME, SEQUENCE};
use crate::agreement::compare::Comparison;
use crate::agreement::pairing::{Pair, SwingComparison};

/// The header of the table; angles in degrees, times in seconds.
pub const COLUMNS: &str = "swing,player,set_up,time_s,sensor_time_s,event,measure,estimate_deg,estimate_low_deg,estimate_high_deg,sensor_deg";

/// The whole file. Lines with `#` state units, frame and sequence; `event` is empty on the curve.
pub fn long_csv(c: &Comparison) -> String {
    let mut out = format!(
        "# Units: degrees, seconds. time_s: the result's clock; sensor_time_s: the sensor's. Difference = estimate - sensor.\n# Frame: {FRAME}\n# Sequence: {SEQUENCE}\n{COLUMNS}\n"
    );
    for s in &c.swings {
        for (event, at) in &s.at {
            for (measure, p) in at {
                row(&mut out, s, event.key(), measure.key(), p);
            }
        }
        for (measure, pairs) in &s.curve {
            for p in pairs {
                row(&mut out, s, "", measure.key(), p);
            }
        }
    }
    out
}

fn row(out: &mut String, s: &SwingComparison, event: &str, measure: &str, p: &Pair) {
    let cell = |v: Option<f64>| v.map_or_else(String::new, |v| format!("{v:.3}"));
    out.push_str(&format!(
        "{},{},{},{:.6},{:.6},{event},{measure},{:.3},{},{},{:.3}\n",
        quoted(&s.name),
        quoted(s.player.as_deref().unwrap_or("")),
        s.set_up.key(),
        p.time_s,
        p.time_s + s.shift.s,
        p.deg,
        cell(p.ours.low),
        cell(p.ours.high),
        p.sensor,
    ));
}

fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
