//! The progress of one measurement, told live, until its numbers stand.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;

use super::lists::next_swing;
use super::words::named;
use super::{Answer, Refused, page};
use crate::report::page::segment;
use crate::web::jobs::{Job, Stage};
use crate::web::library::stands;
use crate::web::state::Shared;

/// Asks how far a measurement is; other pages that wait for one use it too.
pub const SCRIPT: &str = include_str!("job.js");

pub fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Waiting => "waiting",
        Stage::Measuring => "measuring",
        Stage::Done => "measured",
        Stage::Nothing(n) => n.words(),
    }
}

/// Whether the swing's own page with its pictures is there; films may still come.
pub fn has_page(app: &Shared, name: &str) -> bool {
    app.options.results.join(name).join("report.html").is_file()
}

/// The address of a job's state, for the script.
pub fn state_address(job: &Job) -> String {
    format!("/job/{}/state", segment(&job.ticket.id))
}

pub async fn job(State(app): State<Shared>, Path(id): Path<String>) -> Answer {
    let job = app.jobs.get(&id).ok_or(Refused::NotFound)?;
    let ticket = &job.ticket;
    let result = format!("/swing/{}", segment(&ticket.name));
    let view = match ticket.clips.as_slice() {
        [one] => Some(one.0),
        _ => None,
    };
    let over = matches!(job.stage, Stage::Nothing(_));
    let body = html! {
        section #job data-state=(state_address(&job)) data-then=(result) {
            h2 { (named(ticket.player.trim())) @if !ticket.label.is_empty() { ", " (ticket.label) } }
            p role="status" { b #stage { (stage(job.stage)) } ": " span #line { (job.line) } }
            progress #bar max="1" aria-label="How far the measurement is" hidden[over] {}
            p { a.button.great #result href=(result) hidden[!stands(&app.options.results, &job.ticket.name)] { "To the swing" } }
            noscript { p { "Load this page again to see how far it is." } }
        }
        p { a.button href=(next_swing(&ticket.player, &ticket.label, &ticket.club, view)) { "Film the next swing" } }
        p.small { "You need not wait: the next clip can be sent meanwhile. A second phone's clip of the same swing is recognised when it comes in with the same player and label within a few minutes." }
    };
    Ok(page(
        StatusCode::OK,
        "Measuring a swing",
        &body,
        Some(SCRIPT),
    ))
}

/// The same as JSON, for the page's script.
pub async fn job_state(State(app): State<Shared>, Path(id): Path<String>) -> Response {
    match app.jobs.get(&id) {
        Some(job) => Json(serde_json::json!({
            "stage": job.stage,
            "words": stage(job.stage),
            "line": job.line,
            "name": job.ticket.name,
            "stands": stands(&app.options.results, &job.ticket.name),
            "page": has_page(&app, &job.ticket.name),
            "result": format!("/swing/{}", segment(&job.ticket.name)),
        }))
        .into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
