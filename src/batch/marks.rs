//! What a result was made from, in a file beside its `swing.json`: a line for what its numbers depend
//! on, and one for what was said of whose swing it is and what was tried, so that this is put into the
//! result when the coach says something new, and what a page changed since stays otherwise.

use std::path::Path;

use super::error::BatchError;
use super::fingerprint::told_mark;
use super::planned::PlannedSwing;
use crate::file_error::At;
use crate::result::{rewrite_typed_in, write_by_rename};

const FILE: &str = ".fingerprint";

fn text(fingerprint: &str, told_mark: &str) -> String {
    format!("{fingerprint}\n{told_mark}\n")
}

/// Marks a result that is being made.
pub(super) fn mark(made: &Path, fingerprint: &str, told_mark: &str) -> std::io::Result<()> {
    std::fs::write(made.join(FILE), text(fingerprint, told_mark))
}

/// A whole result of this fingerprint stands in the folder.
pub(super) fn result_stands(folder: &Path, fingerprint: &str) -> bool {
    folder.join("swing.json").is_file()
        && std::fs::read_to_string(folder.join(FILE))
            .is_ok_and(|f| f.lines().next().map(str::trim) == Some(fingerprint))
}

/// Puts into a result that stands what is said of it, where that is not what was said before.
pub(super) fn tell(
    folder: &Path,
    swing: &PlannedSwing,
    fingerprint: &str,
) -> Result<(), BatchError> {
    let mark = told_mark(swing);
    let file = folder.join(FILE);
    let before = std::fs::read_to_string(&file).at(&file)?;
    if before.lines().nth(1) == Some(mark.as_str()) {
        return Ok(());
    }
    rewrite_typed_in(folder, |typed| swing.told.fill(typed))?;
    Ok(write_by_rename(&file, text(fingerprint, &mark).as_bytes())?)
}
