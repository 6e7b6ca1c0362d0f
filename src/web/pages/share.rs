//! A swing as one file for the student to keep.

use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::IntoResponse;
use maud::{Markup, html};
use serde::Deserialize;

use super::{Answer, as_file, drawn, swing_at};
use crate::progress::Cancel;
use crate::report::References;
use crate::report::page::segment;
use crate::report::share::{Wish, can_hide, share};
use crate::result::StoredSwing;
use crate::sets::SetSwing;
use crate::sets::story::of_swing;
use crate::web::state::Shared;

/// The boxes of the form; absent means not ticked.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    named: String,
    head: String,
}

/// The form on a swing's page.
pub fn form(swing: &SetSwing) -> Markup {
    let hides = can_hide(&swing.folder);
    html! {
        section aria-labelledby="h-share" {
            h2 #h-share { "For the student to keep" }
            form.stack method="get" action=(format!("/swing/{}/share", segment(&swing.id))) {
                p { "One file with the numbers, pictures and cautions; it opens in any browser, without this program and without a network." }
                p.check {
                    input #named type="checkbox" name="named" value="yes";
                    label for="named" { "With the player's name" }
                }
                p.check {
                    input #head type="checkbox" name="head" value="hidden" disabled[!hides];
                    label for="head" {
                        "Head made unrecognisable in every picture"
                        @if !hides { " (where the head is was not kept for this swing: measure it again)" }
                    }
                }
                button type="submit" { "Make the file" }
            }
        }
    }
}

pub async fn share_file(
    State(app): State<Shared>,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Answer {
    let swing = swing_at(&app, &id)?;
    let wish = Wish {
        named: asked.named == "yes",
        head_hidden: asked.head == "hidden",
    };
    let name = file_name(&swing);
    let shared = app.clone();
    let lost = "The file could not be made. Measure the swing again.";
    let page = drawn(&app, lost, move || {
        let measured = StoredSwing::read(&swing.folder).map_err(|e| e.to_string())?;
        let references = References::load(None).map_err(|e| e.to_string())?;
        let pipeline = &shared.options.pipeline;
        let cancel = Cancel::default();
        let words = [of_swing(&measured.swing)];
        share(&measured, wish, &words, &references, pipeline, &cancel).map_err(|e| e.to_string())
    });
    let attached = format!("attachment; filename=\"{name}\"");
    let headers = [(header::CONTENT_DISPOSITION, attached)];
    Ok((headers, as_file(page.await?)).into_response())
}

/// Plain letters alone, and nobody's name: a file's name is seen by more people than its content.
fn file_name(swing: &SetSwing) -> String {
    match swing.swing.lesson() {
        Some(day) => format!("swing-{day}.html"),
        None => "swing.html".to_owned(),
    }
}
