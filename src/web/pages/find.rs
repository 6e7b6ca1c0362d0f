//! Search and filter over all swings. It works without scripts: a form that asks this server.

use std::collections::BTreeSet;

use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};

use super::lists::{people, turns};
use super::page;
use super::rows::row;
use super::words::{day, named};
use crate::report::words::counted;
use crate::web::filter::{Filter, PAGE, texts};
use crate::web::index::players;
use crate::web::state::Shared;

pub async fn find(State(app): State<Shared>, Query(filter): Query<Filter>) -> Response {
    let all = app.swings().await;
    let found = filter.of(&all);
    let sought = filter.q.to_lowercase();
    let everybody = players(&all);
    let named_so: Vec<_> = everybody
        .into_iter()
        .filter(|p| !sought.trim().is_empty() && !p.name.is_empty())
        .filter(|p| {
            sought
                .split_whitespace()
                .all(|w| p.name.to_lowercase().contains(w))
        })
        .take(PAGE)
        .collect();
    let last = found.len().saturating_sub(1) / PAGE;
    let here = filter.page.min(last);
    let shown = found.iter().skip(here * PAGE).take(PAGE);
    let labels = texts(&all, |s| s.typed.label.as_deref());
    let clubs = texts(&all, |s| s.typed.club.as_deref());
    let names = texts(&all, |s| s.typed.player.as_deref());
    let body = html! {
        form.stack role="search" method="get" action="/find" {
            label for="q" { "Search players, days, labels, clubs and notes" }
            input #q type="search" name="q" value=(filter.q) maxlength="200" autocomplete="off";
            details.more open[filter.narrows()] {
                summary { "Narrow it down" }
                div.fields {
                    (one_of("player", "Player", "everybody", &names, &filter.player))
                    (one_of("label", "What was tried", "anything", &labels, &filter.label))
                    (one_of("club", "Club", "any club", &clubs, &filter.club))
                    span { label for="from" { "From" } input #from type="date" name="from" value=(filter.from); }
                    span { label for="to" { "Until" } input #to type="date" name="to" value=(filter.to); }
                }
            }
            button type="submit" { "Search" }
        }
        @if !named_so.is_empty() {
            section aria-labelledby="h-people" {
                h2 #h-people { (counted(named_so.len(), "player")) }
                (people(&named_so))
            }
        }
        section aria-labelledby="h-found" {
            h2 #h-found { @if found.is_empty() { "No swing fits" } @else { (counted(found.len(), "swing")) } }
            ul.swings {
                @for s in shown { (row(s, Some(&format!("{}, {}", named(s.player()), day(s.lesson))))) }
            }
            (turns(here, last, |p| filter.address(p)))
        }
    };
    page(StatusCode::OK, "Find swings", &body, None)
}

fn one_of(name: &str, label: &str, any: &str, texts: &BTreeSet<&str>, chosen: &str) -> Markup {
    html! {
        span {
            label for=(name) { (label) }
            select id=(name) name=(name) {
                option value="" { (any) }
                @for t in texts { option value=(t) selected[*t == chosen.trim()] { (t) } }
            }
        }
    }
}
