//! Whether a file is still the one that was read.

use std::path::Path;
use std::time::UNIX_EPOCH;

/// What makes a file worth reading again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileMark {
    /// Its length.
    pub bytes: i64,
    /// When it was changed last, nanoseconds since 1970.
    pub modified_ns: i64,
}

impl FileMark {
    /// Of a file as it is now.
    ///
    /// # Errors
    /// The system's, where it can't be asked.
    pub fn of(path: &Path) -> std::io::Result<Self> {
        let meta = std::fs::metadata(path)?;
        let modified = meta
            .modified()?
            .duration_since(UNIX_EPOCH)
            .unwrap_or_default();
        Ok(Self {
            bytes: i64::try_from(meta.len()).unwrap_or(i64::MAX),
            modified_ns: i64::try_from(modified.as_nanos()).unwrap_or(i64::MAX),
        })
    }

    /// When it was changed last, seconds since 1970.
    pub fn modified_s(self) -> f64 {
        self.modified_ns as f64 / 1e9
    }
}
