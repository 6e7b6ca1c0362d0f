//! Finds the measured swings under a folder.

use std::path::{Path, PathBuf};

use super::error::AgreementError;
use crate::file_error::At;
use crate::result::{StoredSwing, swing_folders};

/// `folder` is one measured swing or holds several. Folders without a `swing.json` are passed over.
///
/// # Errors
/// [`AgreementError`] where the folder or a result in it can't be read, or it holds no measured swing.
pub fn load_results(folder: &Path) -> Result<Vec<StoredSwing>, AgreementError> {
    let folders = swing_folders(folder).at(folder)?;
    if folders.is_empty() {
        return Err(AgreementError::Nothing(format!(
            "{}: no measured swing (a folder with swing.json) is here. Measure the clips first with `quarterturn measure` or `quarterturn folder`.",
            folder.display()
        )));
    }
    let read = |folder: &PathBuf| Ok(StoredSwing::read(folder)?);
    folders.iter().map(read).collect()
}
