//! Files of a result that may be fetched: a fixed list of names, nothing else.

use std::path::PathBuf;

use axum::extract::{Path, Request, State};
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use tokio::io::AsyncReadExt;
use tower::ServiceExt;
use tower_http::services::ServeFile;

use super::pages::{Answer, Refused};
use super::state::Shared;
use super::{library, pages};
use crate::measure::OTHER_FOLDER;
use crate::report::page::{content_policy_stored, segment};
use crate::report::{film_names, still_name};
use crate::sets::SetSwing;
use crate::terms::{Event, Role};

/// Bytes of a page within which its style ends, many times over.
const HEAD: u64 = 1 << 18;

/// Names that a result's folder may hold and that are served.
fn allowed(file: &str) -> bool {
    matches!(file, "report.html" | "swing.json" | "curves.csv")
        || Role::ALL
            .iter()
            .any(|r| film_names(*r).iter().any(|f| f == file))
}

fn allowed_still(file: &str) -> bool {
    Role::ALL
        .iter()
        .any(|r| Event::ALL.iter().any(|e| file == still_name(*r, *e)))
}

pub async fn file(
    State(app): State<Shared>,
    Path((id, file)): Path<(String, String)>,
    request: Request,
) -> Answer {
    let swing = swing_with(&app, &id, allowed(&file))?;
    // A page of a clip that was measured beside another names that one's as in the folder above.
    match library::beside_whom(&swing.folder) {
        Some(first) if file == "report.html" => {
            let first = segment(&first);
            Ok(Redirect::to(&format!("/swing/{first}/{OTHER_FOLDER}/{file}")).into_response())
        }
        _ => Ok(send_of(&swing, &file, request).await),
    }
}

/// A file of the other of two clips that were measured each alone, where the first one's page names it.
pub async fn beside(
    State(app): State<Shared>,
    Path((id, file)): Path<(String, String)>,
    request: Request,
) -> Answer {
    let swing = swing_with(&app, &library::beside_id(&id), allowed(&file))?;
    Ok(send_of(&swing, &file, request).await)
}

/// A still of it.
pub async fn beside_still(
    state: State<Shared>,
    Path((id, file)): Path<(String, String)>,
    request: Request,
) -> Answer {
    still(state, Path((library::beside_id(&id), file)), request).await
}

fn swing_with(app: &Shared, id: &str, allowed: bool) -> Answer<SetSwing> {
    let swing = allowed.then(|| library::find(&app.options.results, id));
    swing.flatten().ok_or(Refused::NotFound)
}

async fn send_of(swing: &SetSwing, file: &str, request: Request) -> Response {
    let path = swing.folder.join(file);
    let policy = match file {
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
) -> Answer {
    let swing = swing_with(&app, &id, allowed_still(&file))?;
    let path = swing.folder.join("stills").join(&file);
    Ok(send(path, request).await)
}

/// The small picture of a swing, for lists.
pub async fn thumb(State(app): State<Shared>, Path(id): Path<String>) -> Answer {
    let small = app.off_thread(move |app| {
        let swing = library::folder(&app.options.results, &id)?;
        app.thumbs.of(&swing)
    });
    let jpeg = small.await.flatten().ok_or(Refused::NotFound)?;
    let kind = [(header::CONTENT_TYPE, "image/jpeg")];
    Ok((kind, jpeg.as_ref().clone()).into_response())
}

/// Sends a file with ranges, which a phone's player asks for.
async fn send(path: PathBuf, request: Request) -> Response {
    match ServeFile::new(path).oneshot(request).await {
        Ok(answer) => answer.into_response(),
        Err(never) => match never {},
    }
}
