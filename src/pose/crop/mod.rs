//! Square regions of a frame, resampled to a network's input.
//!
//! Pixel centres lie at half-integers, in the frame and in the crop alike. Outside the frame the
//! nearest pixel is repeated. Regions are those of the picture as shown; it is read as it was
//! stored, for turning it whole costs more than the crop.

#[cfg(test)]
mod plain;
mod turned;
mod upright;

use super::observation::Region;
use crate::clip::Picture;

/// Resamples a region to `size` × `size` RGB, row by row, values × `scale` + `shift`.
///
/// An upright region is averaged over each output pixel's footprint by a triangle filter (as
/// antialiased bilinear resizing does); a turned one is sampled at 2 × 2 points a pixel.
pub fn sample_crop(
    picture: &Picture,
    region: &Region,
    size: usize,
    scale: f32,
    shift: f32,
) -> Vec<f32> {
    let mut out = vec![0f32; size * size * 3];
    if picture.width() > 0 && picture.height() > 0 && size > 0 {
        let grid = Grid::new(picture, region, size);
        let pixels = out.as_chunks_mut().0;
        if region.roll_rad == 0.0 {
            upright::sample(&picture.rows(), &grid, size, pixels);
        } else {
            turned::sample(&picture.rows(), &grid, size, pixels);
        }
    }
    for v in &mut out {
        *v = *v * scale + shift;
    }
    out
}

/// Where a crop's pixels lie in the stored picture: the middle of pixel (i, j) is `corner` +
/// (i + ½) · `along` + (j + ½) · `down`.
struct Grid {
    corner: [f64; 2],
    along: [f64; 2],
    down: [f64; 2],
}

impl Grid {
    fn new(picture: &Picture, region: &Region, size: usize) -> Self {
        let rows = picture.rows();
        let stored = [rows.width as f64, rows.height as f64];
        // A point of the region, by its share of the side from the centre.
        let at = |u: f64, v: f64| {
            let shown = region.to_frame(u * region.side_px, v * region.side_px);
            picture.orientation.to_stored(shown, stored)
        };
        let corner = at(-0.5, -0.5);
        let pixels = size as f64;
        let a_step = |to: [f64; 2]| [(to[0] - corner[0]) / pixels, (to[1] - corner[1]) / pixels];
        Self {
            corner,
            along: a_step(at(0.5, -0.5)),
            down: a_step(at(-0.5, 0.5)),
        }
    }

    /// The stored place of a place in the crop, pixels from the corners.
    fn at(&self, i: f64, j: f64) -> [f64; 2] {
        let ([cx, cy], [ax, ay], [dx, dy]) = (self.corner, self.along, self.down);
        [cx + i * ax + j * dx, cy + i * ay + j * dy]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::RgbImage;

    fn ramp() -> Picture {
        RgbImage::from_fn(400, 300, |x, y| {
            image::Rgb([(x / 2) as u8, (y / 2) as u8, 7])
        })
        .into()
    }

    #[test]
    fn a_ramp_keeps_its_values_at_pixel_centres_upright_and_turned() {
        let image = ramp();
        for roll_rad in [0.0, 1e-9] {
            let region = Region {
                centre_px: [200.0, 150.0],
                side_px: 128.0,
                roll_rad,
            };
            let crop = sample_crop(&image, &region, 64, 1.0, 0.0);
            // Crop pixel (10, 20) covers x 156..158: the ramp's mean there is (156 + 157)/2/2.
            let p = &crop[(20 * 64 + 10) * 3..][..3];
            assert!((p[0] - 78.0).abs() < 0.6, "{p:?}");
            assert!((p[1] - 63.0).abs() < 0.6, "{p:?}");
            assert!((p[2] - 7.0).abs() < 0.05);
        }
    }

    #[test]
    fn a_quarter_roll_turns_the_crop_clockwise() {
        let image = ramp();
        let region = Region {
            centre_px: [200.0, 150.0],
            side_px: 100.0,
            roll_rad: std::f64::consts::FRAC_PI_2,
        };
        let crop = sample_crop(&image, &region, 50, 1.0, 0.0);
        // The crop's x axis runs down the frame.
        let left = crop[(25 * 50) * 3 + 1];
        let right = crop[(25 * 50 + 49) * 3 + 1];
        assert!(right > left + 40.0, "{left} {right}");
    }

    #[test]
    fn a_picture_without_pixels_gives_an_empty_crop() {
        for roll_rad in [0.0, 0.3] {
            let region = Region {
                centre_px: [0.0, 0.0],
                side_px: 100.0,
                roll_rad,
            };
            let crop = sample_crop(&RgbImage::new(0, 7).into(), &region, 8, 1.0, 0.5);
            assert_eq!(crop, vec![0.5; 8 * 8 * 3]);
        }
    }

    #[test]
    fn outside_the_frame_the_edge_is_repeated() {
        let image = ramp();
        let region = Region {
            centre_px: [0.0, 150.0],
            side_px: 200.0,
            roll_rad: 0.0,
        };
        let crop = sample_crop(&image, &region, 32, 1.0, 0.0);
        assert!(crop[0].abs() < 1e-3);
        assert!((crop[2] - 7.0).abs() < 0.05);
    }
}
