//! The crop by its definition, pixel by pixel in double precision: what the quick ways must come to.

use image::RgbImage;

use super::sample_crop;
use crate::clip::{Orientation, Picture};
use crate::pose::Region;

fn at(image: &RgbImage, x: i64, y: i64) -> [f64; 3] {
    let (w, h) = (i64::from(image.width()), i64::from(image.height()));
    let pixel = image.get_pixel(x.clamp(0, w - 1) as u32, y.clamp(0, h - 1) as u32);
    pixel.0.map(f64::from)
}

fn between(image: &RgbImage, x: f64, y: f64) -> [f64; 3] {
    let (x, y) = (x - 0.5, y - 0.5);
    let (x0, y0) = (x.floor(), y.floor());
    let mut sum = [0.0; 3];
    for (dx, dy) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
        let weight =
            (1.0 - (x0 + f64::from(dx) - x).abs()) * (1.0 - (y0 + f64::from(dy) - y).abs());
        let p = at(image, x0 as i64 + i64::from(dx), y0 as i64 + i64::from(dy));
        sum = [0, 1, 2].map(|c: usize| sum[c] + weight * p[c]);
    }
    sum
}

fn footprint(image: &RgbImage, x: f64, y: f64, step: f64) -> [f64; 3] {
    let radius = step.max(1.0);
    let weights = |c: f64| -> Vec<(i64, f64)> {
        ((c - radius).floor() as i64 - 1..=(c + radius).ceil() as i64 + 1)
            .map(|k| (k, (1.0 - ((k as f64 + 0.5 - c) / radius).abs()).max(0.0)))
            .collect()
    };
    let (mut sum, mut all) = ([0.0; 3], 0.0);
    for (v, b) in weights(y) {
        for (u, a) in weights(x) {
            let p = at(image, u, v);
            sum = [0, 1, 2].map(|c: usize| sum[c] + a * b * p[c]);
            all += a * b;
        }
    }
    sum.map(|s| s / all)
}

fn plain(image: &RgbImage, region: &Region, size: usize) -> Vec<f64> {
    let step = region.side_px / size as f64;
    let (sin, cos) = region.roll_rad.sin_cos();
    let place = |i: f64, j: f64| {
        let (u, v) = (
            i * step - region.side_px / 2.0,
            j * step - region.side_px / 2.0,
        );
        [
            region.centre_px[0] + u * cos - v * sin,
            region.centre_px[1] + u * sin + v * cos,
        ]
    };
    let points: &[f64] = if step > 1.2 { &[0.25, 0.75] } else { &[0.5] };
    let mut out = Vec::new();
    for j in 0..size {
        for i in 0..size {
            let (i, j) = (i as f64, j as f64);
            if region.roll_rad == 0.0 {
                let [x, y] = place(i + 0.5, j + 0.5);
                out.extend(footprint(image, x, y, step));
                continue;
            }
            let mut sum = [0.0; 3];
            for dy in points {
                for dx in points {
                    let [x, y] = place(i + dx, j + dy);
                    let p = between(image, x, y);
                    sum = [0, 1, 2].map(|c: usize| sum[c] + p[c]);
                }
            }
            out.extend(sum.map(|s| s / (points.len() * points.len()) as f64));
        }
    }
    out
}

/// Largest and mean difference, grey levels.
fn apart(a: &[f64], b: &[f32]) -> (f64, f64) {
    assert_eq!(a.len(), b.len());
    let off = a.iter().zip(b).map(|(a, b)| (a - f64::from(*b)).abs());
    let (worst, sum) = off.fold((0.0, 0.0), |(w, s), d| (f64::max(w, d), s + d));
    (worst, sum / a.len() as f64)
}

/// Grain from pixel to pixel: nothing that is smooth enough to forgive a wrong place.
fn grain(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let mut v = (x * 7919 + y * 104_729).wrapping_mul(2_654_435_761);
        v ^= v >> 15;
        image::Rgb([v as u8, (v >> 8) as u8, (x / 2) as u8])
    })
}

const ROLLS_RAD: [f64; 5] = [0.0, 0.12, -0.9, 2.8, 1e-9];

fn regions() -> impl Iterator<Item = Region> {
    // Inside, over an edge, magnified, much larger than the picture.
    let places = [
        ([110.0, 75.3], 90.0),
        ([10.0, 140.0], 130.7),
        ([100.2, 80.0], 20.0),
        ([90.0, 70.0], 700.0),
    ];
    places.into_iter().flat_map(|(centre_px, side_px)| {
        ROLLS_RAD.map(|roll_rad| Region {
            centre_px,
            side_px,
            roll_rad,
        })
    })
}

#[test]
fn quick_crops_are_the_plain_ones_however_the_picture_is_stored() {
    const SIZE: usize = 32;
    for clockwise_deg in [0, 90, 180, 270] {
        for mirrored in [false, true] {
            let orientation = Orientation {
                clockwise_deg,
                mirrored,
            };
            let picture = Picture::turned(grain(211, 157), orientation);
            let shown = picture.shown();
            for region in regions() {
                let quick = sample_crop(&picture, &region, SIZE, 1.0, 0.0);
                let (worst, mean) = apart(&plain(&shown, &region, SIZE), &quick);
                assert!(
                    worst < 0.3 && mean < 0.1,
                    "{orientation:?} {region:?}: {worst} {mean}"
                );
            }
        }
    }
}

#[test]
fn a_picture_of_few_pixels_is_sampled_too() {
    for (w, h) in [(1, 1), (1, 9), (9, 1), (2, 2), (3, 1)] {
        let image = grain(w, h);
        for region in regions() {
            let quick = sample_crop(&image.clone().into(), &region, 8, 1.0, 0.0);
            let (worst, _) = apart(&plain(&image, &region, 8), &quick);
            assert!(worst < 0.4, "{w} x {h} {region:?}: {worst}");
        }
    }
}
