//! What the pages of sets have in common.

use maud::{Markup, html};

use super::Drawing;
use crate::report::page::explained;
use crate::report::plot::{Dots, Lane, dots, dots_span};
use crate::report::untold;
use crate::result::{SwingResult, Why};
use crate::sets::figure::Figure;
use crate::sets::number::Number;
use crate::sets::set::{Row, SetSwing, SwingSet};
use crate::sets::typed::means;
use crate::terms::Event;

/// A set's row with the name and the class of its lane.
pub struct Named<'a> {
    pub name: &'a str,
    pub class: &'a str,
    pub row: &'a Row,
}

/// All rows of one number on one ruler.
pub fn ruler(title: &str, rows: &[Named]) -> Markup {
    let values = rows.iter().flat_map(|n| {
        let mean = n.row.mean.told();
        n.row
            .readings()
            .into_iter()
            .map(|r| r.value)
            .chain(mean.into_iter().flat_map(|t| [t.low, t.high]))
    });
    let span = dots_span(values);
    let Some(unit) = rows.first().map(|n| n.row.number.unit()) else {
        return html! {};
    };
    let lanes = rows
        .iter()
        .map(|n| Lane {
            name: n.name,
            class: n.class,
            dots: n.row.readings().iter().map(|r| r.value).collect(),
            mean: n.row.mean.told().map(|t| (t.value, t.low, t.high)),
            untold: match n.row.mean {
                Figure::Untold { why } => why,
                Figure::Told(_) => "",
            },
        })
        .collect();
    dots(&Dots {
        title,
        lanes,
        unit,
        span,
    })
}

/// "from 5 swings", or how many tell it and why the others don't.
pub fn counted(row: &Row) -> String {
    let (n, all) = (row.counted(), row.each.len());
    let reasons: std::collections::BTreeSet<Why> =
        row.each.iter().filter_map(|q| q.untold()).collect();
    let why: Vec<&str> = reasons.into_iter().map(untold::short).collect();
    match (n, all) {
        (n, all) if n == all && n == 1 => "from one swing".into(),
        (n, all) if n == all => format!("from {n} swings"),
        (n, all) => format!(
            "from {n} of {all} swings; the others can't be told: {}",
            why.join(", ")
        ),
    }
}

/// A number's name, and what it is on demand.
pub fn named(number: Number) -> Markup {
    html! { div.what { span.name { (number.words()) } (explained(number.words(), number.explanation())) } }
}

/// All numbers under the moments that they are of, those of the whole swing last; `line` draws one.
pub fn every<T>(all: &[T], number: impl Fn(&T) -> Number, line: impl Fn(&T) -> Markup) -> Markup {
    let moment = |t: &T| match number(t) {
        Number::At(event, _) => Some(event),
        _ => None,
    };
    html! {
        section.measures aria-labelledby="h-all" {
            h2 #h-all { "Every measure at every moment" }
            @for event in Event::ALL.map(Some).into_iter().chain([None]) {
                @let mut own = all.iter().filter(|t| moment(t) == event).peekable();
                @if own.peek().is_some() {
                    details.event open[event == Some(Event::Top)] {
                        summary { h3 { (event.map_or("Tempo and speed", Event::words)) } }
                        ul.rows { @for t in own { (line(t)) } }
                    }
                }
            }
        }
    }
}

/// Doubts about single swings, each told once.
pub fn doubts<'a>(swings: impl Iterator<Item = &'a SetSwing>) -> Vec<String> {
    let mut out = Vec::new();
    for s in swings {
        let told = untold::doubt(&s.swing).into_iter();
        let clock = (!s.swing.real_time.known).then(|| {
            "how fast it was filmed is in doubt, so that its speeds can't be told".to_owned()
        });
        out.extend(told.chain(clock).map(|t| format!("{}: {t}", s.id)));
    }
    out
}

/// The words to the student.
pub fn student(text: &str) -> Markup {
    html! {
        section.student aria-labelledby="h-student" {
            h2 #h-student { "In words, for the student" }
            p.story { (text) }
            p.source { "Made from the numbers and their intervals alone. What to do about it is for the coach to say." }
        }
    }
}

/// Ball speeds and carries of the sets, as typed.
pub fn typed(sets: &[&SwingSet]) -> Markup {
    let all: Vec<_> = sets.iter().map(|s| means(s)).collect();
    let some = all.iter().flatten().any(|m| m.n > 0);
    html! {
        @if some {
            section aria-labelledby="h-typed" {
                h2 #h-typed { "Typed in by the coach" }
                table.typed {
                    @if sets.len() > 1 {
                        thead { tr { td {} @for s in sets { th scope="col" { (s.name) } } } }
                    }
                    tbody {
                        @for name in ["ball speed", "carry"] {
                            @if all.iter().flatten().any(|m| m.name == name && m.n > 0) { tr {
                                th scope="row" { (name) }
                                @for one in &all {
                                    @for m in one.iter().filter(|m| m.name == name) { td { (m.words()) } }
                                }
                            } }
                        }
                    }
                }
                p.source { "Typed in, not measured here. That two things stand side by side does not mean that one makes the other." }
            }
        }
    }
}

/// The swings themselves, with a way to the page of each where there is one.
pub fn swings(heading: &str, set: &SwingSet, drawing: &Drawing, id: &str) -> Markup {
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { (heading) }
            ol.plain-list {
                @for s in &set.swings {
                    li {
                        @match drawing.swing_page {
                            Some(page) => a href=(page(&s.id)) { (s.id) },
                            None => b { (s.id) },
                        }
                        @for text in about(&s.swing) { ", " (text) }
                    }
                }
            }
        }
    }
}

/// Club, ball speed, carry and notes of a swing.
fn about(swing: &SwingResult) -> Vec<String> {
    let t = &swing.typed_in;
    [&t.club, &t.ball_speed, &t.carry, &t.notes]
        .into_iter()
        .flatten()
        .cloned()
        .collect()
}

/// Who, when and with what: only what all swings agree on.
pub fn facts(set: &SwingSet) -> Vec<(&'static str, String)> {
    let common = |get: &dyn Fn(&SwingResult) -> Option<String>| {
        let mut all = set.results().map(get);
        let first = all.next()??;
        all.all(|o| o.as_deref() == Some(first.as_str()))
            .then_some(first)
    };
    let mut out = Vec::new();
    let mut add = |name, value: Option<String>| out.extend(value.map(|v| (name, v)));
    add("player", common(&|s| s.typed_in.player.clone()));
    add("lesson", set.lesson().map(|l| l.to_string()));
    add("club", common(&|s| s.typed_in.club.clone()));
    add("swings", Some(set.swings.len().to_string()));
    out
}

/// How to read a set's rulers.
pub fn reading() -> Markup {
    html! {
        section.reading aria-labelledby="h-read" {
            h2 #h-read { "How to read this page" }
            ul {
                li { "Each ring is one swing. The dot below them is the mean, its whisker the 95 % interval of where the mean of many such swings lies: in about 95 of 100 such cases it is on it." }
                li { "Swings filmed in one session share part of their error, which does not average away: the whisker can't shrink to nothing, however many swings there are. How large that part is was learnt from pairs of swings with known truth." }
                li { "The spread is the standard deviation from swing to swing: about two swings in three lie within it of the mean. What the measurement itself scatters is taken off, so that it may be nothing at all." }
                li { "\"Can't tell\" stands in place of a number that is too unsure to be of use, or that too few swings tell." }
                li { "Plus turns are closed, away from the target; minus turns are open, towards it. \"Shoulders (rib cage)\" means the rib cage." }
            }
        }
    }
}
