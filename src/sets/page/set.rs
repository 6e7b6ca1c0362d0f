//! The page of one set.

use maud::{Markup, html};

use super::Drawing;
use super::films;
use super::pieces::{self, Named};
use crate::report::ReportError;
use crate::report::cautions::SEPARATION_STORY;
use crate::report::page::{SCRUB_SCRIPT, cautions, document, know_first};
use crate::report::plot::{self, clock};
use crate::result::Estimate;
use crate::sets::number::Number;
use crate::sets::set::{Filmed, Row, SwingSet};
use crate::sets::story;
use crate::terms::{Event, Measure};

/// The whole page. `exports` are addresses and names of the files that go with it.
///
/// # Errors
/// Where a film can't be read or a picture can't be made.
pub fn set_page(
    set: &SwingSet,
    rows: &[Row],
    exports: &[(String, &str)],
    drawing: &Drawing,
) -> Result<String, ReportError> {
    let swings: Vec<_> = set.swings.iter().collect();
    let films = films::section(&swings, drawing)?;
    let facts = pieces::facts(set);
    let body = html! {
        (plot::definitions())
        header.top {
            p.kind { "A set of swings, measured from video" }
            h1 { (set.name) }
            ul.facts { @for (name, value) in &facts { li { (name) " " b { (value) } } } }
        }
        main {
            (know_first(&warnings(set, drawing)))
            (headline(set, rows))
            (pieces::student(&story::of_set(set, rows)))
            (films)
            (pieces::every(rows, |r| r.number, line))
            (pieces::typed(&[set]))
            (pieces::swings("The swings", set, drawing, "h-swings"))
            @if !exports.is_empty() {
                p.files.screen { "For those who compute on: "
                    @for (i, (href, name)) in exports.iter().enumerate() { @if i > 0 { ", " } a href=(href) { (name) } } "." }
            }
            (pieces::reading())
            (cautions())
        }
        footer { p { "Made by quarterturn " (env!("CARGO_PKG_VERSION")) "." } }
    };
    let title = format!("{}: a set of swings", set.name);
    Ok(document(&title, &body, Some(SCRUB_SCRIPT)))
}

fn warnings(set: &SwingSet, drawing: &Drawing) -> Vec<String> {
    let mut out = Vec::new();
    let filmed = Filmed::of(set.results(), &drawing.pipeline.report);
    if let [_] = set.swings.as_slice() {
        out.push(
            "One swing is no set: the mean is that swing's own number, and there is no spread."
                .into(),
        );
    } else if filmed.mode.is_none() {
        out.push("Some swings were filmed from two sides and some from one: what their errors share is not known, so the means' intervals are as wide as a single swing's.".into());
    } else if !filmed.one_place {
        out.push("As far as can be told, these swings were not all filmed of one named player from one place on one day: the spread may hold differences of the filming, too.".into());
    }
    out.extend(pieces::doubts(set.swings.iter()));
    out
}

fn headline(set: &SwingSet, rows: &[Row]) -> Markup {
    let row = |m: Measure| rows.iter().find(|r| r.number == Number::At(Event::Top, m));
    html! {
        section.headline aria-labelledby="h-top" {
            h2 #h-top { "At the top of the backswing" }
            div.cards {
                @for (m, _) in Measure::headlines() {
                    @if let Some(r) = row(m) {
                        article.card {
                            h3 { (m.words()) }
                            p.big { (r.mean.words(r.number.unit())) }
                            p.word { "the mean, " (pieces::counted(r)) }
                            p.word { "spread from swing to swing " b { (r.spread.spread_words(r.number.unit())) } }
                            (pieces::ruler(m.words(), &[Named { name: "", class: "", row: r }]))
                        }
                    }
                }
                (plan(set, [row(Measure::PelvisTurnFromAddress), row(Measure::ThoraxTurnFromAddress)]))
            }
            p.story { (SEPARATION_STORY) }
        }
    }
}

/// The means seen from above.
fn plan(set: &SwingSet, [hips, shoulders]: [Option<&Row>; 2]) -> Markup {
    let estimate = |r: Option<&Row>| {
        let told = r.and_then(|r| r.mean.told());
        told.map_or_else(Estimate::default, |t| Estimate::new(t.value, t.low, t.high))
    };
    let mut hands = set.results().map(|s| s.handedness);
    let first = hands.next();
    // Left and right hands together have no common view from above.
    let Some(hand) = first.filter(|h| hands.all(|o| o == *h)) else {
        return html! {};
    };
    html! {
        article.card.plan {
            h3 { "Seen from above, in the mean" }
            (clock("The mean at the top", estimate(hips), estimate(shoulders), hand))
            ul.legend {
                li.pelvis { span.key aria-hidden="true" {} "hips" }
                li.thorax { span.key aria-hidden="true" {} "shoulders (rib cage)" }
            }
        }
    }
}

fn line(r: &Row) -> Markup {
    let unit = r.number.unit();
    html! {
        li.row.set-row {
            (pieces::named(r.number))
            div.value {
                span.number { (r.mean.words(unit)) }
                p.word { "spread " (r.spread.spread_words(unit)) }
                p.word { (pieces::counted(r)) }
            }
            div.ruled { @if r.counted() > 0 { (pieces::ruler(r.number.words(), &[Named { name: "", class: "", row: r }])) } }
        }
    }
}
