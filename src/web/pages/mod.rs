//! The local page's own pages. Each is made whole on the server; scripts only help.

mod compare;
mod delete;
mod find;
mod job;
mod library;
mod lists;
mod player;
mod rows;
mod sets;
mod share;
mod swing;
mod upload;
mod words;

use axum::extract::{Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;

pub use compare::compare;
pub use delete::{ask_delete_player, ask_delete_swing, delete_player, delete_swing};
pub use find::find;
pub use job::{job, job_state};
pub use library::library;
pub use player::{player, rename_player};
pub use sets::{progress, set, set_against, set_c3d, set_csv};
pub use share::share_file;
pub use swing::{save_typed, swing};
pub use upload::upload_form;

use super::guard::{COOKIE, equal};
use super::state::{App, Shared};
use crate::report::page::{Home, SCRUB_SCRIPT, cautions, content_policy, document_with};
use crate::sets::SetSwing;

/// What these pages need besides the common style.
const STYLE: &str = include_str!("web.css");

/// A page of this server, with its policy as a header too.
fn page(status: StatusCode, title: &str, body: &Markup, script: Option<&str>) -> Response {
    let body = html! {
        header.top {
            nav aria-label="Pages" {
                a href="/" { "Players" } " "
                a href="/upload" { "Film a swing" } " "
                a href="/find" { "Find swings" }
            }
            h1 { (title) }
        }
        main { (body) (cautions()) }
        footer { p { "quarterturn " (env!("CARGO_PKG_VERSION")) ", on the coach's own computer. Nothing leaves it." } }
    };
    let text = document_with(Home::Server, title, &body, script, STYLE);
    let policy = content_policy(Home::Server, script, STYLE);
    with_policy((status, Html(text)).into_response(), &policy)
}

/// A page that [`document`](crate::report::page::document) made as a file is, with its policy as a
/// header too.
fn as_file(text: String) -> Response {
    let policy = content_policy(Home::File, Some(SCRUB_SCRIPT), "");
    with_policy(Html(text).into_response(), &policy)
}

pub(super) fn with_policy(answer: Response, policy: &str) -> Response {
    let policy = format!("{policy}; frame-ancestors 'none'");
    ([(header::CONTENT_SECURITY_POLICY, policy)], answer).into_response()
}

/// Why a request gets no page of its own.
#[derive(Debug)]
pub enum Refused {
    /// There is nothing at its address.
    NotFound,
    /// A failure on this computer, with its reason.
    Failed(String),
    /// What is wrong with the request.
    Request(StatusCode, String),
}

/// What a request gets.
pub type Answer<T = Response> = Result<T, Refused>;

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let (status, text) = match self {
            Self::NotFound => {
                let body = html! { p { "There is nothing at this address. " a href="/" { "To the players" } } };
                return page(StatusCode::NOT_FOUND, "Not found", &body, None);
            }
            Self::Failed(text) => (StatusCode::INTERNAL_SERVER_ERROR, text),
            // What is left of a refused upload is not read; the connection ends with the answer.
            Self::Request(status, text) => {
                let close = [(header::CONNECTION, "close")];
                return (close, not_done(status, &text)).into_response();
            }
        };
        not_done(status, &text)
    }
}

pub async fn not_found() -> Refused {
    Refused::NotFound
}

fn not_done(status: StatusCode, text: &str) -> Response {
    let body = html! {
        section.warnings role="alert" { p { (text) } }
        p { a href="/" { "To the players" } }
    };
    page(status, "Not done", &body, None)
}

/// Refuses what a player or a swing can't be given now, or at all.
fn refuse<T>(status: StatusCode, text: &str) -> Answer<T> {
    Err(Refused::Request(status, text.to_owned()))
}

/// The swing that an address names.
fn swing_at(app: &Shared, id: &str) -> Answer<SetSwing> {
    super::library::find(&app.options.results, id).ok_or(Refused::NotFound)
}

/// Does what waits for a disk off the threads that answer requests; `lost` is told where it broke off.
async fn done<T: Send + 'static>(
    app: &Shared,
    lost: &str,
    work: impl FnOnce(&App) -> Result<T, String> + Send + 'static,
) -> Answer<T> {
    let made = app.off_thread(work).await;
    made.unwrap_or_else(|| Err(lost.to_owned()))
        .map_err(Refused::Failed)
}

/// Draws on the thread for that, in its turn; `lost` is told where it broke off.
async fn drawn<T: Send + 'static>(
    app: &Shared,
    lost: &str,
    draw: impl FnOnce() -> Result<T, String> + Send + 'static,
) -> Answer<T> {
    let made = app.drawing.draw(draw).await;
    made.unwrap_or_else(|| Err(lost.to_owned()))
        .map_err(Refused::Failed)
}

#[derive(Deserialize)]
pub struct Key {
    #[serde(default)]
    key: String,
}

/// Trades the address's key for a cookie, so that it is not carried in every address.
pub async fn enter(State(app): State<Shared>, Query(key): Query<Key>) -> Response {
    if !equal(&key.key, &app.token) {
        return (
            StatusCode::UNAUTHORIZED,
            "This address is from an earlier run. Open the one that `quarterturn show` printed last.",
        )
            .into_response();
    }
    let cookie = format!("{COOKIE}={}; Path=/; HttpOnly; SameSite=Lax", app.token);
    ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response()
}
