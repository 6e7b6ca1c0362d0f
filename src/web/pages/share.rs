//! A swing as one file for the student to keep.

use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use serde::Deserialize;

use super::{as_file, failed, not_found};
use crate::progress::Cancel;
use crate::report::References;
use crate::report::page::segment;
use crate::report::share::{Wish, can_hide, share};
use crate::result::StoredSwing;
use crate::sets::story::of_swing;
use crate::web::library::{Swing, find};
use crate::web::state::Shared;

/// The boxes of the form; absent means not ticked.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    named: String,
    head: String,
}

/// The form on a swing's page.
pub fn form(swing: &Swing) -> Markup {
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
) -> Response {
    let Some(swing) = find(&app.options.results, &id) else {
        return not_found().await;
    };
    let wish = Wish {
        named: asked.named == "yes",
        head_hidden: asked.head == "hidden",
    };
    let name = file_name(&swing);
    let shared = app.clone();
    let draw = move || -> Result<String, String> {
        let measured = StoredSwing::read(&swing.folder).map_err(|e| e.to_string())?;
        let references = References::load(None).map_err(|e| e.to_string())?;
        let pipeline = &shared.options.pipeline;
        let cancel = Cancel::default();
        let words = [of_swing(&measured.swing)];
        share(&measured, wish, &words, &references, pipeline, &cancel).map_err(|e| e.to_string())
    };
    let text = match app.drawing.draw(draw).await {
        Some(Ok(text)) => text,
        Some(Err(why)) => return failed(&why),
        None => return failed("The file could not be made. Measure the swing again."),
    };
    let attached = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_DISPOSITION, attached)], as_file(text)).into_response()
}

/// Plain letters alone, and nobody's name: a file's name is seen by more people than its content.
fn file_name(swing: &Swing) -> String {
    match swing.result.lesson() {
        Some(day) => format!("swing-{day}.html"),
        None => "swing.html".to_owned(),
    }
}
