//! Small pieces that the charts share.

use maud::{Markup, html};

/// A coordinate with at most two decimals; never NaN in the output.
pub fn n(v: f64) -> String {
    let v = if v.is_finite() { v } else { 0.0 };
    let mut s = format!("{v:.2}");
    while s.contains('.') && (s.ends_with('0') || s.ends_with('.')) {
        s.pop();
    }
    if s == "-0" { "0".into() } else { s }
}

/// Patterns that every chart on a page refers to; once per page.
pub fn definitions() -> Markup {
    html! {
        svg.defs width="0" height="0" aria-hidden="true" focusable="false" {
            defs {
                @for (id, turn) in [("hatch-a", 45), ("hatch-b", -45)] {
                    pattern id=(id) width="5" height="5" patternUnits="userSpaceOnUse"
                        patternTransform=(format!("rotate({turn})")) { path.hatch d="M0 0V5" {} }
                }
            }
        }
    }
}

/// The round number next above a rough one.
pub fn round_step(rough: f64) -> f64 {
    let magnitude = 10_f64.powf(rough.log10().floor());
    let steps = [1.0, 2.0, 5.0].map(|m| m * magnitude);
    let step = steps.into_iter().find(|s| *s >= rough);
    step.unwrap_or(magnitude * 10.0)
}

/// Width of a ruler and the room at its ends, pixels.
pub const RULER: f64 = 320.0;
/// That room.
pub const MARGIN: f64 = 14.0;

/// Where a value lies on a ruler of this span, pixels.
pub fn on_ruler(v: f64, (low, high): (f64, f64)) -> f64 {
    let share = ((v - low) / (high - low).max(1e-9)).clamp(-0.02, 1.02);
    MARGIN + share * (RULER - 2.0 * MARGIN)
}

/// Path data of a whisker from one end to the other, pixels.
pub fn whisker(from: f64, to: f64, y: f64) -> String {
    let (l, h, y, top, ends) = (n(from), n(to), n(y), n(y - 5.0), n(y + 5.0));
    format!("M{l} {y}H{h}M{l} {top}V{ends}M{h} {top}V{ends}")
}

/// Ticks at multiples of `step` within a span.
pub fn ticks(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last.min(first + 200))
        .map(|i| i as f64 * step)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short_and_never_no_number() {
        assert_eq!(n(f64::NAN), "0");
        assert_eq!(
            (n(1.0), n(-0.001), n(2.345)),
            ("1".into(), "0".into(), "2.35".into())
        );
        assert_eq!(ticks(-31.0, 61.0, 30.0), vec![-30.0, 0.0, 30.0, 60.0]);
    }
}
