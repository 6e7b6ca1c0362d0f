//! Players and their swings.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, PreEscaped, html};

use super::page;
use crate::report::page::segment;
use crate::report::{first, untold, words};
use crate::result::SwingResult;
use crate::web::jobs::Stage;
use crate::web::library::{Swing, by_player, scan};
use crate::web::state::Shared;

/// Where a phone stands, how, and how its clip gets here.
const PHONES: &str = include_str!("phones.svg");

pub async fn library(State(app): State<Shared>) -> Response {
    let swings = scan(&app.options.results);
    let all: Vec<String> = swings.iter().map(|s| s.id.clone()).collect();
    let groups = by_player(swings);
    let body = html! {
        (jobs(&app))
        (phone(&app))
        @if groups.is_empty() {
            section aria-labelledby="h-film" { h2 #h-film { "How to film" } (PreEscaped(PHONES)) }
            section { p { "No swing has been measured yet. " a href="/upload" { "Upload one" } " or run quarterturn measure." } }
        }
        @for (player, swings) in &groups { (group(player, swings)) }
        @if all.len() > 1 { (pair(&all)) }
    };
    page(StatusCode::OK, "Players and swings", &body, None)
}

fn group(player: &str, swings: &[Swing]) -> Markup {
    let name = if player.is_empty() {
        "No name given"
    } else {
        player
    };
    html! {
        section.player {
            h2 { (name) }
            ul.swings {
                @for s in swings {
                    li {
                        h3 { a href=(format!("/swing/{}", segment(&s.id))) { (s.result.name) } }
                        (figures(&s.result))
                        @if let Some(club) = &s.result.typed_in.club { p.source { (club) } }
                        @if !s.notes.is_empty() { p.note { (s.notes.lines().next().unwrap_or_default()) } }
                    }
                }
            }
            p.small { a href=(format!("/player/delete?player={}", segment(player))) { "Delete everything of " (if player.is_empty() { "the players without a name" } else { player }) } }
        }
    }
}

/// What stands first of a swing, and a word where its pictures are to be doubted.
pub(super) fn figures(swing: &SwingResult) -> Markup {
    let first = first::first(swing);
    html! {
        @if let Some(told) = untold::doubt(swing) { p.doubt { (told) } }
        @match first {
            None => p.when { "No moment of the swing was seen" },
            Some(first) => {
                p.when { (first::heading(first.event)) }
                dl.figures {
                    @for (m, e) in &first.figures {
                        div { dt { (m.short()) } dd { (words::estimate_or_why(e)) } }
                    }
                }
            }
        }
    }
}

fn jobs(app: &Shared) -> Markup {
    let all = app.jobs.list();
    let open: Vec<_> = all
        .iter()
        .filter(|j| matches!(j.stage, Stage::Waiting | Stage::Measuring))
        .collect();
    let nothing: Vec<_> = all
        .iter()
        .filter(|j| matches!(j.stage, Stage::Nothing(_)))
        .collect();
    html! {
        @if !open.is_empty() {
            section aria-labelledby="h-jobs" {
                h2 #h-jobs { "Being measured" }
                ul { @for j in open { li { a href=(format!("/job/{}", segment(&j.id))) { (j.name) } ": " (super::job::stage(j.stage)) } } }
            }
        }
        @if !nothing.is_empty() {
            section aria-labelledby="h-nothing" {
                h2 #h-nothing { "Clips without a result" }
                ul { @for j in nothing { li { a href=(format!("/job/{}", segment(&j.id))) { (j.name) } ", " b { (super::job::stage(j.stage)) } ": " (j.line) } } }
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
            h2 #h-phone { "Upload from a phone" }
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

fn pair(ids: &[String]) -> Markup {
    html! {
        section aria-labelledby="h-pair" {
            h2 #h-pair { "Compare any two" }
            form.stack method="get" action="/compare" {
                @for (name, label, chosen) in [("first", "First swing", 1), ("second", "Second swing", 0)] {
                    label for=(name) { (label) }
                    select id=(name) name=(name) {
                        @for (i, id) in ids.iter().enumerate() { option value=(id) selected[i == chosen] { (id) } }
                    }
                }
                button type="submit" { "Set side by side" }
            }
        }
    }
}
