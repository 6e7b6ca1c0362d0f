//! Files of a result that may be fetched: a fixed list of names, nothing else.

use std::path::PathBuf;

use axum::extract::{Path, Request, State};
use axum::http::header::{self, HeaderValue};
use axum::response::{IntoResponse, Response};
use tower::ServiceExt;
use tower_http::services::ServeFile;

use super::state::Shared;
use super::{library, pages};
use crate::report::page::{Home, SCRUB_SCRIPT, content_policy};
use crate::terms::{Event, Role};

/// Names that a result's folder may hold and that are served.
fn allowed(file: &str) -> bool {
    matches!(file, "report.html" | "swing.json" | "curves.csv")
        || Role::ALL
            .iter()
            .any(|r| file == format!("{}.mp4", r.key()) || file == format!("{}_slow.mp4", r.key()))
}

fn allowed_still(file: &str) -> bool {
    Role::ALL.iter().any(|r| {
        Event::ALL
            .iter()
            .any(|e| file == format!("{}_{}.jpg", r.key(), e.key()))
    })
}

pub async fn file(
    State(app): State<Shared>,
    Path((id, file)): Path<(String, String)>,
    request: Request,
) -> Response {
    if !allowed(&file) {
        return pages::not_found().await;
    }
    let Some(swing) = library::find(&app.options.results, &id) else {
        return pages::not_found().await;
    };
    let mut answer = send(swing.folder.join(&file), request).await;
    if file == "report.html" {
        let policy = format!(
            "{}; frame-ancestors 'none'",
            content_policy(Home::File, Some(SCRUB_SCRIPT))
        );
        if let Ok(value) = HeaderValue::from_str(&policy) {
            answer
                .headers_mut()
                .insert(header::CONTENT_SECURITY_POLICY, value);
        }
    }
    answer
}

pub async fn still(
    State(app): State<Shared>,
    Path((id, file)): Path<(String, String)>,
    request: Request,
) -> Response {
    match library::find(&app.options.results, &id) {
        Some(swing) if allowed_still(&file) => {
            send(swing.folder.join("stills").join(&file), request).await
        }
        _ => pages::not_found().await,
    }
}

/// The small picture of a swing, for lists.
pub async fn thumb(State(app): State<Shared>, Path(id): Path<String>) -> Response {
    let small = app
        .off_thread(move |app| {
            let swing = library::folder(&app.options.results, &id)?;
            app.thumbs.of(&swing)
        })
        .await;
    match small.flatten() {
        Some(jpeg) => {
            let kind = [(header::CONTENT_TYPE, "image/jpeg")];
            (kind, jpeg.as_ref().clone()).into_response()
        }
        None => pages::not_found().await,
    }
}

/// Sends a file with ranges, which a phone's player asks for.
async fn send(path: PathBuf, request: Request) -> Response {
    match ServeFile::new(path).oneshot(request).await {
        Ok(answer) => answer.into_response(),
        Err(never) => match never {},
    }
}
