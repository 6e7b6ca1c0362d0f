//! Two axes with round numbers, and where values lie between them.

use maud::{Markup, html};

/// Size of a plot, pixels.
pub const WIDTH: f64 = 640.0;
pub const HEIGHT: f64 = 300.0;
/// Room beside what is drawn, for labels, pixels.
pub const LEFT: f64 = 56.0;
pub const RIGHT: f64 = 96.0;
pub const TOP: f64 = 14.0;
pub const BOTTOM: f64 = 44.0;

/// The scale of one plot.
pub struct Frame {
    /// Values at the two ends of each axis.
    pub x: (f64, f64),
    pub y: (f64, f64),
}

impl Frame {
    /// Holds all values with a little room; `None` without any.
    pub fn new(x: impl Iterator<Item = f64>, y: impl Iterator<Item = f64>) -> Option<Self> {
        Some(Self {
            x: padded(x, 0.02)?,
            y: padded(y, 0.1)?,
        })
    }

    /// Where a value lies, pixels.
    pub fn px(&self, x: f64) -> f64 {
        LEFT + (x - self.x.0) / (self.x.1 - self.x.0) * (WIDTH - LEFT - RIGHT)
    }

    pub fn py(&self, y: f64) -> f64 {
        HEIGHT - BOTTOM - (y - self.y.0) / (self.y.1 - self.y.0) * (HEIGHT - TOP - BOTTOM)
    }

    pub fn axes(&self, x_label: &str, y_label: &str) -> Markup {
        let (right, bottom) = (WIDTH - RIGHT, HEIGHT - BOTTOM);
        html! {
            line.axis x1=(LEFT) y1=(bottom) x2=(right) y2=(bottom) {}
            line.axis x1=(LEFT) y1=(TOP) x2=(LEFT) y2=(bottom) {}
            @for v in ticks(self.x) {
                line.axis x1=(r(self.px(v))) x2=(r(self.px(v))) y1=(bottom) y2=(bottom + 5.0) {}
                text x=(r(self.px(v))) y=(bottom + 19.0) text-anchor="middle" { (tick(v)) }
            }
            @for v in ticks(self.y) {
                line.axis x1=(LEFT - 5.0) x2=(LEFT) y1=(r(self.py(v))) y2=(r(self.py(v))) {}
                text x=(LEFT - 8.0) y=(r(self.py(v) + 4.0)) text-anchor="end" { (tick(v)) }
            }
            text x=(f64::midpoint(LEFT, right)) y=(HEIGHT - 6.0) text-anchor="middle" { (x_label) }
            text transform=(format!("translate(13 {}) rotate(-90)", f64::midpoint(TOP, bottom))) text-anchor="middle" { (y_label) }
        }
    }
}

fn padded(values: impl Iterator<Item = f64>, pad: f64) -> Option<(f64, f64)> {
    let (low, high) = values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
    if low > high {
        return None;
    }
    let room = ((high - low) * pad).max(1e-3_f64.max(low.abs() * 1e-6));
    Some((low - room, high + room))
}

/// Four to eight round numbers.
fn ticks((low, high): (f64, f64)) -> Vec<f64> {
    let rough = (high - low) / 6.0;
    let magnitude = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * magnitude)
        .find(|s| *s >= rough)
        .unwrap_or(magnitude * 10.0);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last.min(first + 12))
        .map(|i| i as f64 * step)
        .collect()
}

fn tick(v: f64) -> String {
    let text = format!("{v:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.replace('-', "−")
    }
}

/// A tenth of a pixel is enough.
pub fn r(v: f64) -> f64 {
    (v * 10.0).round() / 10.0
}
