//! JPEG for stills and for pictures inside a page.

use base64::Engine;
use ffmpeg_next::format::Pixel;
use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;

use super::ReportError;
use super::scale::{Scaler, copy_rows};

pub fn encode(image: &RgbImage, quality: u8) -> Result<Vec<u8>, ReportError> {
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, quality.clamp(1, 100))
        .encode_image(image)
        .map_err(|e| ReportError::Picture(e.to_string()))?;
    Ok(out)
}

pub fn data_uri(jpeg: &[u8]) -> String {
    let text = base64::engine::general_purpose::STANDARD.encode(jpeg);
    format!("data:image/jpeg;base64,{text}")
}

/// A picture inside a page, its longer side at most `side`: its address and its size.
pub fn inside(
    image: &RgbImage,
    side: u32,
    quality: u8,
) -> Result<(String, (u32, u32)), ReportError> {
    let small = shrink(image, side)?;
    let uri = data_uri(&encode(&small, quality)?);
    Ok((uri, small.dimensions()))
}

/// A copy whose longer side is at most `side`.
pub fn shrink(image: &RgbImage, side: u32) -> Result<RgbImage, ReportError> {
    let (w, h) = image.dimensions();
    let (to_w, to_h) = super::scale::fit(w, h, side);
    if (to_w, to_h) == (w, h) {
        return Ok(image.clone());
    }
    let mut scaler = Scaler::new((Pixel::RGB24, w, h), (Pixel::RGB24, to_w, to_h))
        .map_err(ReportError::Scale)?;
    let out = scaler
        .scale(image.as_raw(), w as usize * 3)
        .map_err(ReportError::Scale)?;
    let row = to_w as usize * 3;
    let mut small = RgbImage::new(to_w, to_h);
    copy_rows((out.data(0), out.stride(0)), (&mut *small, row), row);
    Ok(small)
}

/// The best quality at which all pictures together stay within `budget` bytes, told from a sample.
pub fn quality_for<'a>(
    pictures: impl Iterator<Item = &'a RgbImage>,
    budget: usize,
    best: u8,
    worst: u8,
) -> Result<u8, ReportError> {
    let all: Vec<_> = pictures.collect();
    let sample: Vec<_> = all.iter().step_by((all.len() / 6).max(1)).collect();
    let mut quality = best;
    while quality > worst {
        let mut bytes = 0;
        for picture in &sample {
            bytes += encode(picture, quality)?.len();
        }
        if bytes * all.len() <= budget * sample.len().max(1) {
            break;
        }
        quality = quality.saturating_sub(8).max(worst);
    }
    Ok(quality)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_keeps_shape_and_colours() {
        let image = RgbImage::from_fn(100, 200, |_, y| {
            image::Rgb(if y < 100 { [200, 10, 30] } else { [0, 90, 250] })
        });
        let small = shrink(&image, 50).expect("scales");
        assert_eq!(small.dimensions(), (26, 50));
        let near = |a: [u8; 3], b: [u8; 3]| a.iter().zip(b).all(|(a, b)| a.abs_diff(b) < 4);
        assert!(
            near(small.get_pixel(12, 5).0, [200, 10, 30]),
            "{:?}",
            small.get_pixel(12, 5)
        );
        assert!(
            near(small.get_pixel(12, 44).0, [0, 90, 250]),
            "{:?}",
            small.get_pixel(12, 44)
        );
    }

    #[test]
    fn a_small_budget_lowers_the_quality() {
        let noisy = RgbImage::from_fn(120, 200, |x, y| {
            image::Rgb([(x * 37 + y * 91) as u8, (x * y) as u8, (x * 13) as u8])
        });
        let all = [noisy.clone(), noisy.clone(), noisy];
        let q = |budget| quality_for(all.iter(), budget, 70, 30).expect("encodes");
        assert_eq!(q(10_000_000), 70);
        assert_eq!(q(1), 30);
    }
}
