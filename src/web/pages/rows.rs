//! A swing as one row of a list.

use maud::{Markup, html};

use super::words::title;
use crate::report::first::{self, First};
use crate::report::page::segment;
use crate::report::still_of;
use crate::report::words as told;
use crate::web::index::Entry;

/// What stands first of a swing, and a word where its pictures are to be doubted.
pub fn figures(first: Option<&First>, doubt: Option<&str>) -> Markup {
    html! {
        @if let Some(doubt) = doubt { p.doubt { (doubt) } }
        @match first {
            None => p.when { "No moment of the swing was seen" },
            Some(first) => {
                p.when { (first::heading(first.event)) }
                dl.figures {
                    @for (m, e) in &first.figures {
                        div { dt { (m.short()) } dd { (told::estimate_or_why(e)) } }
                    }
                }
            }
        }
    }
}

/// The small picture of a swing, or a word where there is none.
pub fn shot(swing: &Entry) -> Markup {
    html! {
        @if still_of(&swing.folder).is_some() {
            img.shot src=(format!("/swing/{}/thumb", segment(&swing.id))) alt="" loading="lazy" width="72" height="96";
        } @else {
            span.shot.noshot { "no picture" }
        }
    }
}

/// One swing of a list; `about` is what a list does not say otherwise: whose it is, and when.
pub fn row(swing: &Entry, about: Option<&str>) -> Markup {
    let views: Vec<&str> = swing.views.iter().map(|v| v.words()).collect();
    let typed = &swing.typed;
    let with: Vec<&str> = [&typed.label, &typed.club, &typed.ball_speed, &typed.carry]
        .into_iter()
        .filter_map(|t| t.as_deref().map(str::trim))
        .filter(|t| !t.is_empty())
        .collect();
    let note = typed.notes.as_deref().and_then(|n| n.trim().lines().next());
    html! {
        li {
            (shot(swing))
            div {
                p { a.title href=(format!("/swing/{}", segment(&swing.id))) { (title(&swing.name)) } }
                @if let Some(about) = about { p { (about) } }
                p.soft { (views.join(" and ")) @if !with.is_empty() { ", " (with.join(", ")) } }
                (figures(swing.first.as_ref(), swing.doubt.as_deref()))
                @if let Some(note) = note.filter(|n| !n.is_empty()) { p.note { (note) } }
            }
        }
    }
}
