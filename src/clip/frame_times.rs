//! When each frame of a clip is shown, from the container alone, so that frames can be chosen before
//! any is decoded.

use std::path::Path;

use ffmpeg_next as ffmpeg;

use super::error::ClipError;
use super::source;

/// A step of this many frames is a jump, as for frames that are decoded.
const JUMP_FRAMES: f64 = 3.5;

/// The stamps of a clip whose clock is sound: every frame has one, they grow evenly, none jumps.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameTimes {
    /// In the stream's ticks, in display order.
    stamps: Vec<i64>,
    /// Stamps of frames that decoding can begin at.
    keys: Vec<i64>,
    seconds_per_tick: f64,
}

impl FrameTimes {
    /// Reads the stamps; `None` where the clip's clock is not sound, so that it must be decoded from
    /// its beginning to know when its frames are shown.
    ///
    /// # Errors
    /// [`ClipError`] where the file can't be opened or has no pictures.
    pub fn read(path: &Path) -> Result<Option<Self>, ClipError> {
        let mut input = source::open(path)?;
        let stream = source::pictures(&input, path)?;
        let index = stream.index();
        let seconds_per_tick = source::seconds_per_tick(&stream);
        let (mut stamps, mut keys) = (Vec::new(), Vec::new());
        let mut packet = ffmpeg::Packet::empty();
        // A file that breaks off ends here as it does for the decoder.
        while packet.read(&mut input).is_ok() {
            if packet.stream() != index {
                continue;
            }
            let Some(stamp) = packet.pts() else {
                return Ok(None);
            };
            stamps.push(stamp);
            if packet.is_key() {
                keys.push(stamp);
            }
        }
        Ok(Self::sound(stamps, keys, seconds_per_tick))
    }

    fn sound(mut stamps: Vec<i64>, mut keys: Vec<i64>, seconds_per_tick: f64) -> Option<Self> {
        stamps.sort_unstable();
        keys.sort_unstable();
        let mut steps: Vec<i64> = stamps.array_windows().map(|[a, b]| b - a).collect();
        steps.sort_unstable();
        let usual = *steps.get(steps.len() / 2)?;
        let even = *steps.first()? > 0 && (*steps.last()? as f64) < JUMP_FRAMES * usual as f64;
        // Frames before nought are left out of what is shown; which of them is the decoder's word.
        let whole = *stamps.first()? >= 0 && keys.first() == stamps.first();
        (even && whole && seconds_per_tick > 0.0).then_some(Self {
            stamps,
            keys,
            seconds_per_tick,
        })
    }

    /// A clip of evenly spaced frames; for tests of what chooses among them.
    #[cfg(test)]
    pub fn even(fps: f64, frames: usize) -> Self {
        Self {
            stamps: (0..frames as i64).map(|i| i * 1000).collect(),
            keys: vec![0],
            seconds_per_tick: 1e-3 / fps,
        }
    }

    /// How many frames there are.
    pub fn len(&self) -> usize {
        self.stamps.len()
    }

    /// Whether there is none; never, as such a clip has no sound clock.
    pub fn is_empty(&self) -> bool {
        self.stamps.is_empty()
    }

    /// When a frame is shown, seconds of playback since the first.
    pub fn time_s(&self, frame: usize) -> Option<f64> {
        let (first, stamp) = (self.stamps.first()?, self.stamps.get(frame)?);
        Some((stamp - first) as f64 * self.seconds_per_tick)
    }

    /// The usual step from frame to frame, seconds of playback.
    pub fn step_s(&self) -> f64 {
        let last = self.len().saturating_sub(1);
        self.time_s(last).unwrap_or(0.0) / last.max(1) as f64
    }

    /// Frames shown in a part of the clip, seconds of playback.
    pub fn within(&self, from_s: f64, to_s: f64) -> std::ops::Range<usize> {
        let first = self.stamps.first().copied().unwrap_or(0);
        let at = |stamp: &i64| (stamp - first) as f64 * self.seconds_per_tick;
        let from = self.stamps.partition_point(|s| at(s) < from_s);
        let to = self.stamps.partition_point(|s| at(s) <= to_s);
        from..to.max(from)
    }

    pub(super) fn frame_of(&self, stamp: i64) -> Option<usize> {
        self.stamps.binary_search(&stamp).ok()
    }

    pub(super) fn stamp(&self, frame: usize) -> Option<i64> {
        self.stamps.get(frame).copied()
    }

    /// The last frame at or before `stamp` that decoding can begin at.
    pub(super) fn key_before(&self, stamp: i64) -> Option<i64> {
        let k = self.keys.partition_point(|k| *k <= stamp);
        self.keys.get(k.checked_sub(1)?).copied()
    }

    /// Stamp in microseconds, as seeking takes it, rounded up.
    pub(super) fn microseconds(&self, stamp: i64) -> i64 {
        (stamp as f64 * self.seconds_per_tick * 1e6).ceil() as i64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(stamps: &[i64]) -> Option<FrameTimes> {
        FrameTimes::sound(stamps.to_vec(), vec![0, 60], 0.01)
    }

    #[test]
    fn frames_are_put_in_display_order_and_found_by_time() {
        let t = times(&[0, 30, 10, 20, 60, 40, 50]).expect("sound");
        assert_eq!(t.len(), 7);
        assert_eq!(t.time_s(4), Some(0.4));
        assert!((t.step_s() - 0.1).abs() < 1e-9);
        assert_eq!(t.within(0.15, 0.4), 2..5);
        assert_eq!((t.frame_of(30), t.frame_of(31)), (Some(3), None));
        assert_eq!((t.key_before(59), t.key_before(60)), (Some(0), Some(60)));
    }

    #[test]
    fn clocks_that_jump_stand_still_or_begin_early_are_left_to_the_decoder() {
        assert_eq!(times(&[0, 10, 20, 60, 70]), None);
        assert_eq!(times(&[0, 10, 10, 20]), None);
        assert_eq!(times(&[-10, 0, 10, 20]), None);
        assert_eq!(times(&[0]), None);
        assert_eq!(times(&[]), None);
    }
}
