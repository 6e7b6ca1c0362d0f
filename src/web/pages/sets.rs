//! Sets of swings: one, two compared, a player's lessons; made when asked for and not kept.

use std::collections::BTreeSet;
use std::path::PathBuf;

use axum::extract::{Query, RawQuery, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::IntoResponse;

use super::{Answer, Refused, as_file};
use crate::config::Pipeline;
use crate::progress::{Cancel, Silent};
use crate::report::page::segment;
use crate::sets::page::{Drawing, progress_page, set_page, two_page};
use crate::sets::select::same;
use crate::sets::{Course, Row, SetSwing, SetsError, SwingSet, TwoSets, Wanted, c3d, csv, read_of};
use crate::web::index::Entry;
use crate::web::state::Shared;

/// A question by fields, of which one may stand several times.
type Fields = Vec<(String, String)>;

/// Most swings that are taken by name.
const MOST_NAMED: usize = 200;

fn value<'a>(asked: &'a [(String, String)], name: &str) -> Option<&'a str> {
    asked
        .iter()
        .find(|(n, _)| n == name)
        .map(|(_, v)| v.as_str())
}

/// What a query asks for; `None` where a day is none.
fn wanted(asked: &[(String, String)]) -> Option<Wanted> {
    let text = |name| value(asked, name).map(str::to_owned);
    Some(Wanted {
        player: text("player"),
        lesson: match value(asked, "lesson").filter(|l| !l.is_empty()) {
            Some(day) => Some(day.parse().ok()?),
            None => None,
        },
        label: text("label"),
        swings: asked
            .iter()
            .filter(|(n, _)| n == "swing")
            .map(|(_, v)| v.clone())
            .take(MOST_NAMED)
            .collect(),
    })
}

fn swing_page(id: &str) -> String {
    format!("/swing/{}", segment(id))
}

/// Folders of swings that a query may be about: those it names, or those of its player.
async fn about(app: &Shared, asked: &[(String, String)]) -> Vec<(String, PathBuf)> {
    let player = value(asked, "player").map(same);
    let named: BTreeSet<&str> = asked
        .iter()
        .filter(|(n, _)| n == "swing")
        .map(|(_, v)| v.as_str())
        .collect();
    let of_player = |s: &Entry| player.as_ref().is_none_or(|p| same(s.player()) == *p);
    app.swings()
        .await
        .iter()
        .filter(|s| named.contains(s.id.as_str()) || (named.is_empty() && of_player(s)))
        .map(|s| (s.id.clone(), s.folder.clone()))
        .collect()
}

/// What a page or a file is made from.
struct Asked {
    app: Shared,
    query: Fields,
    folders: Vec<(String, PathBuf)>,
}

impl Asked {
    fn swings(&self) -> Vec<SetSwing> {
        read_of(self.folders.iter().cloned())
    }

    fn pipeline(&self) -> &Pipeline {
        &self.app.options.pipeline
    }
}

async fn of(app: &Shared, query: Fields) -> Asked {
    Asked {
        app: app.clone(),
        folders: about(app, &query).await,
        query,
    }
}

/// Makes it on the thread that draws, in its turn; `None` from `make` where there is no such set.
async fn made<T: Send + 'static>(
    asked: Asked,
    make: impl FnOnce(&Asked) -> Option<Result<T, String>> + Send + 'static,
) -> Answer<T> {
    let app = asked.app.clone();
    let made = app.drawing.draw(move || make(&asked)).await;
    made.unwrap_or_else(|| {
        Some(Err(
            "The swings could not be drawn. Measure them again.".into()
        ))
    })
    .ok_or(Refused::NotFound)?
    .map_err(Refused::Failed)
}

/// A whole page, with its policy as a header too.
async fn drawn(
    asked: Asked,
    make: impl FnOnce(&Asked, &Drawing) -> Option<Result<String, String>> + Send + 'static,
) -> Answer {
    let page = made(asked, |asked| {
        let drawing = Drawing {
            pipeline: asked.pipeline(),
            swing_page: Some(&swing_page),
            progress: &Silent,
            cancel: &Cancel::default(),
        };
        make(asked, &drawing)
    });
    page.await.map(as_file)
}

