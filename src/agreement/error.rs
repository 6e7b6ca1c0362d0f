//! What can go wrong with a sensor day, in sentences that say what to do next.

use std::path::{Path, PathBuf};

use crate::file_error::{At, FileError};
use crate::result::ResultError;

/// Why a session could not be compared or learnt from; one sentence each.
#[derive(Debug, thiserror::Error)]
pub enum AgreementError {
    /// A file could not be read or written.
    #[error("{0}. Check that the file exists and can be read.")]
    Io(#[from] FileError),
    /// A file that was read but can't be understood; `detail` ends with what to do.
    #[error("{}: {detail}", path.display())]
    Bad {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it and what to do.
        detail: String,
    },
    /// A measured swing could not be read.
    #[error(transparent)]
    Result(#[from] ResultError),
    /// There is nothing to compare; the sentence says what is missing.
    #[error("{0}")]
    Nothing(String),
    /// Learning was refused; the reason is for the coach.
    #[error("no calibration was written: {0}")]
    TooLittle(String),
}

impl AgreementError {
    /// A file that was read but can't be understood.
    pub fn bad(path: &Path, detail: impl Into<String>) -> Self {
        Self::Bad {
            path: path.to_owned(),
            detail: detail.into(),
        }
    }
}

/// Reads a whole file, refusing one larger than `limit` bytes.
pub fn read_bounded(path: &Path, limit: u64) -> Result<Vec<u8>, AgreementError> {
    use std::io::Read;
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .at(path)?
        .take(limit + 1)
        .read_to_end(&mut bytes)
        .at(path)?;
    if bytes.len() as u64 > limit {
        return Err(AgreementError::bad(
            path,
            format!(
                "larger than {} MB. Cut the recording into single swings.",
                limit >> 20
            ),
        ));
    }
    Ok(bytes)
}
