//! Changing later what was typed in about a swing.

use std::path::Path;
use std::sync::{Mutex, PoisonError};

use serde_json::Value;

use super::store::{ResultError, read_swing_bytes, write_by_rename};
use super::swing_file::SwingResult;
use super::typed_in::TypedIn;
use crate::file_error::At;

/// One change at a time: two pages that change one swing must not undo each other's.
static CHANGING: Mutex<()> = Mutex::new(());

/// Changes the typed part of the result in `folder`, tidies it and puts the file in its place by
/// rename. All else in it stays as it stands, in the version it was written in. Gives the result as
/// it now reads.
///
/// # Errors
/// Those of [`super::read_swing`], and where the file can't be written; then it is as it was.
pub fn rewrite_typed_in(
    folder: &Path,
    change: impl FnOnce(&mut TypedIn),
) -> Result<SwingResult, ResultError> {
    let _one = CHANGING.lock().unwrap_or_else(PoisonError::into_inner);
    let path = folder.join("swing.json");
    let json = |e: serde_json::Error| ResultError::Json {
        path: path.clone(),
        detail: e.to_string(),
    };
    let bytes = std::fs::read(&path).at(&path)?;
    // What can't be read is not touched.
    let mut typed = read_swing_bytes(&bytes, &path)?.typed_in;
    change(&mut typed);
    let mut file: Value = serde_json::from_slice(&bytes).map_err(json)?;
    if let Some(fields) = file.as_object_mut() {
        let typed = serde_json::to_value(typed.tidied()).map_err(json)?;
        fields.insert("typed_in".to_owned(), typed);
    }
    let mut text = serde_json::to_vec_pretty(&file).map_err(json)?;
    text.push(b'\n');
    let now = read_swing_bytes(&text, &path)?;
    write_by_rename(&path, &text)?;
    Ok(now)
}

#[cfg(test)]
mod tests {
    use super::super::OLD;
    use super::*;

    #[test]
    fn only_the_typed_part_of_a_file_changes_and_it_reads_as_before() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("swing.json");
        std::fs::write(&path, OLD).expect("written");
        let now = rewrite_typed_in(folder.path(), |t| {
            t.player = Some("Student 7".into());
            t.lesson = "2026-05-14".parse().ok();
            t.label = Some("hips held".into());
            t.notes = Some("first line\nsecond".into());
        })
        .expect("rewritten");
        assert_eq!(now.typed_in.label.as_deref(), Some("hips held"));
        let read = |text: &str| serde_json::from_str::<Value>(text).expect("JSON");
        let (mut before, mut after) = (
            read(OLD),
            read(&std::fs::read_to_string(&path).expect("read")),
        );
        assert_eq!(after["typed_in"]["lesson"], "2026-05-14");
        for file in [&mut before, &mut after] {
            file.as_object_mut().expect("an object").remove("typed_in");
        }
        assert_eq!(before, after);
    }

    #[test]
    fn a_file_that_cannot_be_read_is_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("swing.json");
        std::fs::write(&path, "{\"schema\": \"quarterturn.swing/9\"}").expect("written");
        assert!(rewrite_typed_in(folder.path(), |t| t.player = None).is_err());
        assert_eq!(
            std::fs::read(&path).expect("read"),
            b"{\"schema\": \"quarterturn.swing/9\"}"
        );
    }
}
