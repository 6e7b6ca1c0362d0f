//! A measure as a dot with a whisker on a ruler in degrees, reference ranges as hatched strips.

use maud::{Markup, html};

use super::svg::{MARGIN, RULER, n, on_ruler, ticks, whisker};
use crate::math::stats::bounds;
use crate::report::references::Extent;
use crate::report::words;
use crate::result::Estimate;

/// A reference range on a ruler.
pub struct Strip {
    /// What stands beside it.
    pub label: String,
    /// Where it lies, degrees.
    pub extent: Extent,
}

/// What one ruler shows. `span` is in degrees.
pub struct Ruler<'a> {
    /// What the ruler shows, for those who can't see it.
    pub title: &'a str,
    /// The measure, or two of them when swings are compared; drawn above one another.
    pub marks: Vec<(&'a str, Estimate)>,
    /// Ranges, drawn one below the other.
    pub strips: Vec<Strip>,
    /// Its two ends, degrees.
    pub span: (f64, f64),
}

const MARK_ROW: f64 = 20.0;
const STRIP_ROW: f64 = 13.0;
const SCALE_ROW: f64 = 18.0;

/// A span for one measure that holds everything drawn for it, whole tens, at least 60° wide.
pub fn ruler_span(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let (low, high) = bounds(values.into_iter().chain([0.0])).unwrap_or_default();
    let low = ((low - 5.0) / 15.0).floor() * 15.0;
    let mut high = ((high + 5.0) / 15.0).ceil() * 15.0;
    while high - low < 60.0 {
        high += 15.0;
    }
    (low, high)
}

/// The ruler as SVG, with everything it shows in its title for those who can't see it.
pub fn ruler(r: &Ruler) -> Markup {
    let (low, high) = r.span;
    let x = |deg: f64| on_ruler(deg, r.span);
    let marks_at = r.strips.len() as f64 * STRIP_ROW + 2.0;
    let scale_at = marks_at + r.marks.len().max(1) as f64 * MARK_ROW;
    let height = scale_at + SCALE_ROW;
    let told: Vec<String> = r
        .marks
        .iter()
        .map(|(who, e)| {
            if who.is_empty() {
                words::estimate_or_why(e)
            } else {
                format!("{who} {}", words::estimate_or_why(e))
            }
        })
        .collect();
    let title = format!("{}: {}", r.title, told.join("; "));
    let edges = r.strips.iter().flat_map(|s| match s.extent {
        Extent::Strip { low, high } => [x(low), x(high)],
        Extent::About(at) => [x(at), x(at)],
    });
    let (left, right) = bounds(edges).unwrap_or_default();
    // Labels go to whichever side of all strips has room.
    let label = if left + right < RULER {
        (right + 4.0, "start")
    } else {
        (left - 4.0, "end")
    };
    let step = match high - low {
        wide if wide > 180.0 => 45.0,
        wide if wide > 90.0 => 30.0,
        _ => 15.0,
    };
    html! {
        svg.ruler role="img" aria-label=(title) viewBox=(format!("0 0 {} {}", n(RULER), n(height))) {
            @for (i, s) in r.strips.iter().enumerate() { (strip(s, i, &x, scale_at, label)) }
            path.axis d=(format!("M{} {}H{}", n(x(low)), n(scale_at), n(x(high)))) {}
            @for t in ticks(low, high, 15.0) {
                @let long = (t / step).fract() == 0.0;
                path.axis d=(format!("M{} {}v{}", n(x(t)), n(scale_at), if long { 5 } else { 3 })) {}
                @if long { text.tick x=(n(x(t))) y=(n(scale_at + 15.0)) { (words::degrees(t)) } }
            }
            @for (i, (who, e)) in r.marks.iter().enumerate() {
                (mark(who, e, marks_at + (i as f64 + 0.5) * MARK_ROW, &x))
            }
        }
    }
}

fn strip(
    strip: &Strip,
    row: usize,
    x: &dyn Fn(f64) -> f64,
    bottom: f64,
    (at, anchor): (f64, &str),
) -> Markup {
    let top = row as f64 * STRIP_ROW + 1.0;
    let hatch = if row.is_multiple_of(2) { "a" } else { "b" };
    html! {
        @match strip.extent {
            Extent::Strip { low, high } => {
                rect.strip fill=(format!("url(#hatch-{hatch})")) x=(n(x(low))) y=(n(top))
                    width=(n(x(high) - x(low))) height=(n(bottom - top)) {}
            }
            Extent::About(deg) => path.about d=(format!("M{} {}V{}", n(x(deg)), n(top), n(bottom))) {}
        }
        text.strip-label text-anchor=(anchor) x=(n(at)) y=(n(top + 9.0)) { (strip.label) }
    }
}

fn mark(who: &str, e: &Estimate, y: f64, x: &dyn Fn(f64) -> f64) -> Markup {
    let Some((deg, low, high)) = e.told() else {
        let told = format!("{who} {}", words::estimate_or_why(e));
        return html! { text.strip-label.untold x=(n(MARGIN)) y=(n(y + 4.0)) { (told.trim()) } };
    };
    let (l, h) = (x(low), x(high));

    // The name stands where there is room.
    let (at, anchor) = if h < RULER * 0.72 {
        (h + 5.0, "start")
    } else {
        (l - 5.0, "end")
    };
    html! {
        path.whisker d=(whisker(l, h, y)) {}
        circle.dot cx=(n(x(deg))) cy=(n(y)) r="4" {}
        @if !who.is_empty() {
            text.strip-label text-anchor=(anchor) x=(n(at)) y=(n(y + 4.0)) { (who) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_dot_stands_where_the_number_says() {
        let svg = ruler(&Ruler {
            title: "Hip turn",
            marks: vec![("", Estimate::new(30.0, 25.0, 35.0))],
            strips: vec![],
            span: (0.0, 60.0),
        })
        .into_string();
        assert!(svg.contains("cx=\"160\""), "{svg}");
        assert!(svg.contains("Hip turn: 30° (25 to 35)"), "{svg}");
    }

    #[test]
    fn a_span_holds_everything_and_zero() {
        assert_eq!(ruler_span([88.0, 95.0]), (-15.0, 105.0));
        let (low, high) = ruler_span([-90.0, 12.0, f64::NAN]);
        assert!(low <= -90.0 && high >= 12.0);
        assert!(ruler_span([]).1 - ruler_span([]).0 >= 60.0);
    }
}
