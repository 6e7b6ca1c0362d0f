//! Tempo, speed and order of the two turns, and the separation's peak.

use maud::{Markup, html};

use super::PageInput;
use crate::report::untold::CANT_TELL;
use crate::report::words;
use crate::result::Quantity;

pub fn section(input: &PageInput) -> Markup {
    let swing = input.swing;
    let row = |name: &str, q: &Quantity| {
        html! { tr { th scope="row" { (name) } td { (words::quantity_or_why(q)) } } }
    };
    html! {
        @if swing.tempo.is_some() || swing.turn_speed.is_some() || swing.peak_separation.is_some() {
            section.tempo aria-labelledby="h-tempo" {
                h2 #h-tempo { "Tempo and order" }
                table {
                    @if let Some(t) = &swing.tempo {
                        (row("Takeaway to top", &t.backswing))
                        (row("Top to impact", &t.downswing))
                        (row("Ratio, back to down", &t.ratio))
                    }
                    @if let Some(s) = &swing.turn_speed {
                        (row("Fastest opening of the hips", &s.pelvis))
                        (row("Fastest opening of the shoulders (rib cage)", &s.thorax))
                        (row("Hips' peak less shoulders' peak", &s.pelvis_before_thorax))
                        tr { th scope="row" { "Which peaked first" } td { (first(&s.first)) } }
                    }
                    @if let Some(p) = &swing.peak_separation {
                        tr { th scope="row" { "Largest separation, top to impact" } td { (words::estimate_or_why(p))
                            @if let Some(m) = &swing.peak_separation_at { " at " (super::when(swing, m)) } } }
                    }
                    @if let Some(m) = &swing.pelvis_top { tr { th scope="row" { "Hips stop going back" } td { (super::when(swing, m)) } } }
                    @if let Some(m) = &swing.thorax_top { tr { th scope="row" { "Shoulders (rib cage) stop going back" } td { (super::when(swing, m)) } } }
                }
                @for t in &input.references.tempo {
                    p.source {
                        "To set beside it: " (t.label) ", " (words::decimal(t.backswing_s, 2)) " s to " (words::decimal(t.downswing_s, 2))
                        " s, " (words::decimal(t.ratio, 1)) " to 1 (" (t.source) ")."
                    }
                }
            }
        }
    }
}

fn first(key: &str) -> &str {
    match key {
        "pelvis" => "the hips",
        "thorax" => "the shoulders (rib cage)",
        _ => CANT_TELL,
    }
}
