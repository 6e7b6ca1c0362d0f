//! The picture that stands for a measured swing, small, for pages of several swings.

use std::path::Path;

use super::{jpeg, read_still, still_of};
use crate::config::ReportConfig;

/// As the address of an image with everything inside, its width and its height; `None` where the
/// folder holds no such still that can be read.
pub fn top_picture(folder: &Path, config: &ReportConfig) -> Option<(String, u32, u32)> {
    let picture = read_still(&folder.join(still_of(folder)?))?;
    let small = jpeg::shrink(&picture, config.scrub_long_side_px).ok()?;
    let (w, h) = small.dimensions();
    let bytes = jpeg::encode(&small, config.still_quality).ok()?;
    Some((jpeg::data_uri(&bytes), w, h))
}
