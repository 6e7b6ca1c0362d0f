//! Frames of a clip, one at a time.

use std::path::{Path, PathBuf};

use ffmpeg::format::Pixel;
use ffmpeg::format::context::Input;
use ffmpeg::frame::Video;
use ffmpeg::software::scaling;
use ffmpeg::{Packet, decoder, media};
use ffmpeg_next as ffmpeg;

use super::budget::Budget;
use super::error::ClipError;
use super::frame_pool::FramePool;
use super::info::{ClipInfo, Frame};
use super::metadata::Tags;
use super::orientation::Orientation;
use super::picture::Picture;
use super::source;
use super::timestamps::TimestampRepair;
use crate::config::ClipConfig;

/// What the container says about a clip; no frame is decoded.
///
/// # Errors
/// [`ClipError`] where the file can't be opened, is no clip, or is beyond a limit of `config`.
pub fn probe(path: &Path, config: &ClipConfig) -> Result<ClipInfo, ClipError> {
    FrameReader::open(path, config).map(|r| r.info)
}

/// An iterator over the frames of a clip, in display order and orientation.
pub struct FrameReader {
    path: PathBuf,
    pub(super) input: Input,
    stream: usize,
    pub(super) decoder: decoder::Video,
    scaler: Option<scaling::Context>,
    scaler_for: (Pixel, u32, u32),
    pool: FramePool,
    orientation: Orientation,
    seconds_per_tick: f64,
    info: ClipInfo,
    max_pixels: u64,
    budget: Budget,
    next_index: usize,
    first_s: Option<f64>,
    stamps: TimestampRepair<Video>,
    /// Frames whose times are known, soonest first; a few at most.
    timed: Vec<(f64, Video)>,
    drained: bool,
    ended: bool,
    pub(super) failed: bool,
}

impl FrameReader {
    /// Opens a clip and checks its limits. The decoder has one thread: the networks need the others.
    ///
    /// # Errors
    /// Those of [`probe`].
    pub fn open(path: &Path, config: &ClipConfig) -> Result<Self, ClipError> {
        let input = source::open(path)?;
        let bad = |e| ClipError::not_video(path, e);
        let stream = source::pictures(&input, path)?;
        let index = stream.index();
        let mut context =
            ffmpeg::codec::Context::from_parameters(stream.parameters()).map_err(bad)?;
        let mut threading = ffmpeg::threading::Config::kind(ffmpeg::threading::Type::Frame);
        threading.count = 1;
        context.set_threading(threading);
        let decoder = context.decoder().video().map_err(bad)?;
        let (width, height) = (decoder.width(), decoder.height());
        let pixels = u64::from(width) * u64::from(height);
        if pixels > config.max_pixels {
            return Err(ClipError::TooLarge {
                path: path.to_owned(),
                width,
                height,
                limit: config.max_pixels,
            });
        }
        if width.min(height) < config.min_side_pixels {
            return Err(ClipError::TooSmall {
                path: path.to_owned(),
                width,
                height,
            });
        }
        let duration_s = Some(input.duration())
            .filter(|d| *d > 0)
            .map(|d| d as f64 / f64::from(ffmpeg::ffi::AV_TIME_BASE));
        if let Some(seconds) = duration_s.filter(|d| *d > config.max_duration_s) {
            return Err(ClipError::TooLong {
                path: path.to_owned(),
                seconds,
                limit: config.max_duration_s,
            });
        }
        let seconds_per_tick = source::seconds_per_tick(&stream);
        let rate = |r: ffmpeg::Rational| {
            let v = f64::from(r.numerator()) / f64::from(r.denominator());
            Some(v).filter(|v| v.is_finite() && *v > 0.1 && *v < 10_000.0)
        };
        let average = rate(stream.avg_frame_rate());
        let fps = average.or_else(|| rate(stream.rate())).unwrap_or(30.0);
        let budget = Budget::new(config);
        let counted = u64::try_from(stream.frames()).unwrap_or(0);
        let lasting = duration_s.unwrap_or(0.0) * average.unwrap_or(0.0);
        budget.allows(path, counted.max(lasting as u64), width, height)?;
        let orientation = stream
            .side_data()
            .find(|d| d.kind() == ffmpeg::codec::packet::side_data::Type::DisplayMatrix)
            .map_or_else(Orientation::default, |d| Orientation::from_matrix(d.data()));
        let mut tags = Tags::default();
        tags.add(input.metadata().iter());
        tags.add(stream.metadata().iter());
        let (shown_width, shown_height) = orientation.size(width, height);
        let info = ClipInfo {
            file: path.to_owned(),
            width: shown_width,
            height: shown_height,
            rotation_deg: orientation.clockwise_deg,
            mirrored: orientation.mirrored,
            fps,
            capture_fps: tags.capture_fps(),
            duration_s,
            created_unix_s: tags.created_unix_s(),
            focal_35mm: tags.focal_35mm(),
            codec: format!("{:?}", decoder.id()).to_lowercase(),
            bits: if is_deep(decoder.format()) { 10 } else { 8 },
            has_sound: input.streams().best(media::Type::Audio).is_some(),
        };
        Ok(Self {
            path: path.to_owned(),
            stream: index,
            decoder,
            scaler: None,
            scaler_for: (Pixel::None, 0, 0),
            pool: FramePool::new(),
            orientation,
            seconds_per_tick,
            info,
            max_pixels: config.max_pixels,
            budget,
            next_index: 0,
            first_s: None,
            stamps: TimestampRepair::new(1.0 / fps),
            timed: Vec::new(),
            drained: false,
            ended: false,
            failed: false,
            input,
        })
    }

