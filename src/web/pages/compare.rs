//! Any two swings side by side, made when asked for and not kept.

use axum::extract::{Query, State};
use serde::Deserialize;

use super::{Answer, as_file, drawn, swing_at};
use crate::progress::{Cancel, Silent};
use crate::report::compare::comparison_page;
use crate::result::StoredSwing;
use crate::web::state::Shared;

#[derive(Deserialize)]
pub struct Pair {
    first: String,
    second: String,
}

pub async fn compare(State(app): State<Shared>, Query(pair): Query<Pair>) -> Answer {
    let there = || Ok((swing_at(&app, &pair.first)?, swing_at(&app, &pair.second)?));
    let (first, second) = there()?;
    let shared = app.clone();
    let lost = "The two swings could not be drawn. Measure them again.";
    let page = drawn(&app, lost, move || {
        let pipeline = &shared.options.pipeline;
        let read = |folder| StoredSwing::read(folder).map_err(|e| e.to_string());
        let (a, b) = (read(&first.folder)?, read(&second.folder)?);
        comparison_page([&a, &b], pipeline, &Silent, &Cancel::default())
            .map(|(_, page)| page)
            .map_err(|e| e.to_string())
    });
    match page.await {
        Ok(text) => Ok(as_file(text)),
        // One of them may have been deleted while it waited for its turn.
        Err(why) => there().and(Err(why)),
    }
}
