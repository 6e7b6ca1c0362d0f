//! Pictures resized and converted by FFmpeg's scaler, which is many times faster than plain loops.

use ffmpeg_next::format::Pixel;
use ffmpeg_next::frame::Video;
use ffmpeg_next::software::scaling::{Context, Flags};
use image::RgbImage;

use super::picture::Canvas;

/// Converts one size and layout of picture into another.
pub struct Scaler {
    context: Context,
    input: Video,
    output: Video,
}

impl Scaler {
    pub fn new(from: (Pixel, u32, u32), to: (Pixel, u32, u32)) -> Result<Self, ffmpeg_next::Error> {
        let context = Context::get(from.0, from.1, from.2, to.0, to.1, to.2, Flags::AREA)?;
        Ok(Self {
            context,
            input: Video::new(from.0, from.1, from.2),
            output: Video::empty(),
        })
    }

    /// Scales rows without padding; the result is in the scaler's own frame.
    pub fn scale(&mut self, rows: &[u8], row_bytes: usize) -> Result<&Video, ffmpeg_next::Error> {
        let stride = self.input.stride(0);
        copy_rows(
            (rows, row_bytes),
            (self.input.data_mut(0), stride),
            row_bytes,
        );
        self.context.run(&self.input, &mut self.output)?;
        Ok(&self.output)
    }

    /// Scales an RGB picture onto a canvas of this scaler's output size.
    pub fn onto(
        &mut self,
        image: &RgbImage,
        canvas: &mut Canvas,
    ) -> Result<(), ffmpeg_next::Error> {
        let row = canvas.width() as usize * 4;
        let out = self.scale(image.as_raw(), image.width() as usize * 3)?;
        copy_rows(
            (out.data(0), out.stride(0)),
            (canvas.pixels_mut(), row),
            row,
        );
        Ok(())
    }
}

/// Copies so many bytes of each row of a picture to another; both with the bytes from row to row.
pub fn copy_rows(from: (&[u8], usize), to: (&mut [u8], usize), bytes: usize) {
    for (from, to) in from.0.chunks(from.1).zip(to.0.chunks_mut(to.1)) {
        if let (Some(from), Some(to)) = (from.get(..bytes), to.get_mut(..bytes)) {
            to.copy_from_slice(from);
        }
    }
}

/// The largest even size that keeps a picture's shape and whose longer side is at most `side`.
pub fn fit(width: u32, height: u32, side: u32) -> (u32, u32) {
    let longest = f64::from(width.max(height).max(1));
    let share = (f64::from(side) / longest).min(1.0);
    let even = |v: u32| ((f64::from(v) * share / 2.0).round() as u32 * 2).max(2);
    (even(width), even(height))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_even_and_never_enlarged() {
        assert_eq!(fit(540, 960, 1280), (540, 960));
        assert_eq!(fit(1080, 1920, 1280), (720, 1280));
        assert_eq!(fit(541, 961, 1280), (542, 962));
        assert_eq!(fit(1, 4000, 1000), (2, 1000));
    }
}
