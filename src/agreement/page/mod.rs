//! In: a comparison. Out: one self-contained HTML page.

mod plots;
mod tables;

use maud::{Markup, html};

use super::compare::Comparison;
use super::learn::Learned;
use super::summary::written_words;
use crate::report::page::{Home, document_with};

const STYLE: &str = include_str!("../assets/agreement.css");

/// The whole page.
pub fn page(c: &Comparison, learned: Option<&Result<Learned, String>>) -> String {
    let title = "Video estimates beside a sensor session";
    let body = html! {
        header.top { h1 { (title) } }
        main {
            p { "Every difference on this page is the estimate less the sensor, in degrees. Neither is the truth." }
            (conclusions(c))
            (tables::events(c))
            (tables::curves(c))
            (tables::zeros(c))
            (plots::bland_altman(c))
            (plots::overlays(c))
            (tables::clocks(c))
            @if let Some(learned) = learned { (tables::learned(learned)) }
            (caveats())
        }
    };
    document_with(Home::File, title, &body, None, STYLE)
}

fn conclusions(c: &Comparison) -> Markup {
    html! {
        section aria-labelledby="can" {
            h2 #can { "What can and can't be said" }
            ul {
                @for w in written_words(c) { li { (w) } }
                @for n in &c.notes { li { (n) } }
                @for (name, why) in &c.left_out { li { strong { "Left out: " (name) ". " } (why) "." } }
            }
        }
    }
}

fn caveats() -> Markup {
    html! {
        section aria-labelledby="care" {
            h2 #care { "Read these figures with care" }
            ul {
                li { "A constant offset may be definition, not error: systems differ in what they call the hips, the shoulders and zero. Look at the bias that is left once both are zeroed at address." }
                li { "Two sensor systems worn at once differ from each other at the events of a swing (Wheare and others 2021): a difference here is not the estimate's alone." }
                li { "Separation between shoulders and hips is defined in several ways that give different numbers for one swing (Brown and others 2013). Here it is rib cage turn less pelvis turn, both in the ground plane." }
                li { "Golf studies rarely follow the conventions of the biomechanics society (Bourgain and others 2022). Check which axes, zero and sequence your sensor uses before reading side and forward bend." }
                li { "A reading at a moment depends on when that moment is taken to be: at 600 degrees a second, 10 ms is 6 degrees." }
                li { "Sensor noise counts against our intervals: the share of readings inside can be lower than the share of the truth." }
                li { "A video estimate is no clinical measurement. Pain stops the session; a student with back, hip or knee trouble belongs with a licensed professional first." }
            }
            p.small { "Angles: turn, then side bend, then forward bend. Turn is positive closed, away from the target." }
        }
    }
}
