//! Files of a result that may be fetched: a fixed list of names, nothing else.

use std::path::PathBuf;

use axum::extract::{Path, Request, State};
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use tokio::io::AsyncReadExt;
use tower::ServiceExt;
use tower_http::services::ServeFile;

use super::state::Shared;
use super::{library, pages};
use crate::report::page::{content_policy_stored, segment};
use crate::terms::{Event, Role};

/// Bytes of a page within which its style ends, many times over.
const HEAD: u64 = 1 << 18;

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
    let path = swing.folder.join(&file);
    let policy = match file.as_str() {
        "report.html" => Some(content_policy_stored(&head(&path).await)),
        _ => None,
    };
    let answer = send(path, request).await;
    match policy {
        Some(policy) => pages::with_policy(answer, &policy),
        None => answer,
    }
}

/// The beginning of a page, which holds its style; empty where it can't be read, as sending it will
/// tell.
async fn head(path: &std::path::Path) -> String {
    let mut bytes = Vec::new();
    if let Ok(file) = tokio::fs::File::open(path).await
        && let Err(error) = file.take(HEAD).read_to_end(&mut bytes).await
    {
        tracing::debug!(%error, "{}", path.display());
    }
    String::from_utf8_lossy(&bytes).into_owned()
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

/// The page of the other of two clips that were measured each alone, as the first one's page names it.
pub async fn beside(Path(id): Path<String>) -> Response {
    let id = segment(&library::beside_id(&id));
    Redirect::to(&format!("/swing/{id}/report.html")).into_response()
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
