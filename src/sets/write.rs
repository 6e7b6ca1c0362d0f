//! The files of sets in a folder: page, JSON, table, C3D.

use std::path::Path;

use serde_json::{Value, json};

use super::contrast::{Contrast, TwoSets};
use super::mean::Sessions;
use super::over::Course;
use super::page::{Drawing, progress_page, set_page, two_page};
use super::set::{Row, SwingSet};
use super::{export, story, typed};
use crate::agreement::c3d::TooLarge;
use crate::file_error::{At, FileError};
use crate::report::ReportError;
use crate::result::{Curves, ResultError, read_curves, write_by_rename, write_json};

/// Schema of `set.json`, `sets.json` and `progress.json`.
pub const SCHEMA: &str = "quarterturn.sets/1";

/// Why a set could not be written.
#[derive(Debug, thiserror::Error)]
pub enum SetsError {
    /// A picture or a film.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// A swing's curves.
    #[error(transparent)]
    Result(#[from] ResultError),
    /// The C3D file.
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
    /// The table or the JSON.
    #[error("the set could not be written as a table: {0}. Leave out the swing with the odd name.")]
    Table(String),
    /// The folder.
    #[error("{0}. Check that the folder can be written and has room.")]
    Io(#[from] FileError),
}

/// Numbers and page of one name.
fn write(folder: &Path, name: &str, numbers: &Value, html: &str) -> Result<(), SetsError> {
    std::fs::create_dir_all(folder).at(folder)?;
    write_json(&folder.join(format!("{name}.json")), numbers)?;
    Ok(write_by_rename(
        &folder.join(format!("{name}.html")),
        html.as_bytes(),
    )?)
}

/// The table of a set as bytes.
///
/// # Errors
/// Where it can't be made, which memory alone decides.
pub fn csv(set: &SwingSet, rows: &[Row]) -> Result<Vec<u8>, SetsError> {
    export::to_csv(set, rows).map_err(|e| SetsError::Table(e.to_string()))
}

/// The C3D file of a set as bytes; its swings' curves are read.
///
/// # Errors
/// [`SetsError`] where curves can't be read or there are too many swings.
pub fn c3d(set: &SwingSet) -> Result<Vec<u8>, SetsError> {
    let curves: Vec<Curves> = set
        .swings
        .iter()
        .map(|s| read_curves(&s.folder.join("curves.csv")))
        .collect::<Result<_, _>>()?;
    Ok(export::to_c3d(set, &curves)?)
}

fn row_json(r: &Row) -> Value {
    json!({
        "number": r.number.key(), "unit": r.number.unit(), "swings": r.each, "mean": r.mean, "spread": r.spread,
    })
}

fn set_json(set: &SwingSet) -> Value {
    let swings: Vec<&str> = set.swings.iter().map(|s| s.id.as_str()).collect();
    let typed: Vec<Value> = typed::means(set)
        .iter()
        .map(|m| json!({ "name": m.name, "typed_for": m.n, "words": m.words() }))
        .collect();
    json!({ "name": set.name, "lesson": set.lesson(), "swings": swings, "typed_in": typed })
}

/// What a set's JSON holds.
pub fn json_of_set(set: &SwingSet, rows: &[Row]) -> Value {
    json!({
        "schema": SCHEMA, "tool_version": env!("CARGO_PKG_VERSION"), "set": set_json(set),
        "words": story::of_set(set, rows), "numbers": rows.iter().map(row_json).collect::<Vec<_>>(),
    })
}

/// What the JSON of two sets holds.
pub fn json_of_two(two: &TwoSets) -> Value {
    let contrast = |c: &Contrast| {
        json!({
            "number": c.first.number.key(), "unit": c.first.number.unit(),
            "first": { "mean": c.first.mean, "spread": c.first.spread },
            "second": { "mean": c.second.mean, "spread": c.second.spread },
            "difference": c.difference, "word": c.word, "more": c.more,
            "spread_difference": c.spread_difference, "spread_word": c.spread_word,
        })
    };
    json!({
        "schema": SCHEMA, "tool_version": env!("CARGO_PKG_VERSION"),
        "first": set_json(&two.first), "second": set_json(&two.second),
        "one_session": two.sessions == Sessions::One, "words": story::of_two(two),
        "numbers": two.contrasts.iter().map(contrast).collect::<Vec<_>>(),
    })
}

/// What the JSON of a player's lessons holds.
pub fn json_of_course(course: &Course) -> Value {
    let stages: Vec<Value> = course
        .stages
        .iter()
        .map(|s| {
            json!({
                "lesson": s.lesson, "label": s.set.name, "set": set_json(&s.set), "notes": s.notes(),
                "numbers": s.rows.iter().map(row_json).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "schema": SCHEMA, "tool_version": env!("CARGO_PKG_VERSION"), "player": course.player,
        "undated": course.undated, "stages": stages,
    })
}

/// Writes `set.html`, `set.json`, `set.csv` and `set.c3d`.
///
/// # Errors
/// [`SetsError`] where something can't be read, drawn or written.
pub fn write_set(
    folder: &Path,
    set: &SwingSet,
    rows: &[Row],
    drawing: &Drawing,
) -> Result<(), SetsError> {
    let files = [("set.csv", csv(set, rows)?), ("set.c3d", c3d(set)?)];
    let exports = files
        .each_ref()
        .map(|(name, _)| ((*name).to_owned(), *name));
    let html = set_page(set, rows, &exports, drawing)?;
    std::fs::create_dir_all(folder).at(folder)?;
    for (name, bytes) in &files {
        write_by_rename(&folder.join(name), bytes)?;
    }
    write(folder, "set", &json_of_set(set, rows), &html)
}

/// Writes `sets.html` and `sets.json` of two sets compared.
///
/// # Errors
/// Those of [`write_set`].
pub fn write_two(folder: &Path, two: &TwoSets, drawing: &Drawing) -> Result<(), SetsError> {
    let html = two_page(two, drawing)?;
    write(folder, "sets", &json_of_two(two), &html)
}

/// Writes `progress.html` and `progress.json`.
///
/// # Errors
/// Those of [`write_set`].
pub fn write_progress(folder: &Path, course: &Course, drawing: &Drawing) -> Result<(), SetsError> {
    let html = progress_page(course, drawing);
    write(folder, "progress", &json_of_course(course), &html)
}
