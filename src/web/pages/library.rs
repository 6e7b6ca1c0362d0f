//! The first page: players, what is being measured, and how a phone gets here.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, PreEscaped, html};

use super::job::stage;
use super::lists::{people, search_box};
use super::page;
use crate::report::page::segment;
use crate::report::words::counted;
use crate::web::index::players;
use crate::web::jobs::Stage;
use crate::web::state::Shared;

/// Where a phone stands, how, and how its clip gets here.
const PHONES: &str = include_str!("phones.svg");

pub async fn library(State(app): State<Shared>) -> Response {
    let swings = app.swings().await;
    let everybody = players(&swings);
    let body = html! {
        p.doing {
            a.button.great href="/upload" { "Film a swing" }
        }
        (jobs(&app))
        @if everybody.is_empty() {
            section aria-labelledby="h-film" { h2 #h-film { "How to film" } (PreEscaped(PHONES)) }
            section { p { "No swing has been measured yet. Film one, or run quarterturn measure." } }
        } @else {
            section aria-labelledby="h-people" {
                h2 #h-people { (counted(everybody.iter().filter(|p| !p.name.is_empty()).count(), "player")) ", " (counted(swings.len(), "swing")) }
                (search_box(""))
                (people(&everybody))
            }
        }
        (phone(&app))
    };
    page(StatusCode::OK, "Players", &body, None)
}

fn jobs(app: &Shared) -> Markup {
    let all = app.jobs.list();
    let open: Vec<_> = all.iter().filter(|j| j.open()).collect();
    let nothing: Vec<_> = all
        .iter()
        .filter(|j| matches!(j.stage, Stage::Nothing(_)))
        .collect();
    html! {
        @if !open.is_empty() {
            section aria-labelledby="h-jobs" {
                h2 #h-jobs { "Being measured" }
                ul { @for j in open { li { a href=(format!("/job/{}", segment(&j.ticket.id))) { (j.ticket.name) } ": " (stage(j.stage)) } } }
            }
        }
        @if !nothing.is_empty() {
            section aria-labelledby="h-nothing" {
                h2 #h-nothing { "Clips without a result" }
                ul { @for j in nothing { li { a href=(format!("/job/{}", segment(&j.ticket.id))) { (j.ticket.name) } ", " b { (stage(j.stage)) } ": " (j.line) } } }
            }
        }
    }
}

/// The code for a phone, where the page is open to the network.
fn phone(app: &Shared) -> Markup {
    let code = app.phone_url.as_ref().and_then(|url| {
        let code = qrcode::QrCode::new(url.as_bytes()).ok()?;
        Some(
            code.render::<qrcode::render::svg::Color>()
                .min_dimensions(180, 180)
                .build(),
        )
    });
    // The drawing brings a declaration that only a file of its own may have.
    let code = code.and_then(|c| c.find("<svg").map(|i| c[i..].to_owned()));
    html! {
        section.phone aria-labelledby="h-phone" {
            h2 #h-phone { "Film with a phone" }
            @match (&app.phone_url, code) {
                (Some(url), Some(code)) => {
                    p { "Join the same network with the phone and scan the code, or type the address. Whoever has it can see every swing here: show it to your students only." }
                    div.qr role="img" aria-label="Code that opens this page on a phone" { (PreEscaped(code)) }
                    p.address { (url) }
                }
                _ => p { "This page is open to this computer alone. To let phones on the same network send clips, close quarterturn and start “quarterturn for phones” from the menu of programs, or type quarterturn show --lan." },
            }
        }
    }
}
