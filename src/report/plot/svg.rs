//! Small pieces that the charts share.

use std::fmt::Write;

/// Escapes text for element content and attribute values.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

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
pub fn definitions() -> String {
    let mut out = String::from(
        "<svg class=\"defs\" width=\"0\" height=\"0\" aria-hidden=\"true\" focusable=\"false\"><defs>",
    );
    for (id, turn) in [("hatch-a", 45), ("hatch-b", -45)] {
        let _ = write!(
            out,
            "<pattern id=\"{id}\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate({turn})\"><path d=\"M0 0V5\" class=\"hatch\"/></pattern>"
        );
    }
    out.push_str("</defs></svg>");
    out
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
    fn text_cannot_leave_its_place() {
        assert_eq!(
            escape("<a b=\"c\">&'"),
            "&lt;a b=&quot;c&quot;&gt;&amp;&#39;"
        );
        assert_eq!(n(f64::NAN), "0");
        assert_eq!(
            (n(1.0), n(-0.001), n(2.345)),
            ("1".into(), "0".into(), "2.35".into())
        );
        assert_eq!(ticks(-31.0, 61.0, 30.0), vec![-30.0, 0.0, 30.0, 60.0]);
    }
}
