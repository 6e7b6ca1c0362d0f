//! Deleting for good, after asking.

use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;

use super::{Answer, Refused, page, refuse, swing_at};
use crate::report::page::segment;
use crate::report::words::counted;
use crate::web::remove::{Belongings, of_player, of_swing};
use crate::web::state::Shared;

#[derive(Deserialize)]
pub struct Player {
    #[serde(default)]
    player: String,
}

pub async fn ask_delete_player(State(app): State<Shared>, Query(q): Query<Player>) -> Answer {
    let player = q.player.trim();
    let all = everything(&app, player).await;
    if all.is_empty() {
        return Err(Refused::NotFound);
    }
    let who = if player.is_empty() {
        "the players without a name"
    } else {
        player
    };
    let form = html! {
        form.stack method="post" action="/player/delete" {
            input type="hidden" name="player" value=(player);
            button type="submit" { "Delete everything of " (who) " for good" }
        }
    };
    Ok(ask(&format!("Delete everything of {who}?"), &all, &form))
}

async fn everything(app: &Shared, player: &str) -> Belongings {
    let options = &app.options;
    of_player(
        &app.swings().await,
        &options.results,
        &options.uploads,
        player,
    )
}

pub async fn ask_delete_swing(State(app): State<Shared>, Path(id): Path<String>) -> Answer {
    let all = with_swing(&app, &id)?;
    let form = html! {
        form.stack method="post" action=(format!("/swing/{}/delete", segment(&id))) {
            button type="submit" { "Delete this swing for good" }
        }
    };
    Ok(ask("Delete this swing?", &all, &form))
}

fn with_swing(app: &Shared, id: &str) -> Answer<Belongings> {
    let (results, uploads) = (&app.options.results, &app.options.uploads);
    of_swing(results, uploads, id).ok_or(Refused::NotFound)
}

fn ask(title: &str, all: &Belongings, form: &Markup) -> Response {
    let body = html! {
        section {
            p { "This deletes, from this computer and for good:" }
            ul {
                @for (id, _) in &all.swings { li { "the swing " b { (id) } ", with its numbers, pictures, videos and notes" } }
                @for (id, _) in &all.comparisons { li { "the comparison " b { (id) } } }
                @if !all.uploads.is_empty() { li { (counted(all.uploads.len(), "upload")) " with the clips in them" } }
            }
            p { "Clips that were measured from other folders, backups and copies on phones are not touched." }
            (form)
            p { a href="/" { "Keep everything" } }
        }
    };
    page(StatusCode::OK, title, &body, None)
}

pub async fn delete_player(State(app): State<Shared>, Form(form): Form<Player>) -> Answer {
    let player = form.player.trim();
    if app.jobs.busy(player, "") {
        return busy();
    }
    let all = everything(&app, player).await;
    finish(&app, &all)
}

pub async fn delete_swing(State(app): State<Shared>, Path(id): Path<String>) -> Answer {
    let swing = swing_at(&app, &id)?;
    if app.jobs.of_result(&swing.id).is_some() {
        return busy();
    }
    finish(&app, &with_swing(&app, &swing.id)?)
}

fn finish(app: &Shared, all: &Belongings) -> Answer {
    all.remove().map_err(Refused::Failed)?;
    // A job's folder carries the job's number as its name.
    app.jobs.forget(|j| {
        !all.swings.iter().any(|(id, _)| *id == j.ticket.name)
            && !all
                .uploads
                .iter()
                .any(|f| f.file_name().is_some_and(|n| n == j.ticket.id.as_str()))
    });
    Ok(Redirect::to("/").into_response())
}

fn busy() -> Answer {
    refuse(
        StatusCode::CONFLICT,
        "A clip of this player is being measured. Wait until it is done, then delete.",
    )
}
