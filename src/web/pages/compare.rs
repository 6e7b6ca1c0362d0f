//! Any two swings side by side, made when asked for and not kept.

use axum::extract::{Query, State};
use axum::response::{Html, IntoResponse, Response};
use serde::Deserialize;

use super::{failed, not_found, with_policy};
use crate::progress::{Cancel, Silent};
use crate::report::Settings;
use crate::report::compare::{StoredSwing, compare as compare_results, comparison_page};
use crate::report::page::{Home, SCRUB_SCRIPT, content_policy};
use crate::web::library::find;
use crate::web::state::Shared;

#[derive(Deserialize)]
pub struct Pair {
    first: String,
    second: String,
}

pub async fn compare(State(app): State<Shared>, Query(pair): Query<Pair>) -> Response {
    let results = &app.options.results;
    let (Some(first), Some(second)) = (find(results, &pair.first), find(results, &pair.second))
    else {
        return not_found().await;
    };
    let shared = app.clone();
    let draw = move || -> Result<String, String> {
        let pipeline = &shared.options.pipeline;
        let settings = Settings::of(pipeline);
        let read = |folder| StoredSwing::read(folder).map_err(|e| e.to_string());
        let (a, b) = (read(&first.folder)?, read(&second.folder)?);
        let told = compare_results(&a.swing, &b.swing, settings.learned, settings.report);
        comparison_page(&told, &a, &b, settings, &Silent, &Cancel::default())
            .map_err(|e| e.to_string())
    };
    match app.drawing.draw(draw).await {
        Some(Ok(text)) => with_policy(
            Html(text).into_response(),
            &content_policy(Home::File, Some(SCRUB_SCRIPT)),
        ),
        // Deleted while it waited for its turn.
        Some(Err(_))
            if [&pair.first, &pair.second]
                .iter()
                .any(|id| find(results, id).is_none()) =>
        {
            not_found().await
        }
        Some(Err(why)) => failed(&why),
        None => failed("The two swings could not be drawn. Measure them again."),
    }
}
