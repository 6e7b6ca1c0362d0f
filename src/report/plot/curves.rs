//! Curves of angle against time with their intervals as bands, events as vertical lines.

use maud::{Markup, html};

use super::axes::{Frame, Sheet};
use super::svg::{n, ticks};
use crate::math::stats::bounds;
use crate::report::words;
use crate::result::Estimate;

/// One curve. `class` sets the stroke, which differs in dash as well as colour.
pub struct Line<'a> {
    /// What it shows, as a title.
    pub label: &'a str,
    /// Class of its stroke and band.
    pub class: &'a str,
    /// Times, rising, and values; a gap is a value that can't be told.
    pub points: Vec<(f64, Estimate)>,
}

/// A chart's content. Times are on whatever axis the caller chose.
pub struct CurveChart<'a> {
    /// Identity in the page.
    pub id: &'a str,
    /// What the chart shows, for those who can't see it.
    pub title: &'a str,
    /// The curves, drawn in order.
    pub lines: Vec<Line<'a>>,
    /// Where the vertical lines stand, and their names.
    pub events: Vec<(f64, &'a str)>,
    /// First and last time.
    pub span: (f64, f64),
    /// What the horizontal axis counts ("seconds").
    pub axis: &'a str,
    /// From tick to tick on the horizontal axis.
    pub tick_step: f64,
    /// Written under the axis, or nothing where the event names say it all.
    pub tick_digits: Option<usize>,
}

const SHEET: Sheet = Sheet {
    width: 640.0,
    height: 340.0,
    left: 58.0,
    right: 12.0,
    top: 38.0,
    bottom: 34.0,
};

/// The chart as SVG. A cursor line with class `cursor` is hidden until a script moves it; the data
/// attributes tell the script how time lies on the picture.
pub fn curve_chart(c: &CurveChart) -> Markup {
    let (t0, t1) = c.span;
    let degs = c
        .lines
        .iter()
        .flat_map(|l| &l.points)
        .filter_map(|(_, e)| e.told())
        .flat_map(|(deg, low, high)| [deg, low, high]);
    let (low, high) = bounds(degs.chain([-15.0, 15.0])).unwrap_or_default();
    let (low, high) = ((low / 15.0).floor() * 15.0, (high / 15.0).ceil() * 15.0);
    let frame = Frame {
        sheet: SHEET,
        x: c.span,
        y: (low, high),
    };
    let (x, y) = (|t: f64| frame.px(t), |v: f64| frame.py(v));
    let step = if high - low > 150.0 { 45.0 } else { 15.0 };
    let (right, bottom) = (frame.right(), frame.bottom());
    let path = |run: &Run| frame.path(run.iter().map(|(t, p)| (*t, p.0)));
    let band = |run: &Run| frame.band(run.iter().map(|(t, p)| (*t, p.1, p.2)));
    let Sheet {
        height, left, top, ..
    } = SHEET;
    html! {
        svg.curves id=(c.id) role="img" aria-label=(c.title) viewBox=(SHEET.view_box())
            data-t0=(t0) data-t1=(t1) data-x0=(left) data-x1=(n(right)) {
            @for v in ticks(low, high, step) {
                path.grid.zero[v == 0.0] d=(format!("M{} {}H{}", n(left), n(y(v)), n(right))) {}
                text.tick.end x=(n(left - 6.0)) y=(n(y(v) + 4.0)) { (words::degrees(v)) }
            }
            @if let Some(digits) = c.tick_digits {
                @for t in ticks(t0, t1, c.tick_step) {
                    path.axis d=(format!("M{} {}v4", n(x(t)), n(bottom))) {}
                    text.tick x=(n(x(t))) y=(n(bottom + 16.0)) { (words::decimal(t, digits)) }
                }
            }
            text.tick x=(n(f64::midpoint(left, right))) y=(n(height - 4.0)) { (c.axis) }
            @for (i, (t, name)) in c.events.iter().enumerate() {
                path.event d=(format!("M{} {top}V{}", n(x(*t)), n(bottom))) {}
                // Names of neighbouring events would run into each other on one line.
                text.event-name x=(n(x(*t))) y=(if i % 2 == 0 { 15.0 } else { 32.0 }) { (name) }
            }
            @for line in &c.lines {
                @for run in runs(&line.points) { path class=(format!("band {}", line.class)) d=(band(&run)) {} }
            }
            @for line in &c.lines {
                @for run in runs(&line.points) {
                    path class=(format!("line {}", line.class)) d=(path(&run)) { title { (line.label) } }
                }
            }
            path.cursor visibility="hidden" d=(format!("M0 {top}V{}", n(bottom))) {}
        }
    }
}

type Run = Vec<(f64, (f64, f64, f64))>;

/// Stretches without a gap: a line is never drawn across what can't be told.
fn runs(points: &[(f64, Estimate)]) -> Vec<Run> {
    let mut all: Vec<Run> = Vec::new();
    let mut open = false;
    for (t, e) in points {
        match e.told() {
            Some(p) => {
                if !open {
                    all.push(Vec::new());
                }
                open = true;
                if let Some(run) = all.last_mut() {
                    run.push((*t, p));
                }
            }
            None => open = false,
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_breaks_the_line() {
        let e = Estimate::new(1.0, 0.0, 2.0);
        let points = vec![
            (0.0, e),
            (0.1, e),
            (0.2, Estimate::default()),
            (0.3, e),
            (0.4, e),
        ];
        assert_eq!(
            runs(&points).iter().map(Vec::len).collect::<Vec<_>>(),
            vec![2, 2]
        );
        let svg = curve_chart(&CurveChart {
            id: "c",
            title: "t",
            lines: vec![Line {
                label: "hips",
                class: "pelvis",
                points,
            }],
            events: vec![(0.2, "Top")],
            span: (0.0, 0.4),
            axis: "seconds",
            tick_step: 0.2,
            tick_digits: Some(1),
        })
        .into_string();
        assert_eq!(svg.matches("class=\"line pelvis\"").count(), 2);
    }
}
