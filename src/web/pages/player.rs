//! One player: lessons by date, each with its swings; a new name, or one player with another.

use std::sync::Arc;

use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;

use super::lists::{against_address, next_swing, player_query, set_address, turns};
use super::rows::row;
use super::words::{day, named};
use super::{Answer, Refused, done, page, refuse};
use crate::report::words::counted;
use crate::result::Lesson;
use crate::web::client::one_line;
use crate::web::filter::{PAGE, query};
use crate::web::index::{Entry, players};
use crate::web::rename::rename;
use crate::web::state::{App, Shared};
use crate::web::upload::TEXT_MAX;

#[derive(Deserialize)]
pub struct Asked {
    #[serde(default)]
    name: String,
    #[serde(default)]
    page: usize,
}

pub async fn player(State(app): State<Shared>, Query(asked): Query<Asked>) -> Answer {
    let all = app.swings().await;
    let name = asked.name.trim();
    let mine: Vec<Arc<Entry>> = all.iter().filter(|s| s.player() == name).cloned().collect();
    if mine.is_empty() {
        return Err(Refused::NotFound);
    }
    let last = (mine.len() - 1) / PAGE;
    let here = asked.page.min(last);
    let shown: Vec<&Entry> = mine
        .iter()
        .skip(here * PAGE)
        .take(PAGE)
        .map(Arc::as_ref)
        .collect();
    let lessons = players(&mine).first().map_or(0, |p| p.lessons);
    let address = |p: usize| {
        let base = player_query(name);
        if p > 0 {
            format!("/player{base}&page={p}")
        } else {
            format!("/player{base}")
        }
    };
    let body = html! {
        p { (counted(mine.len(), "swing")) " in " (counted(lessons, "lesson")) ", the last on " (day(mine.first().and_then(|s| s.lesson))) "." }
        p.doing {
            a.button.great href=(next_swing(name, "", "", None)) { "Film a swing" }
            @if lessons > 1 && !name.is_empty() { a.button href=(format!("/progress{}", query(&[("player", name)]))) { "Progress over the lessons" } }
        }
        (turns(here, last, address))
        @for lesson in shown.chunk_by(|a, b| a.lesson == b.lesson) { (of_day(name, lesson)) }
        (turns(here, last, address))
        (change(name))
    };
    Ok(page(StatusCode::OK, named(name), &body, None))
}

/// The swings of one day, those of one label together.
fn of_day(player: &str, swings: &[&Entry]) -> Markup {
    let lesson = swings.first().and_then(|s| s.lesson);
    let mut labels: Vec<&str> = Vec::new();
    for s in swings {
        if !labels.contains(&s.label()) {
            labels.push(s.label());
        }
    }
    html! {
        section.lesson {
            h2 { (day(lesson)) " " span.soft { (counted(swings.len(), "swing")) } }
            (sets(player, lesson, &labels))
            @for label in &labels {
                @let of_label: Vec<&&Entry> = swings.iter().filter(|s| s.label() == *label).collect();
                @if labels.len() > 1 || !label.is_empty() {
                    h3 { @if label.is_empty() { "no label" } @else { (label) } ", " (counted(of_label.len(), "swing")) }
                }
                ul.swings { @for s in of_label { (row(s, None)) } }
            }
        }
    }
}

/// Where the swings of one day stand together.
fn sets(player: &str, lesson: Option<Lesson>, labels: &[&str]) -> Markup {
    let named: Vec<&str> = labels.iter().copied().filter(|l| !l.is_empty()).collect();
    let pairs = named
        .iter()
        .enumerate()
        .flat_map(|(i, a)| named.iter().skip(i + 1).map(move |b| (*a, *b)));
    html! {
        @if !player.is_empty() {
            ul.sets {
                @if named.is_empty() { li { a href=(set_address(player, lesson, "")) { "All of this day together" } } }
                @for label in &named { li { a href=(set_address(player, lesson, label)) { "All of “" (label) "”" } } }
                @for (a, b) in pairs { li { a href=(against_address(player, lesson, a, b)) { "“" (a) "” against “" (b) "”" } } }
            }
        }
    }
}

fn change(name: &str) -> Markup {
    html! {
        section aria-labelledby="h-change" {
            h2 #h-change { "This player" }
            form.line method="post" action="/player/rename" {
                input type="hidden" name="player" value=(name);
                span {
                    label for="to" { "New name; that of another player puts both together" }
                    input #to type="text" name="to" value=(name) maxlength=(TEXT_MAX) autocomplete="off" required;
                }
                button type="submit" { "Rename" }
            }
            p.small { a href=(format!("/player/delete?player={}", query(&[("", name)]).trim_start_matches("?="))) { "Delete everything of " (if name.is_empty() { "the players without a name" } else { name }) } }
        }
    }
}

#[derive(Deserialize)]
pub struct NewName {
    #[serde(default)]
    player: String,
    #[serde(default)]
    to: String,
    /// `yes`: `to` is known to be somebody already.
    #[serde(default)]
    together: String,
}

/// Another name for a player. One that somebody has already is asked about once.
pub async fn rename_player(State(app): State<Shared>, Form(form): Form<NewName>) -> Answer {
    let from = form.player.trim();
    let to = one_line(&form.to, TEXT_MAX);
    if to.is_empty() {
        return refuse(StatusCode::UNPROCESSABLE_ENTITY, "A player needs a name.");
    }
    let all = app.swings().await;
    let count = |name: &str| all.iter().filter(|s| s.player() == name).count();
    if count(from) == 0 {
        return Err(Refused::NotFound);
    }
    if app.jobs.busy(from, "") {
        return refuse(
            StatusCode::CONFLICT,
            "A clip of this player is being measured. Wait until it is done, then rename.",
        );
    }
    if to != from && count(&to) > 0 && form.together != "yes" {
        return Ok(together(from, &to, count(from), count(&to)));
    }
    let lost = "The name could not be changed. Try it again.";
    let (old, new) = (from.to_owned(), to.clone());
    let rename = move |app: &App| rename(&all, &app.options.uploads, &old, &new);
    let renamed = done(&app, lost, rename).await;
    app.jobs.rename(from, &to);
    renamed?;
    Ok(Redirect::to(&format!("/player{}", player_query(&to))).into_response())
}

fn together(from: &str, to: &str, mine: usize, theirs: usize) -> Response {
    let body = html! {
        section {
            p { "There is a player " b { (to) } " already, with " (counted(theirs, "swing")) ". The "
                (counted(mine, "swing")) " of " b { (named(from)) } " would become theirs, and which were whose can't be told afterwards." }
            form.stack method="post" action="/player/rename" {
                input type="hidden" name="player" value=(from);
                input type="hidden" name="to" value=(to);
                input type="hidden" name="together" value="yes";
                button type="submit" { "Put both together as " (to) }
            }
            p { a href=(format!("/player{}", player_query(from))) { "Leave them apart" } }
        }
    };
    page(StatusCode::OK, "Two players with one name?", &body, None)
}
