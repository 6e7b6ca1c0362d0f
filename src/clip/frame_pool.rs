//! Memory for pictures, used again: fresh memory of some megabytes a picture costs the system more
//! time than filling it.

use crossbeam_channel::{Receiver, Sender, bounded};
use ffmpeg_next::format::Pixel;
use ffmpeg_next::frame::Video;

use super::rows::Rows;

/// Most pictures that are kept for later.
const MOST_KEPT: usize = 4;

/// Pictures that nobody looks at any more.
pub struct FramePool {
    back: Sender<Video>,
    kept: Receiver<Video>,
}

/// A picture of RGB24 that gives its memory back, on whatever thread it ends.
pub struct Lent {
    rgb: Option<Video>,
    back: Sender<Video>,
}

impl FramePool {
    pub fn new() -> Self {
        let (back, kept) = bounded(MOST_KEPT);
        Self { back, kept }
    }

    /// A picture of the given size, its content of no meaning.
    pub fn take(&self, width: u32, height: u32) -> Video {
        // Those of a former size are let go.
        self.kept
            .try_iter()
            .find(|v| (v.width(), v.height()) == (width, height))
            .unwrap_or_else(|| Video::new(Pixel::RGB24, width, height))
    }

    pub fn lend(&self, rgb: Video) -> Lent {
        Lent {
            rgb: Some(rgb),
            back: self.back.clone(),
        }
    }
}

impl Lent {
    pub fn rows(&self) -> Rows<'_> {
        // There from its making to its end.
        self.rgb.as_ref().map_or_else(Rows::default, |rgb| Rows {
            bytes: rgb.data(0),
            stride: rgb.stride(0),
            width: rgb.width() as usize,
            height: rgb.height() as usize,
        })
    }
}

impl Drop for Lent {
    fn drop(&mut self) {
        if let Some(rgb) = self.rgb.take() {
            // Enough are kept, or the reader is gone: then the memory is free.
            let _ = self.back.try_send(rgb);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_that_ends_is_lent_again_and_only_for_its_own_size() {
        let pool = FramePool::new();
        let mut first = pool.take(64, 48);
        first.data_mut(0)[5] = 77;
        drop(pool.lend(first));
        let again = pool.take(64, 48);
        assert_eq!(again.data(0)[5], 77);
        drop(pool.lend(again));
        let other = pool.take(48, 64);
        assert_eq!((other.width(), other.height()), (48, 64));
        assert!(pool.kept.is_empty());
    }

    #[test]
    fn no_more_than_a_few_are_kept_and_none_is_missed_when_the_reader_is_gone() {
        let pool = FramePool::new();
        let lent: Vec<Lent> = (0..2 * MOST_KEPT)
            .map(|_| pool.lend(pool.take(16, 16)))
            .collect();
        drop(lent);
        assert_eq!(pool.kept.len(), MOST_KEPT);
        let last = pool.lend(pool.take(16, 16));
        drop(pool);
        assert_eq!(last.rows().width, 16);
    }
}
