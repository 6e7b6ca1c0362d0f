//! What surrounds the numbers: warnings, how to read them, where the ranges come from, cautions.

use maud::{Markup, html};

use crate::measure::{OTHER_CLIP, OTHER_FOLDER};
use crate::report::cautions::CAUTIONS;
use crate::report::references::References;
use crate::report::{untold, words};
use crate::result::SwingResult;
use crate::warning::Warning;

/// One sentence at the very top where the pictures themselves are to be doubted.
pub fn doubt(swing: &SwingResult) -> Markup {
    html! { @if let Some(told) = untold::doubt(swing) { p.doubt role="note" { (told) } } }
}

/// The warnings, and what can't be told and why.
pub fn warnings(swing: &SwingResult) -> Markup {
    let untold = untold::untold(swing);
    html! {
        @if !swing.warnings.is_empty() || !untold.is_empty() {
            section.warnings aria-labelledby="h-warn" {
                h2 #h-warn { "Know this first" }
                ul {
                    @for w in &swing.warnings { li data-code=(w.code) { (w.text) (beside(w)) } }
                    @for u in &untold {
                        li data-untold=(u.why.key()) {
                            b { "Can't tell" } ": " (untold::listed(&u.names)) ". " (untold::advice(u.why, swing))
                        }
                    }
                }
            }
        }
    }
}

/// What must be known before the numbers are read; nothing where there is none.
pub fn know_first(warnings: &[String]) -> Markup {
    html! {
        @if !warnings.is_empty() {
            section.warnings aria-labelledby="h-warn" {
                h2 #h-warn { "Know this first" }
                ul { @for w in warnings { li { (w) } } }
            }
        }
    }
}

/// The way to the other clip's own page, where that is what a warning is about.
fn beside(warning: &Warning) -> Markup {
    let here = warning.text.ends_with("above.");
    let to = if here {
        "../report.html".to_owned()
    } else {
        format!("{OTHER_FOLDER}/report.html")
    };
    html! { @if warning.code == OTHER_CLIP { " " a href=(to) { "Open it" } } }
}

pub fn reading(swing: &SwingResult) -> Markup {
    html! {
        section.reading aria-labelledby="h-read" {
            h2 #h-read { "How to read this page" }
            ul {
                li { "A dot is the best estimate. The whisker is its 95 % interval: in about 95 of 100 such cases the true angle lies on it. It is always written with the number: 41° (37 to 45)." }
                li { "\"Can't tell\" stands in place of a number whose interval is wider than it is of use, with the reason; a gap in a curve means the same. What it was is kept in swing.json beside this page." }
                li { "A hatched strip is what others were measured at. The word beside it says where the whole whisker lies: inside, above or below. Where the whisker crosses an edge the word is \"can't tell\"." }
                li { "A range written as 42° ± 7° is the mean and one standard deviation: about two thirds of those measured lie in it. It says what they did, not what is right for a student." }
                li { "\"Shoulders (rib cage)\" means the rib cage, not the line between the two shoulder joints, which slides further." }
                li { "Plus turns are closed, away from the target; minus turns are open, towards it. The order of the angles is " (swing.angle_order) "." }
                li { "In the pictures the solid bar is the hips and the bar with a slit is the shoulders (rib cage). The ball on a bar is the lead side, the pointer is the body's front." }
            }
        }
    }
}

pub fn references(references: &References) -> Markup {
    html! {
        section.sources aria-labelledby="h-src" {
            h2 #h-src { "Where the reference ranges come from" }
            details {
                summary { "Sources" }
                ul {
                    @for r in &references.ranges {
                        li {
                            (r.measure.words()) " at " (r.event) ", " (r.label)
                            @if let Some(club) = &r.club { " with " (club) }
                            ": " (r.words()) ". " span.source { (r.source) "." }
                        }
                    }
                    @for t in &references.tempo {
                        li {
                            "Tempo, " (t.label) ": " (words::decimal(t.backswing_s, 2)) " s back, "
                            (words::decimal(t.downswing_s, 2)) " s down, " (words::decimal(t.ratio, 1)) " to 1. "
                            span.source { (t.source) "." }
                        }
                    }
                    @for n in &references.notes { li { (n.text) " " span.source { (n.source) "." } } }
                }
            }
        }
    }
}

/// The cautions that every page carries.
pub fn cautions() -> Markup {
    html! {
        section.cautions aria-labelledby="h-caution" {
            h2 #h-caution { "Cautions" }
            ul { @for c in CAUTIONS { li { (c) } } }
        }
    }
}
