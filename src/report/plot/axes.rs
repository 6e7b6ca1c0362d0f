//! Where values lie on a chart, and two axes with round numbers.

use maud::{Markup, html};

use super::svg::{n, round_step, ticks};
use crate::math::stats::bounds;

/// Size of a chart and the room beside what is drawn, for labels; pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Of the whole chart.
    pub width: f64,
    /// Of the whole chart.
    pub height: f64,
    /// Room to the left.
    pub left: f64,
    /// Room to the right.
    pub right: f64,
    /// Room above.
    pub top: f64,
    /// Room below.
    pub bottom: f64,
}

/// The sheet of a plot with two axes of its own.
pub const PLOT: Sheet = Sheet {
    width: 640.0,
    height: 300.0,
    left: 56.0,
    right: 96.0,
    top: 14.0,
    bottom: 44.0,
};

impl Sheet {
    /// What SVG calls so.
    pub fn view_box(&self) -> String {
        format!("0 0 {} {}", n(self.width), n(self.height))
    }
}

/// The scale of one chart on its sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// What it is drawn on.
    pub sheet: Sheet,
    /// Values at the two ends of the horizontal axis.
    pub x: (f64, f64),
    /// Values at the two ends of the vertical axis.
    pub y: (f64, f64),
}

impl Frame {
    /// Holds all values with a little room on a [`PLOT`]; `None` without any.
    pub fn new(x: impl Iterator<Item = f64>, y: impl Iterator<Item = f64>) -> Option<Self> {
        Some(Self {
            sheet: PLOT,
            x: padded(x, 0.02)?,
            y: padded(y, 0.1)?,
        })
    }

    /// Where the drawing ends to the right, pixels.
    pub fn right(&self) -> f64 {
        self.sheet.width - self.sheet.right
    }

    /// Where the drawing ends below, pixels.
    pub fn bottom(&self) -> f64 {
        self.sheet.height - self.sheet.bottom
    }

    /// Where a value of the horizontal axis lies, pixels.
    pub fn px(&self, x: f64) -> f64 {
        let share = (x - self.x.0) / (self.x.1 - self.x.0).max(1e-9);
        self.sheet.left + share * (self.right() - self.sheet.left)
    }

    /// Where a value of the vertical axis lies, pixels.
    pub fn py(&self, y: f64) -> f64 {
        let share = (self.y.1 - y) / (self.y.1 - self.y.0).max(1e-9);
        self.sheet.top + share * (self.bottom() - self.sheet.top)
    }

    /// Path data of a line through points, given as values.
    pub fn path(&self, points: impl Iterator<Item = (f64, f64)>) -> String {
        let points: Vec<String> = points
            .map(|(x, y)| format!("{} {}", n(self.px(x)), n(self.py(y))))
            .collect();
        format!("M{}", points.join("L"))
    }

    /// Path data of the band between two values at each place: place, lower, upper.
    pub fn band(&self, points: impl DoubleEndedIterator<Item = (f64, f64, f64)> + Clone) -> String {
        let upper = points.clone().map(|(x, _, high)| (x, high));
        let lower = points.rev().map(|(x, low, _)| (x, low));
        self.path(upper.chain(lower)) + "Z"
    }

    /// Both axes with round numbers and their names.
    pub fn axes(&self, x_label: &str, y_label: &str) -> Markup {
        let (right, bottom) = (self.right(), self.bottom());
        let Sheet {
            left, top, height, ..
        } = self.sheet;
        html! {
            line.axis x1=(left) y1=(bottom) x2=(right) y2=(bottom) {}
            line.axis x1=(left) y1=(top) x2=(left) y2=(bottom) {}
            @for v in round_ticks(self.x) {
                line.axis x1=(n(self.px(v))) x2=(n(self.px(v))) y1=(bottom) y2=(bottom + 5.0) {}
                text x=(n(self.px(v))) y=(bottom + 19.0) text-anchor="middle" { (tick(v)) }
            }
            @for v in round_ticks(self.y) {
                line.axis x1=(left - 5.0) x2=(left) y1=(n(self.py(v))) y2=(n(self.py(v))) {}
                text x=(left - 8.0) y=(n(self.py(v) + 4.0)) text-anchor="end" { (tick(v)) }
            }
            text x=(f64::midpoint(left, right)) y=(height - 6.0) text-anchor="middle" { (x_label) }
            text transform=(format!("translate(13 {}) rotate(-90)", f64::midpoint(top, bottom))) text-anchor="middle" { (y_label) }
        }
    }
}

fn padded(values: impl Iterator<Item = f64>, pad: f64) -> Option<(f64, f64)> {
    let (low, high) = bounds(values)?;
    let room = ((high - low) * pad).max(1e-3_f64.max(low.abs() * 1e-6));
    Some((low - room, high + room))
}

/// Four to eight round numbers.
fn round_ticks((low, high): (f64, f64)) -> Vec<f64> {
    ticks(low, high, round_step((high - low) / 6.0))
}

fn tick(v: f64) -> String {
    n(v).replace('-', "−")
}
