//! What can stop a whole folder. What goes wrong with one clip is written down beside the clip.

use std::path::PathBuf;

use crate::file_error::FileError;

/// What stops a whole folder; one sentence each.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    #[error("{0}. Check that the folder exists and can be read and written.")]
    Io(#[from] FileError),
    #[error("{}: no clips were found in it. Clips end in .mp4, .mov, .m4v, .3gp, .mkv, .webm or .avi.", path.display())]
    NoClips { path: PathBuf },
    #[error("{}: another run is writing here. Wait for it to finish, or give another --out.", path.display())]
    Busy { path: PathBuf },
    #[error("{}: line {line}: {detail}.", path.display())]
    Corrections {
        path: PathBuf,
        /// Number of the line, from 1.
        line: usize,
        detail: String,
    },
    #[error("{}: the journal can't be used ({source}). Free some disk space, or move the journal away to begin again.", path.display())]
    Journal {
        path: PathBuf,
        source: rusqlite::Error,
    },
    #[error("{}: the journal is of version {found}, newer than this program. Use the newer program.", path.display())]
    JournalVersion { path: PathBuf, found: i64 },
    #[error("{}: only {free_mb} MB are free, and a swing needs up to {needed_mb} MB. Free some space and start again: everything measured so far is kept.", path.display())]
    DiskFull {
        path: PathBuf,
        free_mb: u64,
        needed_mb: u64,
    },
    #[error(transparent)]
    Pose(#[from] crate::pose::PoseError),
    #[error(transparent)]
    Result(#[from] crate::result::ResultError),
}
