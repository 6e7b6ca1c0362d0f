//! A file that the system refused, for the errors of every room that reads or writes.

use std::path::{Path, PathBuf};

/// Which file, and what the system said of it.
#[derive(Debug, thiserror::Error)]
#[error("{}: {source}", path.display())]
pub struct FileError {
    /// Which file or folder.
    pub path: PathBuf,
    /// What the system said.
    pub source: std::io::Error,
}

/// Says which file a result of the system was about.
pub trait At<T> {
    /// The same, with the file's name in its error.
    ///
    /// # Errors
    /// The system's own, with the name.
    fn at(self, path: &Path) -> Result<T, FileError>;
}

impl<T> At<T> for std::io::Result<T> {
    fn at(self, path: &Path) -> Result<T, FileError> {
        self.map_err(|source| FileError {
            path: path.to_owned(),
            source,
        })
    }
}