    fn decode_error(&self, detail: impl ToString) -> ClipError {
        ClipError::Decode {
            path: self.path.clone(),
            frame: self.next_index,
            detail: detail.to_string(),
        }
    }

    /// Decodes one frame more; false at the clip's end. `before` is shown every packet that the decoder
    /// is about to get.
    pub(super) fn receive(
        &mut self,
        decoded: &mut Video,
        mut before: impl FnMut(&Packet, &mut decoder::Video),
    ) -> Result<bool, ClipError> {
        let waits = ffmpeg::Error::Other {
            errno: ffmpeg::error::EAGAIN,
        };
        loop {
            match self.decoder.receive_frame(decoded) {
                Ok(()) => {
                    let (width, height) = (decoded.width(), decoded.height());
                    self.budget.take(&self.path, width, height)?;
                    return Ok(true);
                }
                Err(ffmpeg::Error::Eof) => return Ok(false),
                Err(_) if self.drained => return Ok(false),
                Err(error) => {
                    // One broken frame is passed over; the decoder goes on with the next packet.
                    if error != waits {
                        tracing::debug!(%error, "frame refused");
                    }
                    self.feed(&mut before)?;
                }
            }
        }
    }

    /// Feeds the decoder its next packet; at the file's end, or where the file breaks off, its end
    /// mark.
    fn feed(
        &mut self,
        mut before: impl FnMut(&Packet, &mut decoder::Video),
    ) -> Result<(), ClipError> {
        loop {
            let mut packet = Packet::empty();
            match packet.read(&mut self.input) {
                Ok(()) if packet.stream() != self.stream => {}
                Ok(()) => {
                    before(&packet, &mut self.decoder);
                    // A damaged packet costs its frames, not the clip.
                    if let Err(error) = self.decoder.send_packet(&packet) {
                        tracing::debug!(%error, "packet refused");
                    }
                    return Ok(());
                }
                Err(error) => {
                    // Truncated: what came before still counts.
                    if error != ffmpeg::Error::Eof {
                        tracing::debug!(%error, "read ended early");
                    }
                    self.drained = true;
                    return self.decoder.send_eof().map_err(|e| self.decode_error(e));
                }
            }
        }
    }

    /// The picture of a decoded frame.
    pub(super) fn convert(&mut self, decoded: &Video) -> Result<Picture, ClipError> {
        let (w, h, format) = (decoded.width(), decoded.height(), decoded.format());
        if u64::from(w) * u64::from(h) > self.max_pixels || w == 0 || h == 0 {
            return Err(self.decode_error("its picture changes to a size over the limit"));
        }
        if self.scaler.is_none() || self.scaler_for != (format, w, h) {
            let made =
                scaling::Context::get(format, w, h, Pixel::RGB24, w, h, scaling::Flags::BILINEAR)
                    .map_err(|e| self.decode_error(e))?;
            self.scaler = Some(made);
            self.scaler_for = (format, w, h);
        }
        let mut rgb = self.pool.take(w, h);
        let done = match &mut self.scaler {
            Some(scaler) => scaler.run(decoded, &mut rgb),
            None => Err(ffmpeg::Error::Bug),
        };
        done.map_err(|e| self.decode_error(e))?;
        Ok(Picture::decoded(self.pool.lend(rgb), self.orientation))
    }

    /// Decodes one frame more and puts it on the clock; at the clip's end, ends the clock.
    fn decode_one(&mut self) -> Result<(), ClipError> {
        let mut decoded = Video::empty();
        if self.receive(&mut decoded, |_, _| {})? {
            let ticks = decoded.timestamp();
            let stamp = ticks.map(|t| t as f64 * self.seconds_per_tick);
            self.stamps.push(stamp, decoded, &mut self.timed);
        } else {
            self.ended = true;
            self.stamps.finish(&mut self.timed);
        }
        Ok(())
    }

    /// The item; no other follows an error or the end.
    pub(super) fn until_error(
        &mut self,
        item: Option<Result<Frame, ClipError>>,
    ) -> Option<Result<Frame, ClipError>> {
        self.failed = !matches!(item, Some(Ok(_)));
        item
    }

    fn step(&mut self) -> Result<Option<Frame>, ClipError> {
        while self.timed.is_empty() && !self.ended {
            self.decode_one()?;
        }
        if self.timed.is_empty() {
            return Ok(None);
        }
        let (at_s, decoded) = self.timed.remove(0);
        let first_s = *self.first_s.get_or_insert(at_s);
        let frame = Frame {
            index: self.next_index,
            time_s: at_s - first_s,
            image: self.convert(&decoded)?,
        };
        self.next_index += 1;
        Ok(Some(frame))
    }
}

impl Iterator for FrameReader {
    type Item = Result<Frame, ClipError>;

    fn next(&mut self) -> Option<Self::Item> {
        let item = (!self.failed).then(|| self.step().transpose());
        self.until_error(item.flatten())
    }
}

fn is_deep(format: Pixel) -> bool {
    let name = format!("{format:?}");
    name.contains("10") || name.contains("12") || name.contains("16")
}
