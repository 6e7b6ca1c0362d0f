//! The page of two sets compared.

use maud::{Markup, html};

use super::pieces::{self, Named};
use super::{Drawing, films};
use crate::report::ReportError;
use crate::report::cautions::SEPARATION_STORY;
use crate::report::page::{SCRUB_SCRIPT, cautions, document, know_first};
use crate::report::plot;
use crate::report::untold::CANT_TELL;
use crate::sets::contrast::{Contrast, More, TwoSets, Word};
use crate::sets::mean::Sessions;
use crate::sets::number::Number;
use crate::sets::story;
use crate::terms::{Event, Measure};

/// The whole page.
///
/// # Errors
/// Where a film can't be read or a picture can't be made.
pub fn two_page(two: &TwoSets, drawing: &Drawing) -> Result<String, ReportError> {
    let (a, b) = (&two.first, &two.second);
    // Half of the films from each.
    let half = drawing.pipeline.sets.films_most.div_ceil(2);
    let swings: Vec<_> = a
        .swings
        .iter()
        .take(half)
        .chain(b.swings.iter().take(half))
        .collect();
    let films = films::section(&swings, drawing)?;
    let body = html! {
        (plot::definitions())
        header.top {
            p.kind { "Two sets of swings compared" }
            h1 { "\u{201c}" (b.name) "\u{201d} against \u{201c}" (a.name) "\u{201d}" }
            ul.facts {
                @for s in [a, b] { li { (s.name) ": " @for (i, (name, value)) in pieces::facts(s).iter().enumerate() { @if i > 0 { ", " } (name) " " b { (value) } } } }
            }
        }
        main {
            (know_first(&warnings(two)))
            (headline(two))
            (pieces::student(&story::of_two(two)))
            (pieces::typed(&[a, b]))
            (films)
            (pieces::every(&two.contrasts, |c| c.first.number, |c| line(two, c)))
            (pieces::swings(&format!("Swings of \u{201c}{}\u{201d}", a.name), a, drawing, "h-first"))
            (pieces::swings(&format!("Swings of \u{201c}{}\u{201d}", b.name), b, drawing, "h-second"))
            (rule(two, drawing))
            (pieces::reading())
            (cautions())
        }
        footer { p { "Made by quarterturn " (env!("CARGO_PKG_VERSION")) "." } }
    };
    let title = format!("{} against {}", b.name, a.name);
    Ok(document(&title, &body, Some(SCRUB_SCRIPT)))
}

fn warnings(two: &TwoSets) -> Vec<String> {
    let mut out = Vec::new();
    if two.sessions == Sessions::Two {
        out.push("As far as can be told, the two sets were not filmed of one named player from one place on one day: what each session errs by is counted for both, and the differences are less sure for it.".to_owned());
    }
    if two.first.swings.len().min(two.second.swings.len()) < 2 {
        out.push("One of the sets is a single swing: how much such swings differ is taken from the other set, where it has more.".to_owned());
    }
    out.extend(pieces::doubts(
        two.first.swings.iter().chain(&two.second.swings),
    ));
    out
}

fn headline(two: &TwoSets) -> Markup {
    let found = |m: Measure| {
        two.contrasts
            .iter()
            .find(|c| c.first.number == Number::At(Event::Top, m))
    };
    html! {
        section.headline aria-labelledby="h-top" {
            h2 #h-top { "At the top of the backswing" }
            div.cards {
                @for (m, _) in Measure::headlines() {
                    @if let Some(c) = found(m) {
                        article.card {
                            h3 { (m.words()) }
                            p.big { @if c.word == Word::CantTell { (CANT_TELL) } @else { (c.difference.signed(c.first.number.unit())) } }
                            p.word { b { (c.word.words(c.first.number.unit())) } @if c.word == Word::CantTell { (rest(c)) } }
                            (more(two, c))
                            (pieces::ruler(m.words(), &lanes(two, c)))
                            (both(two, c))
                            (spreads(c))
                        }
                    }
                }
            }
            p.story { (SEPARATION_STORY) }
        }
    }
}

/// What the difference is as far as it goes, behind "can't tell".
fn rest(c: &Contrast) -> Markup {
    let unit = c.first.number.unit();
    html! { @if c.difference.told().is_some() { ": the difference is " (c.difference.signed(unit)) } }
}

fn more(two: &TwoSets, c: &Contrast) -> Markup {
    html! {
        @if c.more != More::None {
            p.word { (c.more.words([two.first.swings.len(), two.second.swings.len()])) }
        }
    }
}

fn lanes<'a>(two: &'a TwoSets, c: &'a Contrast) -> [Named<'a>; 2] {
    [
        Named {
            name: &two.first.name,
            class: "first",
            row: &c.first,
        },
        Named {
            name: &two.second.name,
            class: "second",
            row: &c.second,
        },
    ]
}

fn both(two: &TwoSets, c: &Contrast) -> Markup {
    let unit = c.first.number.unit();
    html! {
        dl.two {
            @for (s, r) in [(&two.first, &c.first), (&two.second, &c.second)] {
                dt { (s.name) } dd { (r.mean.words(unit)) }
            }
        }
    }
}

/// How alike the swings of each set were, and whether that changed.
fn spreads(c: &Contrast) -> Markup {
    let unit = c.first.number.unit();
    html! {
        p.word.spread-line {
            "spread " (c.first.spread.spread_words(unit)) ", then " (c.second.spread.spread_words(unit)) ": "
            b { (c.spread_word.words(unit)) }
        }
    }
}

fn line(two: &TwoSets, c: &Contrast) -> Markup {
    let unit = c.first.number.unit();
    html! {
        li.row.set-row {
            (pieces::named(c.first.number))
            div.value {
                span.number { (c.difference.signed(unit)) }
                p.word { b { (c.word.words(unit)) } }
                (more(two, c))
                (spreads(c))
            }
            div.ruled {
                @if c.first.counted() + c.second.counted() > 0 {
                    (pieces::ruler(c.first.number.words(), &lanes(two, c)))
                    (both(two, c))
                }
            }
        }
    }
}

fn rule(two: &TwoSets, drawing: &Drawing) -> Markup {
    let session = match two.sessions {
        Sessions::One => {
            "Both sets are of one player, filmed alike from one place on one day: the error that a session's swings share is the same in both and goes out of the difference. Clothes are taken to be the same."
        }
        Sessions::Two => {
            "The sets are of two sessions, whose errors are independent as far as is known."
        }
    };
    html! {
        section.reading aria-labelledby="h-rule" {
            h2 #h-rule { "How the words are chosen" }
            p { "The difference is the mean of \u{201c}" (two.second.name) "\u{201d} less that of \u{201c}" (two.first.name) "\u{201d}. " (session)
                " \"Changed\": the whole interval of the difference lies on one side of nought. \"No change larger than\": it holds nought and reaches no further than that, and that is no more than "
                (drawing.pipeline.report.compare_same_deg) "° for angles. \"Can't tell\": everything else. How many more swings would tell is reckoned as if they went on like these." }
        }
    }
}
