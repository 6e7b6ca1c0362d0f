//! Opening a container through our own file handle, so that any file name works.

use std::fs::File;
use std::path::Path;
use std::sync::Once;

use ffmpeg::format::context::{Input, StreamIo};
use ffmpeg_next as ffmpeg;

use super::error::ClipError;

static START: Once = Once::new();

/// Opens a container. Nothing is decoded yet.
pub fn open(path: &Path) -> Result<Input, ClipError> {
    START.call_once(|| {
        // A failure shows again, with a file's name, when the file is opened.
        let _ = ffmpeg::init();
        ffmpeg::log::set_level(ffmpeg::log::Level::Fatal);
    });
    let io = |source| ClipError::Io {
        path: path.to_owned(),
        source,
    };
    let file = File::open(path).map_err(io)?;
    let meta = file.metadata().map_err(io)?;
    if meta.is_dir() {
        return Err(io(std::io::Error::from(std::io::ErrorKind::IsADirectory)));
    }
    if meta.len() == 0 {
        return Err(ClipError::Empty(path.to_owned()));
    }
    let stream = StreamIo::from_read_seek(file).map_err(|e| ClipError::not_video(path, e))?;
    ffmpeg::format::input_from_stream(stream, None, None).map_err(|e| ClipError::not_video(path, e))
}
