//! Bland–Altman plots and overlaid curves, inline SVG. Shapes tell events apart, not colours.

use maud::{Markup, html};

use crate::agreement::compare::Comparison;
use crate::agreement::pairing::{Pair, SwingComparison};
use crate::report::plot::{Frame, PLOT, n};
use crate::terms::{Event, Measure};

/// Nothing is drawn between two instants farther apart than this, seconds.
const MAX_GAP_S: f64 = 0.1;

/// A shape for each event.
fn mark(event: Event, x: f64, y: f64) -> Markup {
    match event {
        Event::Address => html! { rect.mark x=(n(x - 4.0)) y=(n(y - 4.0)) width="8" height="8" {} },
        Event::Top => html! { circle.mark cx=(n(x)) cy=(n(y)) r="4.5" {} },
        Event::Impact => {
            html! { path.mark d=(format!("M{} {}l8 8m0 -8l-8 8", n(x - 4.0), n(y - 4.0))) {} }
        }
        Event::Finish => {
            html! { path.mark d=(format!("M{} {}l5 9h-10z", n(x), n(y - 5.0))) {} }
        }
    }
}

pub fn bland_altman(c: &Comparison) -> Markup {
    html! {
        section aria-labelledby="ba" {
            h2 #ba { "Difference against size" }
            p { "One mark a swing and event. Square: address. Circle: top. Cross: impact. Triangle: finish. Solid line: bias over the swing. Dashed: limits of agreement; the brackets beside them are their 95 % intervals." }
            @for (m, a) in &c.measures {
                @let marks: Vec<(Event, &Pair, &str)> = c.swings.iter().flat_map(|s| s.at.iter().filter_map(move |(e, at)| Some((*e, at.get(m)?, s.name.as_str())))).collect();
                @if let (Some(curve), false) = (&a.curve, marks.is_empty()) { (one_bland_altman(*m, &marks, &curve.limits)) }
            }
        }
    }
}

fn one_bland_altman(
    m: Measure,
    marks: &[(Event, &Pair, &str)],
    limits: &crate::agreement::stats::Limits,
) -> Markup {
    let mean = |p: &Pair| f64::midpoint(p.deg, p.sensor);
    let lines = [Some(limits.bias), limits.low, limits.high, Some(0.0)];
    let ys = marks
        .iter()
        .map(|(_, p, _)| p.difference())
        .chain(lines.into_iter().flatten());
    let Some(f) = Frame::new(marks.iter().map(|(_, p, _)| mean(p)), ys) else {
        return html! {};
    };
    let (left, right) = (PLOT.left, f.right());
    let title = format!(
        "{}: difference against mean, {} readings, bias {:+.1} degrees",
        m.words(),
        marks.len(),
        limits.bias
    );
    html! {
        figure {
            h3 { (m.words()) }
            svg viewBox=(PLOT.view_box()) role="img" aria-label=(title) {
                (f.axes("mean of both, degrees", "estimate − sensor, degrees"))
                line.axis x1=(left) x2=(right) y1=(n(f.py(0.0))) y2=(n(f.py(0.0))) {}
                line.bias x1=(left) x2=(right) y1=(n(f.py(limits.bias))) y2=(n(f.py(limits.bias))) {}
                text x=(right + 16.0) y=(n(f.py(limits.bias) + 4.0)) { (format!("bias {:+.1}", limits.bias)) }
                @for (v, i) in [(limits.low, limits.low_interval), (limits.high, limits.high_interval)] {
                    @if let Some(v) = v {
                        line.limit x1=(left) x2=(right) y1=(n(f.py(v))) y2=(n(f.py(v))) {}
                        text x=(right + 16.0) y=(n(f.py(v) + 4.0)) { (format!("{v:+.1}")) }
                    }
                    @if let Some(i) = i {
                        // Drawn no farther than the plot: the table has the numbers.
                        @let (a, b) = (f.py(i.low).min(f.bottom()), f.py(i.high).max(PLOT.top));
                        @if a > b { path.ci d=(format!("M{} {}h5V{}h-5", right + 4.0, n(a), n(b))) {} }
                    }
                }
                @for (e, p, name) in marks {
                    g { title { (format!("{name}, {e}: ours {:.1}, sensor {:.1}", p.deg, p.sensor)) } (mark(*e, f.px(mean(p)), f.py(p.difference()))) }
                }
            }
        }
    }
}

