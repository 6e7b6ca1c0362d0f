//! What can stop a whole folder. What goes wrong with one clip is written down beside the clip.

use std::path::PathBuf;

/// What stops a whole folder; one sentence each.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    /// A file or folder can't be read or written.
    #[error("{}: {source}. Check that the folder exists and can be read and written.", path.display())]
    Io {
        /// Which one.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The folder holds no clips.
    #[error("{}: no clips were found in it. Clips end in .mp4, .mov, .m4v, .3gp, .mkv, .webm or .avi.", path.display())]
    NoClips {
        /// Which folder.
        path: PathBuf,
    },
    /// Another run writes into the same folder.
    #[error("{}: another run is writing here. Wait for it to finish, or give another --out.", path.display())]
    Busy {
        /// Which folder.
        path: PathBuf,
    },
    /// The coach's corrections can't be understood.
    #[error("{}: line {line}: {detail}.", path.display())]
    Corrections {
        /// Which file.
        path: PathBuf,
        /// Number of the line, from 1.
        line: usize,
        /// What is wrong with it.
        detail: String,
    },
    /// The journal can't be read or written.
    #[error("{}: the journal can't be used ({source}). Free some disk space, or move the journal away to begin again.", path.display())]
    Journal {
        /// Which file.
        path: PathBuf,
        /// What the database said.
        source: rusqlite::Error,
    },
    /// The journal was written by a newer program.
    #[error("{}: the journal is of version {found}, newer than this program. Use the newer program.", path.display())]
    JournalVersion {
        /// Which file.
        path: PathBuf,
        /// Its version.
        found: i64,
    },
    /// Too little room for one more swing.
    #[error("{}: only {free_mb} MB are free, and a swing needs up to {needed_mb} MB. Free some space and start again: everything measured so far is kept.", path.display())]
    DiskFull {
        /// Of which disk.
        path: PathBuf,
        /// What is free, MB.
        free_mb: u64,
        /// What a swing may need, MB.
        needed_mb: u64,
    },
    /// A network or the runtime library is missing.
    #[error(transparent)]
    Pose(#[from] crate::pose::PoseError),
    /// A result can't be read.
    #[error(transparent)]
    Result(#[from] crate::result::ResultError),
}

impl BatchError {
    pub(super) fn io(path: &std::path::Path) -> impl FnOnce(std::io::Error) -> Self + use<> {
        let path = path.to_owned();
        move |source| Self::Io { path, source }
    }
}
