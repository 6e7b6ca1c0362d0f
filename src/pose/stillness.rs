//! Whether anything moved since a frame was last read, from coarse brightness.

use crate::clip::Picture;

/// Blocks a side of the thumbnail.
const BLOCKS: usize = 48;
/// Every so many pixels is looked at: enough for a mean over a block.
const STRIDE: usize = 3;

/// Mean brightness of the blocks of a frame.
#[derive(Clone, Debug)]
pub struct Thumbnail(Vec<f32>);

impl Thumbnail {
    /// Blocks lie in the picture as stored: thumbnails are only compared with each other.
    pub fn of(picture: &Picture) -> Self {
        let rows = picture.rows();
        let (w, h) = (rows.width, rows.height);
        let mut sum = vec![0u32; BLOCKS * BLOCKS];
        let mut n = vec![0u32; BLOCKS * BLOCKS];
        // Columns of pixels that begin in a block.
        let edges: Vec<usize> = (0..=BLOCKS)
            .map(|b| (b * w).div_ceil(BLOCKS * STRIDE))
            .collect();
        for (y, row) in rows
            .bytes
            .chunks(rows.stride.max(1))
            .take(h)
            .enumerate()
            .step_by(STRIDE)
        {
            let row = row.get(..w * 3).unwrap_or_default();
            let line = y * BLOCKS / h * BLOCKS;
            let blocks = sum.iter_mut().zip(n.iter_mut()).skip(line);
            let spans = edges.iter().zip(edges.iter().skip(1));
            for ((from, to), (sum, n)) in spans.zip(blocks) {
                // Green carries most of brightness and least of compression's noise.
                let greens = row.iter().skip(from * STRIDE * 3 + 1).step_by(STRIDE * 3);
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
        let t = Thumbnail::of(&still.into());
        assert!(t.change(&Thumbnail::of(&noisy.into())) < 3.0);
        assert!(t.change(&Thumbnail::of(&moved.into())) > 20.0);
    }
}
