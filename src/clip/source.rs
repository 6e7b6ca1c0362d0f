//! Opening a container through our own file handle, so that any file name works.

use std::fs::File;
use std::path::Path;
use std::sync::Once;

use ffmpeg::format::context::{Input, StreamIo};
use ffmpeg::format::stream::Stream;
use ffmpeg_next as ffmpeg;

use super::error::ClipError;
use crate::file_error::At;

/// The containers that phones, cameras and messengers write: MP4, MOV and 3GP; Matroska and WebM;
/// AVI; MPEG transport and programme streams; ASF and WMV. Playlists, scripts and descriptions of
/// sessions would make the library open other files, or the network.
const FORMATS: &str = "mov,matroska,avi,mpegts,mpeg,asf";
/// The library may open nothing itself: it reads the handle that it was given. No protocol has
/// this name, and an empty list would allow all.
const NO_PROTOCOL: &str = "none";

/// Phones write up to about eight tracks; each track's index takes memory of its own.
const MOST_TRACKS: &str = "32";
/// The largest piece of memory that the library may take at once, bytes. A picture of the largest
/// size that is read takes 108 MB. Without a limit, an index of a few bytes that claims millions
/// of pictures takes gigabytes while the file is opened.
const LARGEST_PIECE: usize = 256 << 20;

static START: Once = Once::new();

/// The stream that shows the swing.
pub fn pictures<'a>(input: &'a Input, path: &Path) -> Result<Stream<'a>, ClipError> {
    let best = input.streams().best(ffmpeg::media::Type::Video);
    best.ok_or_else(|| ClipError::NoVideoStream(path.to_owned()))
}

/// How long a tick of a stream's clock lasts.
pub fn seconds_per_tick(stream: &Stream) -> f64 {
    let base = stream.time_base();
    f64::from(base.numerator()) / f64::from(base.denominator().max(1))
}

/// Opens a container. Nothing is decoded yet.
pub fn open(path: &Path) -> Result<Input, ClipError> {
    START.call_once(|| {
        // A failure shows again, with a file's name, when the file is opened.
        let _ = ffmpeg::init();
        ffmpeg::log::set_level(ffmpeg::log::Level::Fatal);
        // SAFETY: it takes a number and stores it in an atomic of the library; the wrapper crate
        // has no name for it.
        #[allow(unsafe_code, reason = "the only way to this limit")]
        unsafe {
            ffmpeg::ffi::av_max_alloc(LARGEST_PIECE);
        }
    });
    let file = File::open(path).at(path)?;
    let meta = file.metadata().at(path)?;
    if meta.is_dir() {
        Err(std::io::Error::from(std::io::ErrorKind::IsADirectory)).at(path)?;
    }
    if meta.len() == 0 {
        return Err(ClipError::Empty(path.to_owned()));
    }
    let stream = StreamIo::from_read_seek(file).map_err(|e| ClipError::not_video(path, e))?;
    let mut options = ffmpeg::Dictionary::new();
    options.set("format_whitelist", FORMATS);
    options.set("protocol_whitelist", NO_PROTOCOL);
    options.set("max_streams", MOST_TRACKS);
    ffmpeg::format::input_from_stream(stream, None, Some(options)).map_err(|e| match e {
        ffmpeg::Error::Other { errno } if errno == ffmpeg::error::EINVAL => ClipError::NotVideo {
            path: path.to_owned(),
            detail: "no format that phones and cameras write, or damaged".into(),
        },
        e => ClipError::not_video(path, e),
    })
}
