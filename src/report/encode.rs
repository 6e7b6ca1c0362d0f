//! H.264 in MP4, encoded once and written twice: at true speed and stretched to slow motion.

use std::path::{Path, PathBuf};

use ff::format::Pixel;
use ff::{Dictionary, Packet, Rational, codec, encoder, format};
use ffmpeg_next as ff;

use super::picture::Canvas;
use super::scale::Scaler;
use crate::config::ReportConfig;
use crate::file_error::{At, FileError};
use crate::result::part_folder;

/// MP4's customary clock, ticks a second.
const CLOCK: i32 = 90_000;

/// FFmpeg's names of the encoders that will do, the better one first. Debian's FFmpeg has the first;
/// the release carries the second, whose licence asks nothing of the program that carries it.
const ENCODERS: [&str; 2] = ["libx264", "libopenh264"];

/// FFmpeg's name of the encoder that the videos are written with; `None` where this computer's
/// FFmpeg has none.
pub fn video_encoder() -> Option<&'static str> {
    ff::init().ok()?;
    ENCODERS
        .into_iter()
        .find(|name| encoder::find_by_name(name).is_some())
}

/// The quality that is asked of an encoder, in its own words.
fn quality(encoder: &str, config: &ReportConfig) -> Vec<(&'static str, String)> {
    match encoder {
        // It knows no constant quality, but a constant step of quantisation, which is near enough.
        "libopenh264" => {
            let step = config.video_step.to_string();
            vec![
                ("rc_mode", "off".into()),
                ("qmin", step.clone()),
                ("qmax", step),
                ("coder", "cabac".into()),
            ]
        }
        _ => vec![
            ("crf", config.video_crf.to_string()),
            ("preset", config.video_preset.clone()),
        ],
    }
}

/// Why a video could not be written.
#[derive(Debug, thiserror::Error)]
pub enum EncodeError {
    /// FFmpeg here has no encoder for H.264.
    #[error(
        "FFmpeg has neither the libx264 nor the libopenh264 encoder. Install Debian's libavcodec59, or a build with one of the two."
    )]
    NoEncoder,
    /// The video can't be written, or not be put in its place.
    #[error("{0}. Check that the folder can be written and has room.")]
    Io(#[from] FileError),
}

/// What FFmpeg said, of this file.
fn fail(path: &Path) -> impl Fn(ff::Error) -> EncodeError {
    |source| {
        EncodeError::Io(FileError {
            path: path.to_owned(),
            source: std::io::Error::other(source),
        })
    }
}

/// One file that packets go to, its time stretched by a whole factor.
struct Output {
    file: format::context::Output,
    time_base: Rational,
    stretch: i64,
    part: PathBuf,
    path: PathBuf,
}

/// An encoder with the files that it fills.
pub struct VideoWriter {
    encoder: encoder::Video,
    scaler: Scaler,
    outputs: Vec<Output>,
    folder: tempfile::TempDir,
    last_pts: Option<i64>,
}

impl VideoWriter {
    /// Opens the encoder for pictures of an even size. `files` are paths and how many times
    /// longer each lasts. Nothing stands at those paths before [`Self::finish`].
    pub fn new(
        files: &[(PathBuf, u32)],
        size: (u32, u32),
        fps: f64,
        config: &ReportConfig,
    ) -> Result<Self, EncodeError> {
        let first = files.first().map(|f| f.0.clone()).unwrap_or_default();
        let fail_first = fail(&first);
        ff::init().map_err(&fail_first)?;
        // The encoder reports its statistics otherwise; what fails is told by the errors here.
        ff::log::set_level(ff::log::Level::Error);
        let name = video_encoder().ok_or(EncodeError::NoEncoder)?;
        let codec = encoder::find_by_name(name).ok_or(EncodeError::NoEncoder)?;
        let mut open = codec::context::Context::new_with_codec(codec)
            .encoder()
            .video()
            .map_err(&fail_first)?;
        open.set_width(size.0);
        open.set_height(size.1);
        open.set_format(Pixel::YUV420P);
        open.set_time_base(Rational(1, CLOCK));
        let rate = Rational::from(if fps.is_finite() && fps > 1.0 {
            fps
        } else {
            30.0
        });
        open.set_frame_rate(Some(rate));
        open.set_gop(config.video_keyframe_every);
        // The scaler converts by the older matrix; players must be told, or colours shift.
        open.set_colorspace(ff::color::Space::SMPTE170M);
        open.set_color_range(ff::color::Range::MPEG);
        // Closed groups: a player that jumps to a key frame needs nothing from before it.
        open.set_flags(codec::Flags::GLOBAL_HEADER | codec::Flags::CLOSED_GOP);
        let mut options = Dictionary::new();
        for (key, value) in quality(name, config) {
            options.set(key, &value);
        }
        options.set("profile", "high");
        let encoder = open.open_with(options).map_err(&fail_first)?;
        let folder = work_folder(&first).at(&first)?;
        let mut outputs = Vec::new();
        for (i, (path, stretch)) in files.iter().enumerate() {
            let part = folder.path().join(format!("{i}.mp4"));
            let fail = fail(path);
            let mut file = format::output(&part).map_err(&fail)?;
            let mut stream = file.add_stream(codec).map_err(&fail)?;
            stream.set_parameters(&encoder);
            stream.set_time_base(Rational(1, CLOCK));
            let mut options = Dictionary::new();
            options.set("movflags", "+faststart");
            file.write_header_with(options).map_err(&fail)?;
            let time_base = file.stream(0).map_or(Rational(1, CLOCK), |s| s.time_base());
            outputs.push(Output {
                file,
                time_base,
                stretch: i64::from((*stretch).max(1)),
                part,
                path: path.clone(),
            });
        }
        let scaler = Scaler::new(
            (Pixel::RGBA, size.0, size.1),
            (Pixel::YUV420P, size.0, size.1),
        )
        .map_err(&fail_first)?;
        Ok(Self {
            encoder,
            scaler,
            outputs,
            folder,
            last_pts: None,
        })
    }

