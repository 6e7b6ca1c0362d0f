//! How much of a clip may be decoded: a tiny file can hold a day's work.

use std::path::Path;

use super::error::ClipError;
use crate::config::ClipConfig;

/// Frames and pixels that may be decoded, and what has been.
#[derive(Clone, Copy, Debug)]
pub struct Budget {
    most_frames: u64,
    /// Over all frames, millions.
    most_megapixels: u64,
    frames: u64,
    pixels: u64,
}

impl Budget {
    pub fn new(config: &ClipConfig) -> Self {
        Self {
            most_frames: config.max_frames as u64,
            most_megapixels: config.max_megapixels_in_all,
            frames: 0,
            pixels: 0,
        }
    }

    /// Refuses what a file claims, before anything is decoded.
    pub fn allows(
        &self,
        path: &Path,
        frames: u64,
        width: u32,
        height: u32,
    ) -> Result<(), ClipError> {
        let each = u64::from(width) * u64::from(height);
        self.check(path, frames, frames.saturating_mul(each), width, height)
    }

    /// Counts one frame: files claim less than they hold.
    pub fn take(&mut self, path: &Path, width: u32, height: u32) -> Result<(), ClipError> {
        self.frames += 1;
        self.pixels = self
            .pixels
            .saturating_add(u64::from(width) * u64::from(height));
        self.check(path, self.frames, self.pixels, width, height)
    }

    fn check(
        &self,
        path: &Path,
        frames: u64,
        pixels: u64,
        width: u32,
        height: u32,
    ) -> Result<(), ClipError> {
        if frames <= self.most_frames && pixels / 1_000_000 <= self.most_megapixels {
            return Ok(());
        }
        Err(ClipError::TooMuch {
            path: path.to_owned(),
            frames,
            width,
            height,
            most_frames: self.most_frames,
            most_megapixels: self.most_megapixels,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn budget() -> Budget {
        Budget {
            most_frames: 100,
            most_megapixels: 40,
            frames: 0,
            pixels: 0,
        }
    }

    #[test]
    fn claims_are_refused_by_their_number_and_by_their_size() {
        let allows = |n, w, h| budget().allows(Path::new("a.mp4"), n, w, h).is_ok();
        assert!(allows(100, 100, 100));
        assert!(!allows(101, 1, 1));
        assert!(allows(40, 1000, 1000));
        assert!(!allows(41, 1000, 1000));
        assert!(!allows(u64::MAX, u32::MAX, u32::MAX));
    }

    #[test]
    fn frames_are_counted_whatever_was_claimed() {
        let mut b = budget();
        let path = Path::new("a.mp4");
        assert!((0..100).all(|_| b.take(path, 10, 10).is_ok()));
        let error = b.take(path, 10, 10).map_err(|e| e.to_string());
        assert!(error.is_err_and(|e| e.contains("101 pictures")));
        let mut b = budget();
        assert!((0..10).all(|_| b.take(path, 2000, 2000).is_ok()));
        assert!(b.take(path, 2000, 2000).is_err());
    }
}
