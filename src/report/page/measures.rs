//! Every measure at every event: name, number, ruler, word, and an explanation on demand.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::PageInput;
use crate::report::plot::{Ruler, Strip, ruler, ruler_span};
use crate::report::references::{Extent, References, Verdict};
use crate::report::words;
use crate::result::{Estimate, SwingResult};
use crate::terms::{Event, Measure, Unit};

/// One span for each measure over all events, so that its rulers can be compared by eye.
pub fn spans(swing: &SwingResult, references: &References) -> BTreeMap<Measure, (f64, f64)> {
    Measure::ALL
        .into_iter()
        .map(|m| {
            let own = swing
                .at
                .values()
                .filter_map(|at| at.get(&m))
                .filter_map(Estimate::told)
                .flat_map(|(deg, low, high)| [deg, low, high]);
            let theirs = references
                .ranges
                .iter()
                .filter(|r| r.measure == m)
                .flat_map(|r| match r.extent() {
                    Extent::Strip { low, high } => [low, high],
                    Extent::About(at) => [at, at],
                });
            (m, ruler_span(own.chain(theirs)))
        })
        .collect()
}

/// The ruler of a measure with its references, and the word for each.
pub fn scale(
    input: &PageInput,
    event: Event,
    measure: Measure,
    e: &Estimate,
    spans: &BTreeMap<Measure, (f64, f64)>,
) -> Markup {
    let club = input.swing.typed_in.club.as_deref();
    let ranges: Vec<_> = input.references.for_measure(measure, event, club).collect();
    let title = format!("{} at {}", measure.words(), event);
    let drawn = ruler(&Ruler {
        title: &title,
        marks: vec![("", *e)],
        strips: ranges
            .iter()
            .map(|r| Strip {
                label: r.label.clone(),
                extent: r.extent(),
            })
            .collect(),
        span: spans.get(&measure).copied().unwrap_or((-90.0, 90.0)),
    });
    html! {
        (drawn)
        @if !ranges.is_empty() {
            ul.verdicts {
                @for r in &ranges {
                    li {
                        @match r.extent() {
                            Extent::Strip { low, high } => {
                                @let v = Verdict::of(e, low, high);
                                b { (v.word()) } (sense(measure, v, f64::midpoint(low, high))) " "
                                (r.label) ", " (r.words())
                            }
                            Extent::About(_) => { (r.label) ": " (r.words()) ", no range given" }
                        }
                    }
                }
            }
        }
    }
}

/// What above and below mean for a turn, which can be read two ways.
fn sense(measure: Measure, verdict: Verdict, around: f64) -> String {
    let Some((more, less)) = words::more_less(measure, around) else {
        return String::new();
    };
    match verdict {
        Verdict::Above => format!(" ({more})"),
        Verdict::Below => format!(" ({less})"),
        Verdict::Inside | Verdict::CantTell => String::new(),
    }
}

/// A measure's name with its explanation, to be opened.
pub fn explanation(measure: Measure) -> Markup {
    explained(measure.words(), measure.spec().explanation)
}

fn sway(unit: Unit) -> &'static str {
    match unit {
        Unit::StanceWidthPercent => {
            "How far the middle of the hips has moved along the target line: plus is towards the target, as a share of the width of the stance."
        }
        _ => {
            "How far the middle of the hips has moved along the target line: plus is towards the target."
        }
    }
}

/// What a number is, shown on demand.
pub fn explained(name: &str, text: &str) -> Markup {
    html! {
        details.why {
            summary { "What is this?" span.unseen { " " (name) } }
            p { (text) }
        }
    }
}

pub fn section(input: &PageInput, spans: &BTreeMap<Measure, (f64, f64)>) -> Markup {
    html! {
        section.measures aria-labelledby="h-all" {
            h2 #h-all { "Every measure at every moment" }
            p.order { "Angles in this order: " (input.swing.angle_order) "." }
            @for event in Event::ALL {
                @if let Some(at) = input.swing.at.get(&event) {
                    details.event open[event == Event::Top] {
                        summary {
                            h3 { (event.words()) }
                            @if let Some(m) = input.swing.events.get(&event) {
                                span.when { (super::when(input.swing, m)) }
                            }
                        }
                        ul.rows {
                            @for m in Measure::ALL {
                                @if let Some(e) = at.get(&m) {
                                    li.row {
                                        div.what {
                                            span.name { (m.words()) }
                                            (explanation(m))
                                        }
                                        div.value { (super::number(event, m, e)) (super::reason(e.untold())) }
                                        div.ruled { (scale(input, event, m, e, spans)) }
                                    }
                                }
                            }
                            @for q in input.swing.sway.get(&event).into_iter().flatten() {
                                li.row {
                                        div.what { span.name { "Hip sway since address" } (explained("Hip sway", sway(q.unit))) }
                                    div.value { span.number { (words::quantity(q)) } (super::reason(q.untold())) }
                                    div.ruled {}
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
