//! What can go wrong with a sensor day, in sentences that say what to do next.

use std::path::{Path, PathBuf};

use crate::result::ResultError;

#[derive(Debug, thiserror::Error)]
pub enum AgreementError {
    #[error("{}: {source}. Check that the file exists and can be read.", path.display())]
    Io {
        path: PathBuf,
        source: std::io::Error,
    },
    /// A file that was read but can't be understood; `detail` ends with what to do.
    #[error("{}: {detail}", path.display())]
    Bad { path: PathBuf, detail: String },
    #[error(transparent)]
    Result(#[from] ResultError),
    #[error("{0}")]
    Nothing(String),
    /// Learning was refused; the reason is for the coach.
    #[error("no calibration was written: {0}")]
    TooLittle(String),
}

impl AgreementError {
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
    let io = |source| AgreementError::Io {
        path: path.to_owned(),
        source,
    };
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .map_err(io)?
        .take(limit + 1)
        .read_to_end(&mut bytes)
        .map_err(io)?;
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
