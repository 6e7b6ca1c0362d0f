//! What a student is shown first: the turns and the separation at the top, or at the next moment
//! that was seen.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::{PageInput, measures};
use crate::report::cautions::SEPARATION_STORY;
use crate::report::{first, untold, words};
use crate::result::SwingResult;
use crate::terms::{Event, Measure};

pub fn section(input: &PageInput, spans: &BTreeMap<Measure, (f64, f64)>) -> Markup {
    let first = first::first(input.swing);
    html! {
        section.headline aria-labelledby="h-top" {
            h2 #h-top { (first::heading(first.as_ref().map_or(Event::Top, |f| f.event))) }
            @match &first {
                None => p { "Neither the top of the backswing nor impact nor the finish was seen in this swing." },
                Some(first) => {
                    @if first.event != Event::Top {
                        p { "The top of the backswing was not seen in this swing." }
                    }
                    @if !input.swing.events.contains_key(&Event::Address) {
                        p { "No address was seen, so turns are told against the target line, which is less sure." }
                    }
                    div.cards {
                        @for (m, e) in &first.figures {
                            article.card {
                                h3 { (m.words()) }
                                p.big { (super::number(first.event, *m, e)) }
                                @if let Some(why) = e.untold() { p.whynot { (untold::phrase(why)) } }
                                (measures::scale(input, first.event, *m, e, spans))
                                (measures::explanation(*m))
                            }
                        }
                    }
                    (between(input.swing))
                    p.story { (SEPARATION_STORY) }
                }
            }
        }
    }
}

/// How far the body opened from moment to moment, where no address is there to count from.
fn between(swing: &SwingResult) -> Markup {
    html! {
        @if !swing.events.contains_key(&Event::Address) {
            ul.between {
                @for b in &swing.between {
                    li { "From " (place(b.from)) " to " (place(b.to)) ": hips " b { (words::estimate_or_why(&b.pelvis_turn)) }
                        ", shoulders (rib cage) " b { (words::estimate_or_why(&b.thorax_turn)) } "." }
                }
            }
        }
    }
}

fn place(event: Event) -> &'static str {
    match event {
        Event::Address => "address",
        Event::Top => "the top",
        Event::Impact => "impact",
        Event::Finish => "the finish",
    }
}
