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
use super::state::Shared;
use crate::report::page::{Home, SCRUB_SCRIPT, cautions, content_policy, document_with};

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

/// A request that was refused, told on a page.
pub fn refused(status: StatusCode, text: &str) -> Response {
    // What is left of a refused upload is not read; the connection ends with the answer.
    ([(header::CONNECTION, "close")], not_done(status, text)).into_response()
}

pub async fn not_found() -> Response {
    let body = html! { p { "There is nothing at this address. " a href="/" { "To the players" } } };
    page(StatusCode::NOT_FOUND, "Not found", &body, None)
}

/// A failure on this computer, told with its reason.
fn failed(text: &str) -> Response {
    not_done(StatusCode::INTERNAL_SERVER_ERROR, text)
}

fn not_done(status: StatusCode, text: &str) -> Response {
    let body = html! {
        section.warnings role="alert" { p { (text) } }
        p { a href="/" { "To the players" } }
    };
    page(status, "Not done", &body, None)
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
