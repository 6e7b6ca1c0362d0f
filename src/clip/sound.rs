//! The sound of a clip, mixed to one channel.

use std::path::Path;

use ffmpeg::format::sample::{Sample, Type};
use ffmpeg::{ChannelLayout, media};
use ffmpeg_next as ffmpeg;

use super::error::ClipError;
use super::info::Sound;
use super::source;
use crate::config::ClipConfig;

/// The highest rate of recorders. Silence at a made-up rate takes next to nothing in a file and
/// gigabytes when it is read.
const MOST_RATE_HZ: u32 = 96_000;

/// Reads a clip's sound at its own rate; `None` where it has none that can be read: a clip without
/// sound can still be measured.
///
/// # Errors
/// [`ClipError`] where the file can't be opened as a clip.
pub fn read_sound(path: &Path, config: &ClipConfig) -> Result<Option<Sound>, ClipError> {
    let mut input = source::open(path)?;
    let start = |kind: media::Type| {
        let stream = input.streams().best(kind)?;
        let tick = source::seconds_per_tick(&stream);
        let at = stream.start_time();
        let start_s = if at == i64::MIN {
            0.0
        } else {
            at as f64 * tick
        };
        Some((stream.index(), tick, start_s))
    };
    let Some((index, tick, sound_start)) = start(media::Type::Audio) else {
        return Ok(None);
    };
    let video_start = start(media::Type::Video).map_or(0.0, |v| v.2);
    let Some(mut decoder) = input.stream(index).and_then(|s| {
        ffmpeg::codec::Context::from_parameters(s.parameters())
            .ok()?
            .decoder()
            .audio()
            .ok()
    }) else {
        return Ok(None);
    };
    let rate = decoder.rate();
    if rate == 0 || rate > MOST_RATE_HZ {
        return Ok(None);
    }
    let limit = (config.max_duration_s * f64::from(rate)) as usize;
    let mut collector = Collector {
        resampler: None,
        samples: Vec::new(),
        rate,
        first_s: None,
        tick,
    };
    'read: loop {
        let mut packet = ffmpeg::Packet::empty();
        match packet.read(&mut input) {
            Ok(()) if packet.stream() != index => continue,
            Ok(()) => {
                if decoder.send_packet(&packet).is_err() {
                    continue;
                }
            }
            Err(_) => {
                let _ = decoder.send_eof();
                collector.drain(&mut decoder, limit);
                break 'read;
            }
        }
        collector.drain(&mut decoder, limit);
        if collector.samples.len() >= limit {
            break;
        }
    }
    if collector.samples.is_empty() {
        return Ok(None);
    }
    Ok(Some(Sound {
        rate_hz: f64::from(rate),
        start_s: collector.first_s.unwrap_or(sound_start) - video_start,
        samples: collector.samples,
    }))
}

struct Collector {
    resampler: Option<ffmpeg::software::resampling::Context>,
    samples: Vec<f32>,
    rate: u32,
    first_s: Option<f64>,
    tick: f64,
}

impl Collector {
    fn drain(&mut self, decoder: &mut ffmpeg::decoder::Audio, limit: usize) {
        let mut frame = ffmpeg::frame::Audio::empty();
        while self.samples.len() < limit && decoder.receive_frame(&mut frame).is_ok() {
            if frame.channel_layout().is_empty() {
                frame.set_channel_layout(ChannelLayout::default(i32::from(frame.channels())));
            }
            if self.first_s.is_none() {
                self.first_s = frame.timestamp().map(|t| t as f64 * self.tick);
            }
            if self.resampler.is_none() {
                self.resampler = ffmpeg::software::resampling::Context::get(
                    frame.format(),
                    frame.channel_layout(),
                    frame.rate(),
                    Sample::F32(Type::Planar),
                    ChannelLayout::MONO,
                    self.rate,
                )
                .ok();
            }
            let Some(resampler) = &mut self.resampler else {
                return;
            };
            let mut mono = ffmpeg::frame::Audio::empty();
            if resampler.run(&frame, &mut mono).is_err() {
                return;
            }
            if mono.samples() > 0 {
                let plane: &[f32] = mono.plane(0);
                self.samples
                    .extend(plane.iter().map(|v| if v.is_finite() { *v } else { 0.0 }));
            }
        }
    }
}
