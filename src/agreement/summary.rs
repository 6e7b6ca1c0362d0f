//! The comparison as JSON and as sentences.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};

use super::compare::Comparison;
use super::shift::Shift;
use super::stats::Limits;
use crate::terms::ViewMode;

/// Fewer independent swings than this and limits of agreement are themselves hardly known.
const FEW: usize = 10;

/// One object for scripts: over the curve, `n` counts swings; bias = estimate − sensor;
/// shift = sensor's clock − ours.
pub fn headline_json(c: &Comparison) -> Value {
    let mut measures = Map::new();
    for (m, a) in &c.measures {
        let (n, l, coverage) = match &a.curve {
            Some(curve) => (curve.swings, &curve.limits, &curve.coverage),
            None => match a.at.values().max_by_key(|e| e.limits.n) {
                Some(e) => (e.limits.n, &e.limits, &e.coverage),
                None => continue,
            },
        };
        measures.insert(
            m.key().to_owned(),
            json!({
                "n": n,
                "bias_deg": l.bias,
                "bias_low": l.bias_interval.map(|i| i.low),
                "bias_high": l.bias_interval.map(|i| i.high),
                "limits_low": l.low,
                "limits_high": l.high,
                "coverage": coverage.map(|c| c.share),
            }),
        );
    }
    let shift = |s: &Shift| json!({"shift_s": s.s, "shift_low": s.low, "shift_high": s.high});
    let swings = c.swings.iter().map(|s| (s.name.clone(), shift(&s.shift)));
    json!({"measures": measures, "swings": swings.collect::<Map<_, _>>()})
}

/// Everything, for `agreement.json`.
pub fn full_json(c: &Comparison) -> Value {
    let swings: Vec<Value> = c
        .swings
        .iter()
        .map(|s| {
            json!({
                "name": s.name,
                "player": s.player,
                "set_up": s.set_up,
                "shift_s": s.shift.s,
                "shift_low": s.shift.low,
                "shift_high": s.shift.high,
                "shift_from": s.shift_from,
                "speed_correlation": s.shift.correlation,
                "rate_error": s.shift.rate_error.map(|r| r.0),
                "rate_error_half_width": s.shift.rate_error.map(|r| r.1),
                "zero_deg": s.zero_deg,
                "notes": s.notes,
            })
        })
        .collect();
    let left_out = c.left_out.iter();
    let left_out = left_out.map(|(name, why)| json!({"name": name, "why": why}));
    json!({
        "schema": "quarterturn.agreement/1",
        "tool_version": env!("CARGO_PKG_VERSION"),
        "units": "degrees and seconds; bias = estimate − sensor, shift = sensor's clock − ours",
        "headline": headline_json(c),
        "measures": c.measures,
        "swings": swings,
    "left_out": left_out.collect::<Vec<_>>(),
        "players": c.players,
        "words": written_words(c),
        "notes": c.notes,
    })
}

/// What can and can't be concluded, in sentences for a coach.
pub fn written_words(c: &Comparison) -> Vec<String> {
    let mut words = Vec::new();
    let n = c.swings.len();
    match n {
        0 => words.push("No swing could be compared.".to_owned()),
        1 => words.push("One swing: its differences are shown, but there are no limits of agreement and no interval for the bias. A second swing is the least that gives either.".to_owned()),
        _ if n < FEW => words.push(format!("{n} swings: the limits of agreement are themselves very uncertain, as their intervals show. Ten swings or more, from several players, make them useful.")),
        _ => {}
    }
    if n > 1 {
        match c.players {
            0 => words.push("Nobody was named, so that swings of one player could not be told from those of several. Type players in when measuring, or list them under [players] of the mapping.".to_owned()),
            1 => words.push("All swings are of one player: how well others would agree can't be concluded.".to_owned()),
            p if p < n => words.push(format!("{p} players, {n} swings: intervals count players, not swings, because swings of one player resemble each other.")),
            _ => {}
        }
    }
    if n > 0 && n < 3 {
        words.push("Fewer than three swings: no ICC.".to_owned());
    }
    let set_ups: BTreeSet<ViewMode> = c.swings.iter().map(|s| s.set_up).collect();
    if set_ups.len() > 1 {
        let mixed: Vec<&str> = set_ups.into_iter().map(ViewMode::words).collect();
        words.push(format!(
            "Swings seen by different phones are mixed here ({}): agreement of each can differ.",
            mixed.join(", ")
        ));
    }
    if c.swings.iter().any(|s| s.already_calibrated) {
        words.push("Some of these swings were measured with a studio calibration already applied: this shows agreement after it.".to_owned());
    }
    for (m, a) in &c.measures {
        if let Some(zero) = &a.zero
            && let Some(i) = zero.at_address.bias_interval
            && (i.low > 1.0 || i.high < -1.0)
        {
            words.push(format!(
                "{}: the two zeros differ by {:+.1}° at address. Of the bias, this may be definition or how the sensor was zeroed, not error; what is left after it is {}.",
                m.key().replace('_', " "),
                zero.at_address.bias,
                zero.bias_after_deg.map_or("unknown".to_owned(), |b| format!("{b:+.1}°"))
            ));
        }
    }
    words
}

/// "−1.2 (−3.0 to 0.6)" or with a dash where there is none.
pub fn with_interval(l: &Limits) -> String {
    match l.bias_interval {
        Some(i) => format!("{:+.1} ({:+.1} to {:+.1})", l.bias, i.low, i.high),
        None => format!("{:+.1}", l.bias),
    }
}
