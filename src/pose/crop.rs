//! Square regions of a frame, resampled to a network's input.
//!
//! Pixel centres lie at half-integers, in the frame and in the crop alike. Outside the frame the
//! nearest pixel is repeated.

use image::RgbImage;

use super::observation::Region;

/// Resamples a region to `size` × `size` RGB, row by row, values × `scale` + `shift`.
///
/// An upright region is averaged over each output pixel's footprint by a triangle filter (as
/// antialiased bilinear resizing does); a turned one is sampled at 2 × 2 points a pixel.
pub fn sample_crop(
    image: &RgbImage,
    region: &Region,
    size: usize,
    scale: f32,
    shift: f32,
) -> Vec<f32> {
    let mut out = if image.width() == 0 || image.height() == 0 {
        vec![0.0; size * size * 3]
    } else if region.roll_rad == 0.0 {
        upright(image, region, size)
    } else {
        turned(image, region, size)
    };
    for v in &mut out {
        *v = *v * scale + shift;
    }
    out
}

/// Taps of one output sample: first source index (unclamped) and weights.
fn taps(centre: f64, side: f64, size: usize) -> Vec<(i64, Vec<f32>)> {
    let step = side / size as f64;
    // Below one source pixel an output pixel the filter stays a bilinear one.
    let radius = step.max(1.0);
    (0..size)
        .map(|i| {
            let at = centre - side / 2.0 + (i as f64 + 0.5) * step;
            let first = (at - radius - 0.5).ceil() as i64;
            let last = (at + radius - 0.5).floor() as i64;
            let mut w: Vec<f32> = (first..=last)
                .map(|k| (1.0 - ((k as f64 + 0.5 - at) / radius).abs()).max(0.0) as f32)
                .collect();
            let sum: f32 = w.iter().sum();
            if sum > 0.0 {
                w.iter_mut().for_each(|v| *v /= sum);
            }
            (first, w)
        })
        .collect()
}

fn upright(image: &RgbImage, region: &Region, size: usize) -> Vec<f32> {
    let (width, height) = (i64::from(image.width()), i64::from(image.height()));
    let columns = taps(region.centre_px[0], region.side_px, size);
    let rows = taps(region.centre_px[1], region.side_px, size);
    let raw = image.as_raw();
    let stride = width as usize * 3;
    let mut out = vec![0f32; size * size * 3];
    // Each source row is squeezed once and added to the output rows that it belongs to.
    let mut squeezed: Vec<f32> = vec![0.0; size * 3];
    let mut ready: i64 = -1;
    let from = rows.first().map_or(0, |r| r.0);
    let to = rows.last().map_or(0, |r| r.0 + r.1.len() as i64);
    let mut first_row = 0;
    for y in from..to {
        let source = y.clamp(0, height - 1);
        if source != ready {
            let start = source as usize * stride;
            let row = raw.get(start..start + stride).unwrap_or_default();
            squeeze(row, width, &columns, &mut squeezed);
            ready = source;
        }
        let ends = |row: &(i64, Vec<f32>)| row.0 + row.1.len() as i64;
        while rows.get(first_row).is_some_and(|row| ends(row) <= y) {
            first_row += 1;
        }
        let lines = rows.iter().zip(out.chunks_exact_mut((size * 3).max(1)));
        for ((first, weights), line) in lines.skip(first_row) {
            if *first > y {
                break;
            }
            let Some(w) = weights.get((y - first) as usize) else {
                continue;
            };
            for (o, s) in line.iter_mut().zip(&squeezed) {
                *o += w * s;
            }
        }
    }
    out
}

fn squeeze(row: &[u8], width: i64, columns: &[(i64, Vec<f32>)], out: &mut [f32]) {
    for ((first, weights), pixel) in columns.iter().zip(out.chunks_exact_mut(3)) {
        let mut sum = [0f32; 3];
        let inside = *first >= 0 && first + weights.len() as i64 <= width;
        if inside {
            let start = *first as usize * 3;
            let under = row.get(start..).unwrap_or_default();
            for (w, p) in weights.iter().zip(under.as_chunks::<3>().0) {
                add(&mut sum, *w, *p);
            }
        } else {
            for (k, w) in weights.iter().enumerate() {
                let x = (first + k as i64).clamp(0, width - 1) as usize * 3;
                if let Some(p) = row.get(x..).and_then(|r| r.first_chunk()) {
                    add(&mut sum, *w, *p);
                }
            }
        }
        pixel.copy_from_slice(&sum);
    }
}

