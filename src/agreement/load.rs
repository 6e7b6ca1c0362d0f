//! Finds the measured swings under a folder.

use std::path::{Path, PathBuf};

use super::error::AgreementError;
use crate::file_error::At;
use crate::result::{Curves, SwingResult, read_curves, read_swing, swing_folders};

/// A measured swing with where it came from.
#[derive(Clone, Debug)]
pub struct MeasuredSwing {
    /// Its folder.
    pub folder: PathBuf,
    /// The folder's name, by which sensor swings are paired.
    pub name: String,
    /// What `swing.json` holds.
    pub result: SwingResult,
    /// What `curves.csv` holds.
    pub curves: Curves,
}

/// `folder` is one measured swing or holds several. Folders without a `swing.json` are passed over.
///
/// # Errors
/// [`AgreementError`] where the folder or a result in it can't be read, or it holds no measured swing.
pub fn load_results(folder: &Path) -> Result<Vec<MeasuredSwing>, AgreementError> {
    let folders = swing_folders(folder).at(folder)?;
    if folders.is_empty() {
        return Err(AgreementError::Nothing(format!(
            "{}: no measured swing (a folder with swing.json) is here. Measure the clips first with `quarterturn measure` or `quarterturn folder`.",
            folder.display()
        )));
    }
    folders
        .into_iter()
        .map(|folder| {
            let result = read_swing(&folder.join("swing.json"))?;
            let curves = read_curves(&folder.join("curves.csv"))?;
            let stem = folder.canonicalize().ok();
            let stem = stem.as_deref().unwrap_or(&folder).file_name();
            let name =
                stem.map_or_else(|| result.name.clone(), |n| n.to_string_lossy().into_owned());
            Ok(MeasuredSwing {
                folder,
                name,
                result,
                curves,
            })
        })
        .collect()
}
