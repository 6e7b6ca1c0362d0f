//! What a student is shown first: the turns and the separation at the top.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::{PageInput, measures};
use crate::report::cautions::SEPARATION_STORY;
use crate::terms::{Event, Measure};

pub fn section(input: &PageInput, spans: &BTreeMap<Measure, (f64, f64)>) -> Markup {
    let at = input.swing.at.get(&Event::Top);
    html! {
        section.headline aria-labelledby="h-top" {
            h2 #h-top { "At the top of the backswing" }
            @match at {
                None => p { "The top of the backswing was not found in this swing." },
                Some(at) => {
                    div.cards {
                        @for (m, _) in Measure::headlines() {
                            @if let Some(e) = at.get(&m) {
                                article.card {
                                    h3 { (m.words()) }
                                    p.big { (super::number(Event::Top, m, e)) }
                                    (measures::scale(input, Event::Top, m, e, spans))
                                    (measures::explanation(m))
                                }
                            }
                        }
                    }
                    p.story { (SEPARATION_STORY) }
                }
            }
        }
    }
}
