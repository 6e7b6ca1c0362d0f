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
