//! The picture that stands for a measured swing, small, for pages of several swings.

use std::path::Path;

use image::{ImageReader, Limits};

use super::{jpeg, still_of};
use crate::config::ReportConfig;

/// Stills are smaller than this on either side, pixels; a larger file is none of ours.
const LARGEST: u32 = 8192;

/// As the address of an image with everything inside, its width and its height; `None` where the
/// folder holds no such still that can be read.
pub fn top_picture(folder: &Path, config: &ReportConfig) -> Option<(String, u32, u32)> {
    let path = folder.join(still_of(folder)?);
    let mut reader = ImageReader::open(path).ok()?.with_guessed_format().ok()?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LARGEST);
    limits.max_image_height = Some(LARGEST);
    reader.limits(limits);
    let picture = reader.decode().ok()?.into_rgb8();
    let small = jpeg::shrink(&picture, config.scrub_long_side_px).ok()?;
    let (w, h) = small.dimensions();
    let bytes = jpeg::encode(&small, config.still_quality).ok()?;
    Some((jpeg::data_uri(&bytes), w, h))
}
