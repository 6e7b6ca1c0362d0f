//! What can be wrong with a clip, each with what to do next.

use std::path::{Path, PathBuf};

#[derive(Debug, thiserror::Error)]
pub enum ClipError {
    #[error("{}: {source}. Check the name and that the file can be read.", path.display())]
    Io {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("{}: the file is empty. Copy it from the phone again.", .0.display())]
    Empty(PathBuf),
    #[error("{}: not a video that can be read ({detail}). Copy it from the phone again, or give an MP4 or MOV file.", path.display())]
    NotVideo { path: PathBuf, detail: String },
    #[error("{}: holds no video stream, only sound or data. Give the clip that shows the swing.", .0.display())]
    NoVideoStream(PathBuf),
    #[error("{}: the picture is {width} × {height} pixels, more than the limit of {limit} in all. Export it smaller.", path.display())]
    TooLarge {
        path: PathBuf,
        width: u32,
        height: u32,
        limit: u64,
    },
    #[error("{}: the picture is only {width} × {height} pixels, too small to see a golfer. Film at 720p or more.", path.display())]
    TooSmall {
        path: PathBuf,
        width: u32,
        height: u32,
    },
    #[error("{}: claims to last {seconds:.0} s, more than the limit of {limit:.0} s. Cut it to the swings.", path.display())]
    TooLong {
        path: PathBuf,
        seconds: f64,
        limit: f64,
    },
    #[error("{}: {frames} pictures of {width} × {height} pixels are more than can be read: at most {most_frames} pictures, and {most_megapixels} million pixels in all. Cut it to the swings, or export it smaller.", path.display())]
    TooMuch {
        path: PathBuf,
        frames: u64,
        width: u32,
        height: u32,
        most_frames: u64,
        most_megapixels: u64,
    },
    #[error("{}: the video could not be decoded after frame {frame} ({detail}). Copy it from the phone again.", path.display())]
    Decode {
        path: PathBuf,
        frame: usize,
        detail: String,
    },
    #[error("{}: holds only {frames} frame(s), too few to show a swing. Give the clip that shows the swing.", path.display())]
    TooShort { path: PathBuf, frames: usize },
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
