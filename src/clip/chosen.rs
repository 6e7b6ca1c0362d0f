//! Chosen frames of a clip, in their order: decoding begins at the nearest frame that it can begin at,
//! frames that nobody wants and no other frame needs are not decoded at all, and only wanted ones are
//! turned into pictures.

use std::path::Path;

use ffmpeg::codec::discard::Discard;
use ffmpeg_next as ffmpeg;

use super::error::ClipError;
use super::frame_times::FrameTimes;
use super::info::Frame;
use super::reader::FrameReader;
use crate::config::ClipConfig;

/// An iterator over chosen frames.
pub struct ChosenFrames {
    reader: FrameReader,
    times: FrameTimes,
    /// Frames still to come, the next one last.
    wanted: Vec<usize>,
    /// Their stamps, in order; asked of every packet.
    stamps: Vec<i64>,
    /// The latest stamp that the decoder was given.
    fed: Option<i64>,
}

impl ChosenFrames {
    /// Opens a clip to read `wanted`, numbers of frames in increasing order.
    ///
    /// # Errors
    /// Those of [`FrameReader::open`].
    pub fn open(
        path: &Path,
        config: &ClipConfig,
        times: FrameTimes,
        mut wanted: Vec<usize>,
    ) -> Result<Self, ClipError> {
        let stamps = wanted.iter().filter_map(|w| times.stamp(*w)).collect();
        wanted.reverse();
        Ok(Self {
            reader: FrameReader::open(path, config)?,
            times,
            wanted,
            stamps,
            fed: None,
        })
    }

    /// Goes to the last frame before `stamp` that decoding can begin at, where that lies ahead.
    fn go_to(&mut self, stamp: i64) {
        let Some(key) = self.times.key_before(stamp) else {
            return;
        };
        let ahead = match self.fed {
            Some(fed) => key > fed,
            None => Some(key) != self.times.stamp(0),
        };
        if ahead {
            let at = self.times.microseconds(key);
            // Where it can't be done, what lies between is decoded instead.
            match self.reader.input.seek(at, ..at) {
                Ok(()) => self.reader.decoder.flush(),
                Err(error) => tracing::debug!(%error, "no seeking"),
            }
            self.fed = Some(key);
        }
    }

    fn step(&mut self) -> Result<Option<Frame>, ClipError> {
        let mut decoded = ffmpeg::frame::Video::empty();
        while let Some(next) = self.wanted.last().copied() {
            if let Some(stamp) = self.times.stamp(next) {
                self.go_to(stamp);
            }
            let Self { stamps, fed, .. } = self;
            let more = self.reader.receive(&mut decoded, |packet, decoder| {
                let stamp = packet.pts();
                *fed = (*fed).max(stamp);
                let wanted = stamp.is_none_or(|s| stamps.binary_search(&s).is_ok());
                // Others are decoded only where a frame that is wanted rests on them.
                decoder.skip_frame(if wanted {
                    Discard::Default
                } else {
                    Discard::NonReference
                });
            });
            if !more? {
                break;
            }
            let Some(frame) = decoded.timestamp().and_then(|t| self.times.frame_of(t)) else {
                continue;
            };
            // What the decoder could not give is passed over.
            while self.wanted.pop_if(|w| *w < frame).is_some() {}
            if self.wanted.pop_if(|w| *w == frame).is_some() {
                return Ok(Some(Frame {
                    index: frame,
                    time_s: self.times.time_s(frame).unwrap_or_default(),
                    image: self.reader.convert(&decoded)?,
                }));
            }
        }
        Ok(None)
    }
}

impl Iterator for ChosenFrames {
    type Item = Result<Frame, ClipError>;

    fn next(&mut self) -> Option<Self::Item> {
        let item = (!self.reader.failed).then(|| self.step().transpose());
        self.reader.until_error(item.flatten())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    #[test]
    fn chosen_frames_are_those_that_reading_all_of_them_gives() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips");
        let config = Pipeline::default().clip;
        for name in ["first-lesson_face_on.mp4", "sixth-lesson_down_the_line.mp4"] {
            let path = folder.join(name);
            let times = FrameTimes::read(&path).expect("it opens").expect("sound");
            let last = times.len() - 1;
            let wanted = vec![0, 3, 4, 31, 90, 91, last];
            let chosen: Vec<Frame> = ChosenFrames::open(&path, &config, times, wanted.clone())
                .expect("it opens")
                .map(|f| f.expect("decoded"))
                .collect();
            assert_eq!(chosen.iter().map(|f| f.index).collect::<Vec<_>>(), wanted);
            let mut all = FrameReader::open(&path, &config).expect("it opens");
            let mut n = 0;
            for c in chosen {
                let whole = all.find(|f| f.as_ref().is_ok_and(|f| f.index == c.index));
                let whole = whole.expect("there").expect("decoded");
                assert!((whole.time_s - c.time_s).abs() < 1e-6);
                assert_eq!(whole.image.rows().bytes.len(), c.image.rows().bytes.len());
                assert!(
                    whole.image.shown() == c.image.shown(),
                    "{name} frame {}",
                    c.index
                );
                n += 1;
            }
            assert_eq!(n, wanted.len());
        }
    }
}
