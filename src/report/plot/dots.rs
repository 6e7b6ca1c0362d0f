//! Several swings on one ruler: each an open ring, their mean a dot with its whisker below them.

use maud::{Markup, html};

use super::svg::{MARGIN, RULER, n, on_ruler, round_step, ticks, whisker};
use crate::math::stats::bounds;
use crate::report::words::{decimal, with_unit};
use crate::terms::Unit;

/// One row of rings with its mean.
pub struct Lane<'a> {
    /// Named at the row where there are several; empty for one.
    pub name: &'a str,
    /// The class of its strokes: empty, `first` or `second`.
    pub class: &'a str,
    /// One for each swing that tells it.
    pub dots: Vec<f64>,
    /// Mean, low and high, where they are told.
    pub mean: Option<(f64, f64, f64)>,
    /// What stands in the mean's place otherwise.
    pub untold: &'a str,
}

/// A ruler with lanes above it.
pub struct Dots<'a> {
    /// Told to those who can't see it.
    pub title: &'a str,
    /// From above down.
    pub lanes: Vec<Lane<'a>>,
    /// Of the numbers.
    pub unit: Unit,
    /// Both ends of the ruler, in the unit.
    pub span: (f64, f64),
}

const RING: f64 = 4.0;
/// Rings nearer than this stand above one another.
const APART: f64 = 2.0 * RING + 0.5;
const MEAN_ROW: f64 = 18.0;
const NAME_ROW: f64 = 14.0;
const SCALE_ROW: f64 = 18.0;

/// A span with round ends that holds all values and a little room.
pub fn dots_span(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let Some((low, high)) = bounds(values) else {
        return (0.0, 1.0);
    };
    let room = ((high - low) * 0.06)
        .max(high.abs().max(low.abs()) * 0.02)
        .max(1e-3);
    let step = step(low - room, high + room);
    let (low, high) = ((low - room) / step, (high + room) / step);
    (low.floor() * step, high.ceil() * step)
}

/// A round step that gives three to seven ticks.
fn step(low: f64, high: f64) -> f64 {
    round_step((high - low).max(1e-6) / 5.0)
}

/// How many rings each of a lane's stands above the line, so that none hides another.
fn stacked(at: &[f64]) -> Vec<usize> {
    let mut order: Vec<(usize, f64)> = at.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    // The last ring of each level.
    let mut last: Vec<f64> = Vec::new();
    let mut levels: Vec<(usize, usize)> = Vec::new();
    for (i, x) in order {
        match last.iter().position(|l| x - l >= APART) {
            Some(row) => {
                last.splice(row..=row, [x]);
                levels.push((i, row));
            }
            None => {
                last.push(x);
                levels.push((i, last.len() - 1));
            }
        }
    }
    levels.sort_unstable();
    levels.into_iter().map(|l| l.1).collect()
}

/// The ruler as SVG.
pub fn dots(d: &Dots) -> Markup {
    let (low, high) = d.span;
    let x = |v: f64| on_ruler(v, d.span);
    let mut top = 0.0;
    let drawn: Vec<(f64, &Lane, Vec<f64>, Vec<usize>)> = d
        .lanes
        .iter()
        .map(|lane| {
            let at: Vec<f64> = lane.dots.iter().map(|v| x(*v)).collect();
            let levels = stacked(&at);
            let rows = levels.iter().max().map_or(1, |m| m + 1);
            let name = if lane.name.is_empty() { 0.0 } else { NAME_ROW };
            // The line that the lowest rings stand on.
            let line = top + name + rows as f64 * APART + 2.0;
            top = line + MEAN_ROW;
            (line, lane, at, levels)
        })
        .collect();
    let scale_at = top + 2.0;
    let step = step(low, high);
    let digits = (-step.log10().floor()).max(0.0) as usize;
    html! {
        svg.ruler.dots role="img" aria-label=(told(d)) viewBox=(format!("0 0 {} {}", n(RULER), n(scale_at + SCALE_ROW))) {
            path.axis d=(format!("M{} {}H{}", n(x(low)), n(scale_at), n(x(high)))) {}
            @for t in ticks(low, high, step) {
                path.axis d=(format!("M{} {}v5", n(x(t)), n(scale_at))) {}
                text.tick x=(n(x(t))) y=(n(scale_at + 15.0)) {
                    (decimal(t, digits)) @if d.unit == Unit::Degrees { "°" }
                }
            }
            @for (line, lane, at, levels) in &drawn {
                (lane_of(*line, lane, at, levels, &x))
            }
        }
    }
}

