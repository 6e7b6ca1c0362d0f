//! What can be wrong with a clip, each with what to do next.

use crate::file_error::FileError;
use std::path::{Path, PathBuf};

/// Why a clip can't be read; one sentence each, with the file and what to do.
#[derive(Debug, thiserror::Error)]
pub enum ClipError {
    /// The file can't be opened or read.
    #[error("{0}. Check the name and that the file can be read.")]
    Io(#[from] FileError),
    /// The file holds no bytes.
    #[error("{}: the file is empty. Copy it from the phone again.", .0.display())]
    Empty(PathBuf),
    /// No container that phones and cameras write, or a damaged one.
    #[error("{}: not a video that can be read ({detail}). Copy it from the phone again, or give an MP4 or MOV file.", path.display())]
    NotVideo {
        /// Which clip.
        path: PathBuf,
        /// What the decoder said.
        detail: String,
    },
    /// The container holds no pictures.
    #[error("{}: holds no video stream, only sound or data. Give the clip that shows the swing.", .0.display())]
    NoVideoStream(PathBuf),
    /// A picture larger than is decoded.
    #[error("{}: the picture is {width} × {height} pixels, more than the limit of {limit} in all. Export it smaller.", path.display())]
    TooLarge {
        /// Which clip.
        path: PathBuf,
        /// Of the picture, pixels.
        width: u32,
        /// Of the picture, pixels.
        height: u32,
        /// Most pixels of a picture.
        limit: u64,
    },
    /// A picture too small to show a golfer.
    #[error("{}: the picture is only {width} × {height} pixels, too small to see a golfer. Film at 720p or more.", path.display())]
    TooSmall {
        /// Which clip.
        path: PathBuf,
        /// Of the picture, pixels.
        width: u32,
        /// Of the picture, pixels.
        height: u32,
    },
    /// Longer than any swing.
    #[error("{}: claims to last {seconds:.0} s, more than the limit of {limit:.0} s. Cut it to the swings.", path.display())]
    TooLong {
        /// Which clip.
        path: PathBuf,
        /// How long it plays.
        seconds: f64,
        /// The longest that is read, seconds.
        limit: f64,
    },
    /// More pictures than are decoded, whatever their size.
    #[error("{}: {frames} pictures of {width} × {height} pixels are more than can be read: at most {most_frames} pictures, and {most_megapixels} million pixels in all. Cut it to the swings, or export it smaller.", path.display())]
    TooMuch {
        /// Which clip.
        path: PathBuf,
        /// How many it holds.
        frames: u64,
        /// Of a picture, pixels.
        width: u32,
        /// Of a picture, pixels.
        height: u32,
        /// Most frames of a clip.
        most_frames: u64,
        /// Most pixels of all frames, millions.
        most_megapixels: u64,
    },
    /// A picture can't be decoded.
    #[error("{}: the video could not be decoded after frame {frame} ({detail}). Copy it from the phone again.", path.display())]
    Decode {
        /// Which clip.
        path: PathBuf,
        /// Number of the frame.
        frame: usize,
        /// What the decoder said.
        detail: String,
    },
    /// Too few frames for a swing.
    #[error("{}: holds only {frames} frame(s), too few to show a swing. Give the clip that shows the swing.", path.display())]
    TooShort {
        /// Which clip.
        path: PathBuf,
        /// How many it holds.
        frames: usize,
    },
    /// The stream holds no frame that can be shown.
    #[error("{}: none of its pictures could be decoded. Copy it from the phone again.", .0.display())]
    NoPictures(PathBuf),
}

impl ClipError {
    pub(super) fn not_video(path: &Path, error: ffmpeg_next::Error) -> Self {
        Self::NotVideo {
            path: path.to_owned(),
            detail: error.to_string(),
        }
    }
}
