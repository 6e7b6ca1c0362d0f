//! Which picture stands for a swing in a list, and on pages of several swings.

use std::path::{Path, PathBuf};

use image::{ImageReader, Limits, RgbImage};

use super::jpeg;
use super::names::still_name;
use crate::config::ReportConfig;
use crate::terms::{Event, Role};

/// The still of a result folder that shows the swing in a list: the top, face-on before
/// down-the-line, else the next moment that there is a picture of. The path below the folder's own.
pub fn still_of(folder: &Path) -> Option<PathBuf> {
    let moments = [Event::Top, Event::Impact, Event::Address, Event::Finish];
    let names = moments
        .into_iter()
        .flat_map(|e| Role::ALL.map(|r| still_name(r, e)));
    names
        .map(|n| Path::new("stills").join(n))
        .find(|p| folder.join(p).is_file())
}

/// The same small: as the address of an image with everything inside, its width and its height; `None`
/// where the folder holds no such still that can be read.
pub fn top_picture(folder: &Path, config: &ReportConfig) -> Option<(String, u32, u32)> {
    let picture = read_still(&folder.join(still_of(folder)?))?;
    let side = config.scrub_long_side_px;
    let (uri, (w, h)) = jpeg::inside(&picture, side, config.still_quality).ok()?;
    Some((uri, w, h))
}

/// Stills are smaller than this on either side, pixels; a larger file is none of ours.
const LARGEST: u32 = 8192;

/// A still as it stands in its file; `None` where it can't be read.
pub fn read_still(path: &Path) -> Option<RgbImage> {
    let mut reader = ImageReader::open(path).ok()?.with_guessed_format().ok()?;
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(LARGEST), Some(LARGEST));
    reader.limits(limits);
    Some(reader.decode().ok()?.into_rgb8())
}
