//! Curves of angle against time with their intervals as bands, events as vertical lines.

use std::fmt::Write;

use super::svg::{escape, n, ticks};
use crate::report::words;
use crate::result::Estimate;

/// One curve. `class` sets the stroke, which differs in dash as well as colour.
pub struct Line<'a> {
    pub label: &'a str,
    pub class: &'a str,
    pub points: Vec<(f64, Estimate)>,
}

/// A chart's content. Times are on whatever axis the caller chose.
pub struct CurveChart<'a> {
    pub id: &'a str,
    pub title: &'a str,
    pub lines: Vec<Line<'a>>,
    /// Where the vertical lines stand, and their names.
    pub events: Vec<(f64, &'a str)>,
    pub span: (f64, f64),
    /// What the horizontal axis counts ("seconds").
    pub axis: &'a str,
    pub tick_step: f64,
    /// Written under the axis, or nothing where the event names say it all.
    pub tick_digits: Option<usize>,
}

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 340.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 38.0;
const BOTTOM: f64 = 34.0;

/// The chart as SVG. A cursor line with class `cursor` is hidden until a script moves it; the data
/// attributes tell the script how time lies on the picture.
pub fn curve_chart(c: &CurveChart) -> String {
    let (t0, t1) = c.span;
    let degs = c
        .lines
        .iter()
        .flat_map(|l| &l.points)
        .filter_map(|(_, e)| e.told())
        .flat_map(|(deg, low, high)| [deg, low, high]);
    let (mut low, mut high) = (-15.0_f64, 15.0_f64);
    for v in degs {
        low = low.min(v);
        high = high.max(v);
    }
    low = (low / 15.0).floor() * 15.0;
    high = (high / 15.0).ceil() * 15.0;
    let x = |t: f64| LEFT + (t - t0) / (t1 - t0).max(1e-9) * (WIDTH - LEFT - RIGHT);
    let y = |v: f64| TOP + (high - v) / (high - low) * (HEIGHT - TOP - BOTTOM);
    let mut out = format!(
        "<svg class=\"curves\" id=\"{}\" role=\"img\" aria-label=\"{}\" viewBox=\"0 0 {} {}\" \
         data-t0=\"{t0}\" data-t1=\"{t1}\" data-x0=\"{LEFT}\" data-x1=\"{}\">",
        escape(c.id),
        escape(c.title),
        n(WIDTH),
        n(HEIGHT),
        n(WIDTH - RIGHT)
    );
    let step = if high - low > 150.0 { 45.0 } else { 15.0 };
    for v in ticks(low, high, step) {
        let class = if v == 0.0 { "grid zero" } else { "grid" };
        let _ = write!(
            out,
            "<path class=\"{class}\" d=\"M{} {y}H{}\"/><text class=\"tick end\" x=\"{}\" y=\"{}\">{}</text>",
            n(LEFT),
            n(WIDTH - RIGHT),
            n(LEFT - 6.0),
            n(y(v) + 4.0),
            words::degrees(v),
            y = n(y(v))
        );
    }
    if let Some(digits) = c.tick_digits {
        for t in ticks(t0, t1, c.tick_step) {
            let _ = write!(
                out,
                "<path class=\"axis\" d=\"M{x} {}v4\"/><text class=\"tick\" x=\"{x}\" y=\"{}\">{}</text>",
                n(HEIGHT - BOTTOM),
                n(HEIGHT - BOTTOM + 16.0),
                words::decimal(t, digits),
                x = n(x(t))
            );
        }
    }
    let _ = write!(
        out,
        "<text class=\"tick\" x=\"{}\" y=\"{}\">{}</text>",
        n(f64::midpoint(LEFT, WIDTH - RIGHT)),
        n(HEIGHT - 4.0),
        escape(c.axis)
    );
    for (i, (t, name)) in c.events.iter().enumerate() {
        // Names of neighbouring events would run into each other on one line.
        let row = if i % 2 == 0 { 15.0 } else { 32.0 };
        let _ = write!(
            out,
            "<path class=\"event\" d=\"M{x} {TOP}V{}\"/><text class=\"event-name\" x=\"{x}\" y=\"{row}\">{}</text>",
            n(HEIGHT - BOTTOM),
            escape(name),
            x = n(x(*t))
        );
    }
    for line in &c.lines {
        for run in runs(&line.points) {
            let mut band = String::new();
            for (i, (t, p)) in run.iter().enumerate() {
                let _ = write!(
                    band,
                    "{}{} {}",
                    if i == 0 { "M" } else { "L" },
                    n(x(*t)),
                    n(y(p.2))
                );
            }
            for (t, p) in run.iter().rev() {
                let _ = write!(band, "L{} {}", n(x(*t)), n(y(p.1)));
            }
            let _ = write!(out, "<path class=\"band {}\" d=\"{band}Z\"/>", line.class);
        }
    }
    for line in &c.lines {
        for run in runs(&line.points) {
            let mut d = String::new();
            for (i, (t, p)) in run.iter().enumerate() {
                let _ = write!(
                    d,
                    "{}{} {}",
                    if i == 0 { "M" } else { "L" },
                    n(x(*t)),
                    n(y(p.0))
                );
            }
            let _ = write!(
                out,
                "<path class=\"line {}\" d=\"{d}\"><title>{}</title></path>",
                line.class,
                escape(line.label)
            );
        }
    }
    let _ = write!(
        out,
        "<path class=\"cursor\" visibility=\"hidden\" d=\"M0 {TOP}V{}\"/></svg>",
        n(HEIGHT - BOTTOM)
    );
    out
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
        });
        assert_eq!(svg.matches("class=\"line pelvis\"").count(), 2);
    }
}
