//! One swing: its page, the coach's notes, a comparison with another.

use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::html;
use serde::Deserialize;

use super::library::figures;
use super::{failed, not_found, page, refused, with_policy};
use crate::progress::{Cancel, Silent};
use crate::report::Settings;
use crate::report::compare::{Measured, compare as compare_results, comparison_page};
use crate::report::page::segment;
use crate::report::page::{Home, SCRUB_SCRIPT, typed};
use crate::web::library::{NOTES_MAX, find, scan, write_notes};
use crate::web::state::Shared;

pub async fn swing(State(app): State<Shared>, Path(id): Path<String>) -> Response {
    let Some(swing) = find(&app.options.results, &id) else {
        return not_found().await;
    };
    let base = format!("/swing/{}", segment(&swing.id));
    let others: Vec<String> = scan(&app.options.results)
        .into_iter()
        .map(|s| s.id)
        .filter(|other| *other != swing.id)
        .collect();
    let body = html! {
        ul.facts { @for (name, value) in typed(&swing.result.typed_in) { li { (name) " " b { (value) } } } }
        section aria-labelledby="h-fig" {
            h2 #h-fig { "What was measured" }
            (figures(&swing.result))
            p.order { "Angles in this order: " (swing.result.angle_order) "." }
            @if swing.folder.join("report.html").is_file() {
                p { a.button href=(format!("{base}/report.html")) { "Open the whole page" } }
            }
        }
        section aria-labelledby="h-notes" {
            h2 #h-notes { "The coach's notes" }
            form.stack method="post" action=(format!("{base}/notes")) {
                label for="notes" { "Notes, kept beside the result" }
                textarea #notes name="notes" rows="6" maxlength=(NOTES_MAX / 4) { (swing.notes) }
                button type="submit" { "Keep the notes" }
            }
        }
        @if !others.is_empty() {
            section aria-labelledby="h-pair" {
                h2 #h-pair { "Compare with another swing" }
                form.stack method="get" action="/compare" {
                    label for="first" { "First swing" }
                    select #first name="first" { @for id in &others { option value=(id) { (id) } } }
                    input type="hidden" name="second" value=(swing.id);
                    button type="submit" { "Set side by side" }
                }
            }
        }
        p.small { a href=(format!("{base}/delete")) { "Delete this swing" } }
    };
    page(StatusCode::OK, &swing.result.name, &body, None)
}

#[derive(Deserialize)]
pub struct Notes {
    #[serde(default)]
    notes: String,
}

pub async fn save_notes(
    State(app): State<Shared>,
    Path(id): Path<String>,
    Form(form): Form<Notes>,
) -> Response {
    if form.notes.len() > NOTES_MAX {
        return refused(
            StatusCode::PAYLOAD_TOO_LARGE,
            "The notes are too long to keep. Shorten them.",
        );
    }
    let Some(swing) = find(&app.options.results, &id) else {
        return not_found().await;
    };
    match write_notes(&swing.folder, &form.notes) {
        Ok(()) => Redirect::to(&format!("/swing/{}", segment(&swing.id))).into_response(),
        Err(e) => failed(&format!(
            "The notes could not be kept: {e}. Check that the folder can be written."
        )),
    }
}

#[derive(Deserialize)]
pub struct Pair {
    first: String,
    second: String,
}

/// Any two swings side by side, made when asked for and not kept.
pub async fn compare(State(app): State<Shared>, Query(pair): Query<Pair>) -> Response {
    let results = &app.options.results;
    let (Some(first), Some(second)) = (find(results, &pair.first), find(results, &pair.second))
    else {
        return not_found().await;
    };
    let shared = app.clone();
    let draw = move || -> Result<String, String> {
        let pipeline = &shared.options.pipeline;
        let settings = Settings::of(pipeline);
        let read = |folder| Measured::read(folder).map_err(|e| e.to_string());
        let (a, b) = (read(&first.folder)?, read(&second.folder)?);
        let told = compare_results(&a.swing, &b.swing, settings.learned, settings.report);
        comparison_page(&told, &a, &b, settings, &Silent, &Cancel::default())
            .map_err(|e| e.to_string())
    };
    match app.drawing.draw(draw).await {
        Some(Ok(text)) => with_policy(Html(text).into_response(), Home::File, Some(SCRUB_SCRIPT)),
        // Deleted while it waited for its turn.
        Some(Err(_))
            if [&pair.first, &pair.second]
                .iter()
                .any(|id| find(results, id).is_none()) =>
        {
            not_found().await
        }
        Some(Err(why)) => failed(&why),
        None => failed("The two swings could not be drawn. Measure them again."),
    }
}
