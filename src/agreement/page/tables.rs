//! The figures.

use maud::{Markup, html};

use crate::agreement::compare::Comparison;
use crate::agreement::learn::Learned;
use crate::agreement::stats::{Coverage, Interval, Limits};
use crate::agreement::summary::with_interval;
use crate::terms::Event;

fn deg(v: Option<f64>) -> String {
    v.map_or_else(|| "–".to_owned(), |v| format!("{v:+.1}"))
}

fn limit(v: Option<f64>, i: Option<Interval>) -> String {
    match (v, i) {
        (Some(v), Some(i)) => format!("{v:+.1} ({:+.1} to {:+.1})", i.low, i.high),
        (v, _) => deg(v),
    }
}

fn inside(c: Option<&Coverage>) -> String {
    match c {
        None => "–".into(),
        Some(c) => match c.interval {
            Some(i) => format!(
                "{} of {} ({:.0} to {:.0} %)",
                c.inside,
                c.n,
                100.0 * i.low,
                100.0 * i.high
            ),
            None => format!("{:.0} %", 100.0 * c.share),
        },
    }
}

pub fn events(c: &Comparison) -> Markup {
    html! {
        section aria-labelledby="at" {
            h2 #at { "At the events" }
            p { "In brackets: 95 % confidence intervals. Limits of agreement hold 95 % of differences. " "ICC(A,1): absolute agreement of single readings, 1 is perfect." }
            @for event in Event::ALL {
                @let rows: Vec<_> = c.measures.iter().filter_map(|(m, a)| Some((m, a.at.get(&event)?))).collect();
                @if !rows.is_empty() {
                    div.scroll { table {
                        caption { strong { "At " (event) } }
                        thead { tr { th scope="col" { "Measure" } th scope="col" { "Swings" } th scope="col" { "Bias" } th scope="col" { "SD" } th scope="col" { "Lower limit" } th scope="col" { "Upper limit" } th scope="col" { "RMSE" } th scope="col" { "MAE" } th scope="col" { "ICC(A,1)" } th scope="col" { "Sensor inside our 95 % interval" } } }
                        tbody { @for (m, e) in rows { tr {
                            th scope="row" { (m.words()) }
                            td { (e.limits.n) @if e.form != "simple" { " (" (e.limits.clusters) " players)" } }
                            (agreement_cells(&e.limits, e.rmse_deg, e.mae_deg))
                            td { @match e.icc { Some(i) => (format!("{:.2} ({:.2} to {:.2})", i.value, i.low, i.high)), None => "–" } }
                            td { (inside(e.coverage.as_ref())) }
                        } } }
                    } }
                }
            }
        }
    }
}

/// Bias, spread, limits and errors, a cell each.
fn agreement_cells(limits: &Limits, rmse_deg: f64, mae_deg: f64) -> Markup {
    html! {
        td { (with_interval(limits)) }
        td { (limits.sd.map_or("–".to_owned(), |v| format!("{v:.1}"))) }
        td { (limit(limits.low, limits.low_interval)) }
        td { (limit(limits.high, limits.high_interval)) }
        td { (format!("{rmse_deg:.1}")) }
        td { (format!("{mae_deg:.1}")) }
    }
}

pub fn curves(c: &Comparison) -> Markup {
    html! {
        section aria-labelledby="curve" {
            h2 #curve { "Over the whole swing, address to finish" }
            p { "Every frame counts, grouped by player where players are named, otherwise by swing. CMC: how nearly the two curves of a swing coincide, 1 is perfect; an offset lowers it; a dash where the curves agree less than chance." }
            div.scroll { table {
                thead { tr { th scope="col" { "Measure" } th scope="col" { "Swings" } th scope="col" { "Bias" } th scope="col" { "SD" } th scope="col" { "Lower limit" } th scope="col" { "Upper limit" } th scope="col" { "RMSE" } th scope="col" { "MAE" } th scope="col" { "CMC, middle swing" } th scope="col" { "Sensor inside our 95 % interval" } } }
                tbody { @for (m, a) in &c.measures { @if let Some(e) = &a.curve { tr {
                    th scope="row" { (m.words()) }
                    td { (e.swings) }
                    (agreement_cells(&e.limits, e.rmse_deg, e.mae_deg))
                    td { (e.cmc_median.map_or("–".to_owned(), |v| format!("{v:.3}"))) }
                    td { (inside(e.coverage.as_ref())) }
                } } } }
            } }
        }
    }
}

