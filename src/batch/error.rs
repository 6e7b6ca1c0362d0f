//! What can stop a whole folder. What goes wrong with one clip is written down beside the clip.

use std::path::PathBuf;

#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    #[error("{}: {source}. Check that the folder exists and can be read and written.", path.display())]
    Io {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("{}: no clips were found in it. Clips end in .mp4, .mov, .m4v, .3gp, .mkv, .webm or .avi.", path.display())]
    NoClips { path: PathBuf },
    #[error("{}: another run is writing here. Wait for it to finish, or give another --out.", path.display())]
    Busy { path: PathBuf },
    #[error("{}: line {line}: {detail}.", path.display())]
    Corrections {
        path: PathBuf,
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

impl BatchError {
    pub(super) fn io(path: &std::path::Path) -> impl FnOnce(std::io::Error) -> Self + use<> {
        let path = path.to_owned();
        move |source| Self::Io { path, source }
    }
}
