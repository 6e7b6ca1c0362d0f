//! A measured swing as it stands in its folder.

use std::path::{Path, PathBuf};

use super::curves::Curves;
use super::store::{ResultError, read_curves, read_swing};
use super::swing_file::SwingResult;

/// One swing as read from its folder.
#[derive(Clone, Debug)]
pub struct StoredSwing {
    /// Its folder.
    pub folder: PathBuf,
    /// What `swing.json` holds.
    pub swing: SwingResult,
    /// What `curves.csv` holds.
    pub curves: Curves,
}

impl StoredSwing {
    /// Reads `swing.json` and `curves.csv`.
    ///
    /// # Errors
    /// [`ResultError`] where either file can't be read or breaks a rule.
    pub fn read(folder: &Path) -> Result<Self, ResultError> {
        Ok(Self {
            swing: read_swing(&folder.join("swing.json"))?,
            curves: read_curves(&folder.join("curves.csv"))?,
            folder: folder.to_owned(),
        })
    }

    /// The folder's own name, whatever way led to it; the swing's where it has none.
    pub fn name(&self) -> String {
        let whole = self.folder.canonicalize().ok();
        let name = whole.as_deref().unwrap_or(&self.folder).file_name();
        name.map_or_else(
            || self.swing.name.clone(),
            |n| n.to_string_lossy().into_owned(),
        )
    }
}