fn lane_of(line: f64, lane: &Lane, at: &[f64], levels: &[usize], x: &dyn Fn(f64) -> f64) -> Markup {
    let rows = levels.iter().max().map_or(1, |m| m + 1) as f64;
    let y = line + MEAN_ROW * 0.55;
    let kind = |base: &str| format!("{base} {}", lane.class).trim_end().to_owned();
    html! {
        @if !lane.name.is_empty() {
            text.strip-label x=(n(MARGIN)) y=(n(line - rows * APART - 5.0)) { (lane.name) }
        }
        @for (at, level) in at.iter().zip(levels) {
            circle class=(kind("ring")) cx=(n(*at)) cy=(n(line - RING - *level as f64 * APART)) r=(n(RING)) {}
        }
        @match lane.mean {
            Some((mean, low, high)) => {
                path class=(kind("whisker")) d=(whisker(x(low), x(high), y)) {}
                circle class=(kind("dot")) cx=(n(x(mean))) cy=(n(y)) r="4.5" {}
            }
            None => text.strip-label.untold x=(n(MARGIN)) y=(n(y + 4.0)) { "mean: " (lane.untold) },
        }
    }
}

fn told(d: &Dots) -> String {
    let number = |v: f64| with_unit(v, d.unit);
    let lanes: Vec<String> = d
        .lanes
        .iter()
        .map(|l| {
            let each: Vec<String> = l.dots.iter().map(|v| number(*v)).collect();
            let mean = l.mean.map_or_else(
                || l.untold.to_owned(),
                |(m, a, b)| format!("mean {}, from {} to {}", number(m), number(a), number(b)),
            );
            let name = if l.name.is_empty() {
                String::new()
            } else {
                format!("{}: ", l.name)
            };
            format!("{name}swings {}; {mean}", each.join(", "))
        })
        .collect();
    format!("{}: {}", d.title, lanes.join(". "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rings_that_would_hide_one_another_are_stacked() {
        assert_eq!(stacked(&[10.0, 11.0, 12.0, 40.0]), [0, 1, 2, 0]);
        assert_eq!(stacked(&[30.0, 10.0, 20.0]), [0, 0, 0]);
    }

    #[test]
    fn a_span_is_round_and_holds_everything() {
        assert_eq!(dots_span([41.0, 44.0, 58.0]), (35.0, 60.0));
        let (low, high) = dots_span([2.9, 3.2]);
        assert!(
            low <= 2.9 && high >= 3.2 && high - low < 1.0,
            "{low} {high}"
        );
        assert_eq!(dots_span([]), (0.0, 1.0));
    }

    #[test]
    fn the_ruler_tells_its_numbers_to_those_who_cant_see_it() {
        let svg = dots(&Dots {
            title: "Hip turn at the top",
            lanes: vec![Lane {
                name: "",
                class: "",
                dots: vec![40.0, 44.0],
                mean: Some((42.0, 36.0, 48.0)),
                untold: "",
            }],
            unit: Unit::Degrees,
            span: (30.0, 50.0),
        })
        .into_string();
        assert!(
            svg.contains("swings 40°, 44°; mean 42°, from 36° to 48°"),
            "{svg}"
        );
        assert!(svg.contains("cx=\"160\""), "{svg}");
        assert_eq!(svg.matches("ring").count(), 2);
    }
}