pub fn overlays(c: &Comparison) -> Markup {
    let shown = [
        Measure::ThoraxTurn,
        Measure::PelvisTurn,
        Measure::Separation,
        Measure::ThoraxTurnFromAddress,
        Measure::PelvisTurnFromAddress,
    ];
    html! {
        section aria-labelledby="over" {
            h2 #over { "Curves, one over the other" }
            p { "Solid line with a band: our estimate and its 95 % interval. Dotted: the sensor, on our clock, as recorded (its zero is not moved). Vertical lines: address, top, impact, finish." }
            @for s in &c.swings {
                details open[c.swings.len() <= 3] {
                    summary { strong { (s.name) } " (" (s.set_up.words()) ")" }
                    @for m in shown { @if let Some(pairs) = s.curve.get(&m) {
                        // "From address" is drawn only where there is nothing to the target line.
                        @if !(m == Measure::ThoraxTurnFromAddress && s.curve.contains_key(&Measure::ThoraxTurn)
                            || m == Measure::PelvisTurnFromAddress && s.curve.contains_key(&Measure::PelvisTurn)) {
                            (one_overlay(s, m, pairs))
                        }
                    } }
                }
            }
        }
    }
}

fn one_overlay(s: &SwingComparison, m: Measure, pairs: &[Pair]) -> Markup {
    let ys = pairs.iter().flat_map(|p| {
        [Some(p.deg), Some(p.sensor), p.ours.low, p.ours.high]
            .into_iter()
            .flatten()
    });
    let Some(f) = Frame::new(pairs.iter().map(|p| p.time_s), ys) else {
        return html! {};
    };
    // A gap stays a gap.
    let line = |get: fn(&Pair) -> f64| -> String {
        pairs
            .chunk_by(|a, b| b.time_s - a.time_s <= MAX_GAP_S)
            .map(|run| f.path(run.iter().map(|p| (p.time_s, get(p)))))
            .collect()
    };
    let edges: Vec<(f64, f64, f64)> = pairs
        .iter()
        .filter_map(|p| Some((p.time_s, p.ours.low?, p.ours.high?)))
        .collect();
    let bands: String = edges
        .chunk_by(|a, b| b.0 - a.0 <= MAX_GAP_S)
        .map(|run| f.band(run.iter().copied()))
        .collect();
    let title = format!("{}, {}: our curve and the sensor's", s.name, m.words());
    html! {
        figure {
            figcaption { (m.words()) }
            svg viewBox=(PLOT.view_box()) role="img" aria-label=(title) {
                (f.axes("seconds on our clock", "degrees"))
                @for t in s.events_s.values() {
                    @if f.x.0 <= *t && *t <= f.x.1 { line.event x1=(n(f.px(*t))) x2=(n(f.px(*t))) y1=(PLOT.top) y2=(f.bottom()) {} }
                }
                path.band d=(bands) {}
                path.ours d=(line(|p| p.deg)) {}
                path.theirs d=(line(|p| p.sensor)) {}
                @if let Some(p) = pairs.last() {
                    @let (a, b) = (f.py(p.deg), f.py(p.sensor));
                    @let (a, b) = if (a - b).abs() < 14.0 { if a <= b { (f64::midpoint(a, b) - 7.0, f64::midpoint(a, b) + 7.0) } else { (f64::midpoint(a, b) + 7.0, f64::midpoint(a, b) - 7.0) } } else { (a, b) };
                    text x=(f.right() + 6.0) y=(n(a + 4.0)) { "estimate" }
                    text x=(f.right() + 6.0) y=(n(b + 4.0)) { "sensor" }
                }
            }
        }
    }
}