pub async fn set(
    State(app): State<Shared>,
    Query(fields): Query<Fields>,
    RawQuery(query): RawQuery,
) -> Answer {
    let asked = of(&app, fields).await;
    drawn(asked, move |asked, drawing| {
        let set = wanted(&asked.query)?.choose(&asked.swings()).ok()?;
        let rows: Vec<Row> = set.rows(asked.pipeline());
        let same = query.map_or_else(String::new, |q| format!("?{q}"));
        let exports = ["set.csv", "set.c3d"].map(|name| (format!("/{name}{same}"), name));
        Some(set_page(&set, &rows, &exports, drawing).map_err(|e| e.to_string()))
    })
    .await
}

pub async fn set_against(State(app): State<Shared>, Query(fields): Query<Fields>) -> Answer {
    drawn(of(&app, fields).await, |asked, drawing| {
        let first = wanted(&asked.query)?;
        let all = asked.swings();
        let set = first.choose(&all).ok()?;
        let day = match value(&asked.query, "against_lesson").filter(|l| !l.is_empty()) {
            Some(day) => Some(day.parse().ok()?),
            None => set.lesson(),
        };
        let against = value(&asked.query, "against").map(str::to_owned);
        let other = Wanted {
            lesson: day,
            label: against.or_else(|| first.label.clone()),
            ..first
        };
        let two = TwoSets::new(other.choose(&all).ok()?, set, asked.pipeline());
        Some(two_page(&two, drawing).map_err(|e| e.to_string()))
    })
    .await
}

pub async fn progress(State(app): State<Shared>, Query(fields): Query<Fields>) -> Answer {
    drawn(of(&app, fields).await, |asked, drawing| {
        let player = value(&asked.query, "player")?;
        let course = Course::of(player, &asked.swings(), asked.pipeline())?;
        Some(Ok(progress_page(&course, drawing)))
    })
    .await
}

/// A file of a set to keep.
async fn file(
    asked: Asked,
    (name, kind): (&'static str, &'static str),
    make: impl FnOnce(&SwingSet, &Pipeline) -> Result<Vec<u8>, SetsError> + Send + 'static,
) -> Answer {
    let bytes = made(asked, |asked| {
        let set = wanted(&asked.query)?.choose(&asked.swings()).ok()?;
        Some(make(&set, asked.pipeline()).map_err(|e| e.to_string()))
    });
    let attached = format!("attachment; filename=\"{name}\"");
    let headers = [
        (CONTENT_TYPE, kind.to_owned()),
        (CONTENT_DISPOSITION, attached),
    ];
    Ok((headers, bytes.await?).into_response())
}

pub async fn set_csv(State(app): State<Shared>, Query(fields): Query<Fields>) -> Answer {
    let asked = of(&app, fields).await;
    file(
        asked,
        ("set.csv", "text/csv; charset=utf-8"),
        |set, pipeline| csv(set, &set.rows(pipeline)),
    )
    .await
}

pub async fn set_c3d(State(app): State<Shared>, Query(fields): Query<Fields>) -> Answer {
    let asked = of(&app, fields).await;
    file(asked, ("set.c3d", "application/octet-stream"), |set, _| {
        c3d(set)
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn queries_are_decoded_and_days_that_are_none_refused() {
        let asked = |query: &str| {
            let uri = format!("/set?{query}").parse().expect("an address");
            Query::<Fields>::try_from_uri(&uri).expect("a question").0
        };
        let q = asked("player=Student+7&label=hips%20held&lesson=2026-05-14&swing=a%26b&swing=c");
        let w = wanted(&q).expect("a question");
        assert_eq!(w.player.as_deref(), Some("Student 7"));
        assert_eq!(w.label.as_deref(), Some("hips held"));
        assert_eq!(w.lesson, "2026-05-14".parse().ok());
        assert_eq!(w.swings, ["a&b", "c"]);
        assert!(wanted(&asked("lesson=yesterday")).is_none());
        assert_eq!(wanted(&asked("")), Some(Wanted::default()));
    }
}
