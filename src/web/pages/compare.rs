//! Any two swings side by side, made when asked for and not kept.

use axum::extract::{Query, State};
use axum::response::Response;
use serde::Deserialize;

use super::{as_file, failed, not_found};
use crate::progress::{Cancel, Silent};
use crate::report::compare::comparison_page;
use crate::result::StoredSwing;
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
        let read = |folder| StoredSwing::read(folder).map_err(|e| e.to_string());
        let (a, b) = (read(&first.folder)?, read(&second.folder)?);
        comparison_page([&a, &b], pipeline, &Silent, &Cancel::default())
            .map(|(_, page)| page)
            .map_err(|e| e.to_string())
    };
    match app.drawing.draw(draw).await {
        Some(Ok(text)) => as_file(text),
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
