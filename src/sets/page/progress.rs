//! The page of one player's lessons.

use maud::{Markup, html};

use super::Drawing;
use super::pieces::{self, Named};
use crate::report::page::{cautions, document, know_first};
use crate::report::{plot, top_picture};
use crate::sets::number::Number;
use crate::sets::over::{Course, Stage};
use crate::sets::set::Row;
use crate::sets::story;
use crate::terms::{Event, Measure};

/// The whole page.
pub fn progress_page(course: &Course, drawing: &Drawing) -> String {
    let body = html! {
        (plot::definitions())
        header.top {
            p.kind { "One player over lessons, measured from video" }
            h1 { (course.player) }
            ul.facts { li { "lessons " b { (course.lessons()) } } li { "swings " b { (course.swings()) } } }
        }
        main {
            (know_first(&warnings(course)))
            (measures(course))
            (changes(course))
            (lessons(course, drawing))
            (pieces::reading())
            (cautions())
        }
        footer { p { "Made by quarterturn " (env!("CARGO_PKG_VERSION")) "." } }
    };
    document(&format!("{} over lessons", course.player), &body, None)
}

fn warnings(course: &Course) -> Vec<String> {
    let mut out = Vec::new();
    if course.undated > 0 {
        out.push(format!(
            "{} without a day, typed in or told by the clip, are left out: type in their lesson to see them here.",
            if course.undated == 1 { "One swing".to_owned() } else { format!("{} swings", course.undated) }
        ));
    }
    out.push("Each lesson was filmed anew: what the filming of a day errs by is in its whisker, so that lessons differ only where their whiskers leave no doubt.".into());
    out
}

/// Each headline measure, a lane for each lesson and label.
fn measures(course: &Course) -> Markup {
    let named: Vec<(String, &Stage)> = course.stages.iter().map(|s| (s.title(), s)).collect();
    html! {
        section.measures aria-labelledby="h-course" {
            h2 #h-course { "From lesson to lesson" }
            @for event in [Event::Top, Event::Impact] {
                h3 { (event.words()) }
                div.cards {
                    @for (m, _) in Measure::headlines() {
                        @let rows: Vec<Named> = named.iter().filter_map(|(name, s)| {
                            let row = s.row(Number::At(event, m))?;
                            Some(Named { name, class: "", row })
                        }).collect();
                        @if !rows.is_empty() {
                            article.card {
                                h3 { (m.words()) }
                                (pieces::ruler(&format!("{} {}", m.words(), event.at_words()), &rows))
                                (table(&rows))
                            }
                        }
                    }
                }
            }
        }
    }
}

fn table(rows: &[Named]) -> Markup {
    let unit = |r: &Row| r.number.unit();
    html! {
        details.why {
            summary { "The numbers" }
            dl.two { @for n in rows { dt { (n.name) } dd { (n.row.mean.words(unit(n.row))) } } }
        }
    }
}

/// From the first to the last lesson of each label.
fn changes(course: &Course) -> Markup {
    html! {
        @if !course.changes.is_empty() {
            section aria-labelledby="h-change" {
                h2 #h-change { "From the first lesson to the last" }
                @for c in &course.changes {
                    h3 { (c.title) }
                    ul {
                        @for contrast in &c.contrasts {
                            @let unit = contrast.first.number.unit();
                            li { (contrast.first.number.words()) ": " b { (contrast.word.words(unit)) }
                                @if contrast.difference.told().is_some() { ", " (contrast.difference.signed(unit)) } }
                        }
                    }
                }
            }
        }
    }
}

/// Every lesson with a picture of the top, what was tried, words and notes.
fn lessons(course: &Course, drawing: &Drawing) -> Markup {
    html! {
        section aria-labelledby="h-lessons" {
            h2 #h-lessons { "The lessons" }
            ol.lessons {
                @for s in &course.stages {
                    li {
                        @if let Some((uri, w, h)) = s.set.swings.iter().find_map(|one| top_picture(&one.folder, &drawing.pipeline.report)) {
                            img.top-picture src=(uri) width=(w) height=(h) alt=(format!("The top of a swing of {}", s.title()));
                        }
                        div {
                            h3 { (s.title()) }
                            p { (story::of_set(&s.set, &s.rows)) }
                            @for note in s.notes() { p.note { (note) } }
                            p.small {
                                @for (i, one) in s.set.swings.iter().enumerate() {
                                    @if i > 0 { ", " }
                                    @match drawing.swing_page { Some(page) => a href=(page(&one.id)) { (one.id) }, None => (one.id) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
