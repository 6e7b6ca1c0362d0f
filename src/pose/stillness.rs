//! Whether anything moved since a frame was last read, from coarse brightness.

use image::RgbImage;

/// Blocks a side of the thumbnail.
const BLOCKS: usize = 48;
/// Every so many pixels is looked at: enough for a mean over a block.
const STRIDE: usize = 3;

/// Mean brightness of the blocks of a frame.
#[derive(Clone, Debug)]
pub struct Thumbnail(Vec<f32>);

impl Thumbnail {
    pub fn of(image: &RgbImage) -> Self {
        let (w, h) = (image.width() as usize, image.height() as usize);
        let mut sum = vec![0u32; BLOCKS * BLOCKS];
        let mut n = vec![0u32; BLOCKS * BLOCKS];
        let raw = image.as_raw();
        for y in (0..h).step_by(STRIDE) {
            for x in (0..w).step_by(STRIDE) {
                let block = (y * BLOCKS / h) * BLOCKS + x * BLOCKS / w;
                // Green carries most of brightness and least of compression's noise.
                if let (Some(sum), Some(n), Some(green)) = (
                    sum.get_mut(block),
                    n.get_mut(block),
                    raw.get((y * w + x) * 3 + 1),
                ) {
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
        let t = Thumbnail::of(&still);
        assert!(t.change(&Thumbnail::of(&noisy)) < 3.0);
        assert!(t.change(&Thumbnail::of(&moved)) > 20.0);
    }
}
