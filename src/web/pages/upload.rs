//! The upload form, with what must be agreed before a clip is sent.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::html;

use super::page;
use crate::report::cautions::CONSENT;
use crate::web::state::Shared;

const SCRIPT: &str = include_str!("upload.js");

pub async fn upload_form(State(app): State<Shared>) -> Response {
    let most = app.options.pipeline.web.upload_max_bytes / 1_000_000;
    let body = html! {
        form #upload.stack method="post" action="/upload" enctype="multipart/form-data" {
            fieldset {
                legend { "Before you send a clip" }
                @for (i, text) in CONSENT.iter().enumerate() {
                    p.check {
                        input id=(format!("consent-{i}")) type="checkbox" name="consent" value="yes" required;
                        label for=(format!("consent-{i}")) { (text) }
                    }
                }
                p { "The clips and the result stay on the coach's computer until they are deleted there. Everything of a player can be deleted for good from the library." }
            }
            fieldset {
                legend { "Who and what" }
                @for (name, label, hint) in [
                    ("player", "Player", "may be left out"),
                    ("club", "Club", "7 iron"),
                    ("ball_speed", "Ball speed, with its unit", "52 m/s"),
                    ("carry", "Carry, with its unit", "142 m"),
                ] {
                    label for=(name) { (label) }
                    input id=(name) type="text" name=(name) maxlength="80" autocomplete="off" placeholder=(hint);
                }
            }
            fieldset {
                legend { "The clips: one view or both of the same swing" }
                label for="face_on" { "Face-on, filmed from the front" }
                input #face_on type="file" name="face_on" accept="video/mp4,video/quicktime,.mp4,.mov";
                label for="down_the_line" { "Down-the-line, filmed from behind the hands" }
                input #down_the_line type="file" name="down_the_line" accept="video/mp4,video/quicktime,.mp4,.mov";
                p.small { "MP4 or MOV, " (most) " MB at most together. Two clips must show the same swing; a swing filmed by one phone after another is two swings." }
            }
            button type="submit" { "Send and measure" }
            p #sending role="status" {}
        }
    };
    page(StatusCode::OK, "Upload a swing", &body, Some(SCRIPT))
}
