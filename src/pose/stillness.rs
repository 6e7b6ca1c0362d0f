//! Whether anything moved round the golfer since a frame was last read, from coarse brightness.

use super::observation::Region;
use crate::clip::Picture;

/// Most blocks a side of the thumbnail.
const MOST_BLOCKS: usize = 48;
/// Least side of a block, pixels: enough for a mean that noise does not move.
const BLOCK_PX: usize = 20;
/// Every so many pixels is looked at where blocks are many.
const STRIDE: usize = 3;

/// Mean brightness of the blocks of a part of a frame.
#[derive(Clone, Debug)]
pub struct Thumbnail(Vec<f32>);

impl Thumbnail {
    /// Of the upright square `part` of a picture. Blocks lie in the picture as stored: thumbnails are
    /// only compared with each other, and only those of one part.
    pub fn of(picture: &Picture, part: &Region) -> Self {
        let rows = picture.rows();
        let size = [rows.width, rows.height];
        let corner = |way: f64| {
            let shown = part.centre_px.map(|c| c + way * part.side_px / 2.0);
            picture.orientation.to_stored(shown, size.map(|s| s as f64))
        };
        let (a, b) = (corner(-1.0), corner(1.0));
        let span = |a: f64, b: f64, extent: usize| {
            let within = |v: f64| v.clamp(0.0, extent as f64) as usize;
            (within(a.min(b)), within(a.max(b)))
        };
        let (left, right) = span(a[0], b[0], rows.width);
        let (top, bottom) = span(a[1], b[1], rows.height);
        let (w, h) = (right - left, bottom - top);
        let blocks = (w.max(h) / BLOCK_PX).clamp(1, MOST_BLOCKS);
        let stride = if blocks == MOST_BLOCKS { STRIDE } else { 1 };
        let mut sum = vec![0u32; blocks * blocks];
        let mut n = vec![0u32; blocks * blocks];
        // Columns of pixels that begin in a block.
        let edges: Vec<usize> = (0..=blocks)
            .map(|b| (b * w).div_ceil(blocks * stride))
            .collect();
        let lines = rows.bytes.chunks(rows.stride.max(1));
        for (y, row) in lines.skip(top).take(h).enumerate().step_by(stride) {
            let row = row.get(left * 3..right * 3).unwrap_or_default();
            let line = y * blocks / h * blocks;
            let cells = sum.iter_mut().zip(n.iter_mut()).skip(line);
            let spans = edges.iter().zip(edges.iter().skip(1));
            for ((from, to), (sum, n)) in spans.zip(cells) {
                // Green carries most of brightness and least of compression's noise.
                let greens = row.iter().skip(from * stride * 3 + 1).step_by(stride * 3);
                for green in greens.take(to - from) {
                    *sum += u32::from(*green);
                    *n += 1;
                }
            }
        }
        Self(
            sum.iter()
                .zip(&n)
                .map(|(s, n)| *s as f32 / (*n).max(1) as f32)
                .collect(),
        )
    }

    /// Largest change of any block, 0..255.
    pub fn change(&self, other: &Self) -> f64 {
        self.0
            .iter()
            .zip(&other.0)
            .map(|(a, b)| f64::from((a - b).abs()))
            .fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::RgbImage;

    #[test]
    fn a_moved_patch_shows_and_noise_does_not() {
        let still = RgbImage::from_fn(540, 960, |x, y| {
            image::Rgb([90, 100 + ((x * 7 + y * 13) % 5) as u8, 80])
        });
        let noisy = RgbImage::from_fn(540, 960, |x, y| {
            image::Rgb([90, 100 + ((x * 5 + y * 11) % 5) as u8, 80])
        });
        let mut moved = still.clone();
        for y in 300..320 {
            for x in 200..215 {
                moved.put_pixel(x, y, image::Rgb([250, 250, 250]));
            }
        }
        let whole = |image: RgbImage| {
            let part = Region {
                centre_px: [270.0, 480.0],
                side_px: 960.0,
                roll_rad: 0.0,
            };
            Thumbnail::of(&image.into(), &part)
        };
        let t = whole(still);
        assert!(t.change(&whole(noisy)) < 3.0);
        assert!(t.change(&whole(moved)) > 20.0);
    }

    #[test]
    fn a_small_golfers_hands_show_in_a_large_picture_and_what_moves_elsewhere_does_not() {
        let mut still = RgbImage::from_pixel(3840, 2160, image::Rgb([90, 100, 80]));
        let golfer = Region {
            centre_px: [3000.0, 1500.0],
            side_px: 260.0,
            roll_rad: 0.0,
        };
        let before = Thumbnail::of(&still.clone().into(), &golfer);
        for y in 300..600 {
            for x in 300..600 {
                still.put_pixel(x, y, image::Rgb([250, 250, 250]));
            }
        }
        let elsewhere = Thumbnail::of(&still.clone().into(), &golfer);
        assert!(before.change(&elsewhere) < 1e-6);
        for y in 1480..1488 {
            for x in 3010..3018 {
                still.put_pixel(x, y, image::Rgb([250, 250, 250]));
            }
        }
        let hands = Thumbnail::of(&still.into(), &golfer);
        assert!(before.change(&hands) > 6.0);
    }
}