fn add(sum: &mut [f32; 3], weight: f32, pixel: [u8; 3]) {
    // Written out: a loop over both costs a tenth of the whole crop.
    sum[0] += weight * f32::from(pixel[0]);
    sum[1] += weight * f32::from(pixel[1]);
    sum[2] += weight * f32::from(pixel[2]);
}

fn turned(image: &RgbImage, region: &Region, size: usize) -> Vec<f32> {
    let (sin, cos) = region.roll_rad.sin_cos();
    let step = region.side_px / size as f64;
    let mut out = vec![0f32; size * size * 3];
    let offsets: &[f64] = if step > 1.2 { &[-0.25, 0.25] } else { &[0.0] };
    let share = 1.0 / (offsets.len() * offsets.len()) as f32;
    let along = [(step * cos) as f32, (step * sin) as f32];
    for (j, row) in out.chunks_exact_mut(size * 3).enumerate() {
        for dy in offsets {
            for dx in offsets {
                let u = (0.5 + dx) * step - region.side_px / 2.0;
                let v = (j as f64 + 0.5 + dy) * step - region.side_px / 2.0;
                // Places in single precision: off by less than a thousandth of a pixel.
                let x = (region.centre_px[0] + u * cos - v * sin - 0.5) as f32;
                let y = (region.centre_px[1] + u * sin + v * cos - 0.5) as f32;
                for (i, pixel) in row.chunks_exact_mut(3).enumerate() {
                    let i = i as f32;
                    let p = bilinear(image, x + i * along[0], y + i * along[1]);
                    for (o, v) in pixel.iter_mut().zip(p) {
                        *o += share * v;
                    }
                }
            }
        }
    }
    out
}

/// Whole part below `x`: a library call on processors without an instruction for it, so done here.
fn floor(x: f32) -> i32 {
    let whole = x as i32;
    whole - i32::from(x < whole as f32)
}

fn bilinear(image: &RgbImage, x: f32, y: f32) -> [f32; 3] {
    let (w, h) = (image.width() as i32, image.height() as i32);
    let (x0, y0) = (floor(x), floor(y));
    let (fx, fy) = (x - x0 as f32, y - y0 as f32);
    let raw = image.as_raw();
    let stride = w as usize * 3;
    let weights = [
        (1.0 - fx) * (1.0 - fy),
        fx * (1.0 - fy),
        (1.0 - fx) * fy,
        fx * fy,
    ];
    let mix = |a: [u8; 3], b: [u8; 3], c: [u8; 3], d: [u8; 3]| -> [f32; 3] {
        let one = |a: u8, b: u8, c: u8, d: u8| {
            weights[0] * f32::from(a)
                + weights[1] * f32::from(b)
                + weights[2] * f32::from(c)
                + weights[3] * f32::from(d)
        };
        [
            one(a[0], b[0], c[0], d[0]),
            one(a[1], b[1], c[1], d[1]),
            one(a[2], b[2], c[2], d[2]),
        ]
    };
    if x0 >= 0 && y0 >= 0 && x0 + 1 < w && y0 + 1 < h {
        let start = y0 as usize * stride + x0 as usize * 3;
        let two = |at: usize| raw.get(at..at + 6).and_then(|r| r.first_chunk::<6>());
        if let (Some(top), Some(bottom)) = (two(start), two(start + stride)) {
            let [a0, a1, a2, b0, b1, b2] = *top;
            let [c0, c1, c2, d0, d1, d2] = *bottom;
            return mix([a0, a1, a2], [b0, b1, b2], [c0, c1, c2], [d0, d1, d2]);
        }
    }
    let at = |x: i32, y: i32| -> [u8; 3] {
        let start = y.clamp(0, h - 1) as usize * stride + x.clamp(0, w - 1) as usize * 3;
        let pixel = raw.get(start..).and_then(|r| r.first_chunk());
        pixel.copied().unwrap_or_default()
    };
    mix(
        at(x0, y0),
        at(x0 + 1, y0),
        at(x0, y0 + 1),
        at(x0 + 1, y0 + 1),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> RgbImage {
        RgbImage::from_fn(400, 300, |x, y| {
            image::Rgb([(x / 2) as u8, (y / 2) as u8, 7])
        })
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
            assert!((p[2] - 7.0).abs() < 1e-3);
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
            let crop = sample_crop(&RgbImage::new(0, 7), &region, 8, 1.0, 0.5);
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
        assert!((crop[2] - 7.0).abs() < 1e-3);
    }
}