pub fn zeros(c: &Comparison) -> Markup {
    html! {
        section aria-labelledby="zero" {
            h2 #zero { "Where the two zeros differ" }
            p { "The difference while the player stands still at address, and the bias that is left over the swing once both are set to zero there. The first may be definition or how the sensor was zeroed; only the second is about following the movement. Nothing was taken off the figures above." }
            div.scroll { table {
                thead { tr { th scope="col" { "Measure" } th scope="col" { "Difference at address" } th scope="col" { "Bias left after zeroing both" } } }
                tbody { @for (m, a) in &c.measures { @if let Some(z) = &a.zero { tr {
                    th scope="row" { (m.words()) }
                    td { (with_interval(&z.at_address)) }
                    td { (z.bias_after.as_ref().map_or("–".to_owned(), with_interval)) }
                } } } }
            } }
        }
    }
}

pub fn clocks(c: &Comparison) -> Markup {
    html! {
        section aria-labelledby="clock" {
            h2 #clock { "The two clocks" }
            p { "Shift: the sensor's clock less ours. Time was never stretched." }
            div.scroll { table {
                thead { tr { th scope="col" { "Swing" } th scope="col" { "Player" } th scope="col" { "Phones" } th scope="col" { "Shift, s (95 % interval)" } th scope="col" { "Found from" } th scope="col" { "Speed correlation" } } }
                tbody { @for s in &c.swings { tr {
                    th scope="row" { (s.name) }
                    td { (s.player.as_deref().unwrap_or("not named")) }
                    td { (s.set_up.words()) }
                    td { (format!("{:+.4} ({:+.4} to {:+.4})", s.shift.s, s.shift.low, s.shift.high)) }
                    td { (s.shift_from) }
                    td { @if s.shift.correlation.is_finite() { (format!("{:.3}", s.shift.correlation)) } @else { "–" } }
                } } }
            } }
            ul { @for s in &c.swings { @for n in &s.notes { li { (s.name) ": " (n) } } } }
        }
    }
}

pub fn learned(learned: &Result<Learned, String>) -> Markup {
    html! {
        section aria-labelledby="learn" {
            h2 #learn { "What this session teaches" }
            @match learned {
                Err(why) => p { (why) },
                Ok(l) => {
                    p { "Coverage: share of sensor readings inside our 95 % interval, each player left out of the learning in turn." }
                    @for v in &l.calibration.views {
                        div.scroll { table {
                            caption { strong { (v.set_up.words()) } ": " (v.evidence.swings) " swings of " (v.evidence.players) " players" }
                            thead { tr { th scope="col" { "Measure" } th scope="col" { "Taken off" } th scope="col" { "Bias seen" } th scope="col" { "Intervals ×" } th scope="col" { "Inside before" } th scope="col" { "Inside after" } } }
                            tbody { @for (m, r) in &v.measures { tr {
                                th scope="row" { (m.words()) }
                                td { @if r.bias_deg == 0.0 { "nothing" } @else { (format!("{:+.1}°", r.bias_deg)) } }
                                td { (format!("{:+.1} to {:+.1}", r.bias_low, r.bias_high)) }
                                td { (format!("{:.2}", r.interval_scale)) }
                                td { (format!("{:.0} %", 100.0 * r.coverage_before)) }
                                td { (format!("{:.0} %", 100.0 * r.coverage_after)) }
                            } } }
                        } }
                    }
                    @if !l.left_out.is_empty() { p { "Not learnt:" } ul { @for w in &l.left_out { li { (w) } } } }
                }
            }
        }
    }
}
