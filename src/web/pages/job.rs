//! The progress of one measurement, told live.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;

use super::{not_found, page};
use crate::report::page::segment;
use crate::web::jobs::Stage;
use crate::web::state::Shared;

const SCRIPT: &str = include_str!("job.js");

pub fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Waiting => "waiting",
        Stage::Measuring => "measuring",
        Stage::Done => "measured",
        Stage::Nothing(n) => n.words(),
    }
}

pub async fn job(State(app): State<Shared>, Path(id): Path<String>) -> Response {
    let Some(job) = app.jobs.get(&id) else {
        return not_found().await;
    };
    let result = format!("/swing/{}", segment(&job.name));
    let stands = job.stage == Stage::Done || stands(&app, &job.name);
    let body = html! {
        section #job data-state=(format!("/job/{}/state", segment(&job.id))) data-result=(result) {
            h2 { (job.name) }
            p role="status" { b #stage { (stage(job.stage)) } ": " span #line { (job.line) } }
            p { a #result href=(result) hidden[!stands] { "To the swing" } }
            noscript { p { "Load this page again to see how far it is." } }
        }
    };
    page(StatusCode::OK, "Measuring a swing", &body, Some(SCRIPT))
}

/// Whether numbers and page of a swing stand; its videos may still be to come.
fn stands(app: &Shared, name: &str) -> bool {
    app.options.results.join(name).join("report.html").exists()
}

/// The same as JSON, for the page's script.
pub async fn job_state(State(app): State<Shared>, Path(id): Path<String>) -> Response {
    match app.jobs.get(&id) {
        Some(job) => Json(serde_json::json!({
            "stage": job.stage,
            "words": stage(job.stage),
            "line": job.line,
            "stands": stands(&app, &job.name),
        }))
        .into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
