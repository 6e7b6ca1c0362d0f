//! What lies in the folder of results: its folders, and one swing in full.

use std::path::{Path, PathBuf};

use crate::file_error::At;
use crate::measure::OTHER_FOLDER;
use crate::report::page::with_facts;
use crate::result::{
    NOTES_MAX, ResultError, TypedIn, folders_in, rewrite_typed_in, write_by_rename,
};
use crate::sets::SetSwing;

/// The coach's notes beside a result, as versions before 0.2 kept them.
const OLD_NOTES: &str = "notes.txt";

/// The swing with this folder name. The name is only ever compared with names that are there, so
/// it can't lead anywhere else.
pub fn find(results: &Path, id: &str) -> Option<SetSwing> {
    SetSwing::read(id.to_owned(), folder(results, id)?)
}

/// Whether the numbers of a swing are there.
pub fn stands(results: &Path, name: &str) -> bool {
    results.join(name).join("swing.json").is_file()
}

/// The folder of this name, found among those that are there.
pub fn folder(results: &Path, id: &str) -> Option<PathBuf> {
    let all = folders(results);
    all.into_iter().find(|(name, _)| name == id).map(|f| f.1)
}

/// Folders directly inside, by name; hidden ones, links and names that are not UTF-8 left out. Behind
/// them those of clips that were measured alone beside another, which lie in the other's folder.
pub fn folders(results: &Path) -> Vec<(String, PathBuf)> {
    let mut all: Vec<_> = folders_in(results).collect();
    let beside: Vec<(String, PathBuf)> = all
        .iter()
        .filter_map(|(name, folder)| {
            let (_, other) = folders_in(folder).find(|f| f.0 == OTHER_FOLDER)?;
            Some((beside_id(name), other))
        })
        .filter(|(id, _)| all.iter().all(|(name, _)| name != id))
        .collect();
    all.extend(beside);
    all
}

/// What the result of the other of two clips is called that were measured each alone; `name` is the
/// folder of the first.
pub fn beside_id(name: &str) -> String {
    format!("{name}, the other clip")
}

/// The folder name of the first of two clips that were measured each alone; `folder` is the other's.
pub fn beside_whom(folder: &Path) -> Option<String> {
    let name = |p: &Path| Some(p.file_name()?.to_str()?.to_owned());
    (name(folder)? == OTHER_FOLDER).then(|| name(folder.parent()?))?
}

/// The notes of a swing: typed into the result, else the file of an earlier version.
pub fn notes_of(folder: &Path, typed: &TypedIn) -> Option<String> {
    let older = || {
        let mut text = std::fs::read_to_string(folder.join(OLD_NOTES)).ok()?;
        text.truncate(text.floor_char_boundary(NOTES_MAX));
        Some(text)
    };
    typed.notes.clone().or_else(older)
}

/// Changes what was typed in about a swing. Notes of an earlier version move into the result first.
///
/// # Errors
/// Where the result can't be read or written; then it is as it was.
pub fn change(folder: &Path, change: impl FnOnce(&mut TypedIn)) -> Result<(), ResultError> {
    let now = rewrite_typed_in(folder, |typed| {
        typed.notes = notes_of(folder, typed);
        change(typed);
    })?;
    // The page of the swing names what was typed in; where it can't be changed the result counts.
    let page = folder.join("report.html");
    if let Ok(text) = std::fs::read_to_string(&page)
        && let Some(text) = with_facts(&text, &now)
        && let Err(e) = write_by_rename(&page, text.as_bytes())
    {
        tracing::warn!("{e}");
    }
    let old = folder.join(OLD_NOTES);
    match std::fs::remove_file(&old) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Ok(Err(e).at(&old)?),
        _ => Ok(()),
    }
}