    /// Adds a picture of the writer's size at `time_s`, seconds from the video's start. Times that
    /// do not grow are moved on by one tick.
    pub fn add(&mut self, canvas: &Canvas, time_s: f64) -> Result<(), EncodeError> {
        let wanted = (time_s * f64::from(CLOCK)).round() as i64;
        let pts = self.last_pts.map_or(wanted, |last| wanted.max(last + 1));
        self.last_pts = Some(pts);
        let scaled = self
            .scaler
            .scale(canvas.pixels(), canvas.width() as usize * 4);
        // The encoder may hold a frame after it was sent, so each needs a buffer of its own.
        let mut frame = scaled.cloned().map_err(|e| self.failed(e))?;
        frame.set_pts(Some(pts));
        self.encoder
            .send_frame(&frame)
            .map_err(|e| self.failed(e))?;
        self.drain()
    }

    /// Writes what is left, closes the files, and moves them to their places.
    pub fn finish(mut self) -> Result<(), EncodeError> {
        self.encoder.send_eof().map_err(|e| self.failed(e))?;
        self.drain()?;
        for output in &mut self.outputs {
            let ended = output.file.write_trailer();
            ended.map_err(fail(&output.path))?;
        }
        let moves: Vec<(PathBuf, PathBuf)> =
            self.outputs.drain(..).map(|o| (o.part, o.path)).collect();
        for (part, path) in moves {
            // The work folder may lie on another disk: then the file is copied.
            std::fs::rename(&part, &path)
                .or_else(|_| std::fs::copy(&part, &path).map(|_| ()))
                .at(&path)?;
        }
        drop(self.folder);
        Ok(())
    }

    fn drain(&mut self) -> Result<(), EncodeError> {
        let mut packet = Packet::empty();
        while self.encoder.receive_packet(&mut packet).is_ok() {
            for output in &mut self.outputs {
                let mut copy = packet.clone();
                copy.set_stream(0);
                copy.set_pts(packet.pts().map(|t| t * output.stretch));
                copy.set_dts(packet.dts().map(|t| t * output.stretch));
                copy.set_duration(packet.duration() * output.stretch);
                copy.rescale_ts(Rational(1, CLOCK), output.time_base);
                copy.write_interleaved(&mut output.file)
                    .map_err(fail(&output.path))?;
            }
        }
        Ok(())
    }

    fn failed(&self, source: ff::Error) -> EncodeError {
        let first = self.outputs.first();
        fail(first.map_or(Path::new(""), |o| &o.path))(source)
    }
}

/// A folder for unfinished files: beside the target, or elsewhere where FFmpeg can't take the
/// target's name because it is not UTF-8.
fn work_folder(target: &Path) -> std::io::Result<tempfile::TempDir> {
    match target.parent() {
        Some(folder) if folder.to_str().is_some() && !folder.as_os_str().is_empty() => {
            part_folder(folder)
        }
        _ => part_folder(&std::env::temp_dir()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    #[test]
    fn both_files_play_and_the_slow_one_lasts_longer() {
        let config = Pipeline::default().report;
        let folder = tempfile::tempdir().expect("a temporary folder");
        let files = [
            (folder.path().join("a.mp4"), 1),
            (folder.path().join("b.mp4"), 4),
        ];
        let mut writer = VideoWriter::new(&files, (64, 96), 30.0, &config).expect("opens");
        let mut canvas = Canvas::new(64, 96).expect("a canvas");
        for i in 0..30 {
            canvas.plate(0.0, 0.0, 64.0, 96.0, [i * 8, 100, 40], 255);
            writer.add(&canvas, f64::from(i) / 30.0).expect("encodes");
        }
        assert!(!files[0].0.exists(), "nothing stands before it is whole");
        writer.finish().expect("finishes");
        let length = |path: &Path| {
            let file = format::input(path).expect("readable");
            let stream = file.streams().best(ff::media::Type::Video).expect("video");
            assert_eq!(stream.parameters().id(), codec::Id::H264);
            stream.duration() as f64 * f64::from(stream.time_base())
        };
        assert!(
            (length(&files[0].0) - 1.0).abs() < 0.05,
            "{}",
            length(&files[0].0)
        );
        assert!(
            (length(&files[1].0) - 4.0).abs() < 0.2,
            "{}",
            length(&files[1].0)
        );
        // Faststart: the index stands before the pictures, so that a phone can begin at once.
        let bytes = std::fs::read(&files[0].0).expect("readable");
        let find = |tag: &[u8]| bytes.windows(4).position(|w| w == tag).expect("present");
        assert!(find(b"moov") < find(b"mdat"));
    }
}
