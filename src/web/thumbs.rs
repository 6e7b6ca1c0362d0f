//! Small pictures for lists: a swing's still, made small once and kept in memory.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::SystemTime;

use image::DynamicImage;
use image::codecs::jpeg::JpegEncoder;

use crate::batch::lock;
use crate::report::{read_still, still_of};

/// Longest side, pixels: twice what a list shows, for screens of phones.
const SIDE: u32 = 240;
const QUALITY: u8 = 72;
/// Pictures kept, at some 8 kB each. Beyond it all are made anew.
const KEPT: usize = 3000;

type Kept = (SystemTime, Arc<Vec<u8>>);

/// The small pictures that were asked for.
#[derive(Default)]
pub struct Thumbs(Mutex<HashMap<PathBuf, Kept>>);

impl Thumbs {
    /// The small picture of a swing's folder as JPEG; `None` where it holds no still.
    pub fn of(&self, folder: &Path) -> Option<Arc<Vec<u8>>> {
        let still = folder.join(still_of(folder)?);
        let modified = std::fs::metadata(&still).ok()?.modified().ok()?;
        if let Some((when, small)) = lock(&self.0).get(&still)
            && *when == modified
        {
            return Some(small.clone());
        }
        let small = Arc::new(shrunk(&still)?);
        let mut kept = lock(&self.0);
        if kept.len() >= KEPT {
            kept.clear();
        }
        kept.insert(still, (modified, small.clone()));
        Some(small)
    }
}

fn shrunk(still: &Path) -> Option<Vec<u8>> {
    let picture = DynamicImage::from(read_still(still)?);
    let small = picture.thumbnail(SIDE, SIDE).into_rgb8();
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, QUALITY)
        .encode_image(&small)
        .ok()?;
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_top_is_shown_and_else_what_there_is() {
        let place = tempfile::tempdir().expect("a folder");
        let stills = place.path().join("stills");
        std::fs::create_dir(&stills).expect("made");
        assert_eq!(still_of(place.path()), None);
        for name in [
            "down_the_line_address.jpg",
            "down_the_line_top.jpg",
            "face_on_top.jpg",
        ] {
            image::RgbImage::from_pixel(600, 900, image::Rgb([9, 90, 190]))
                .save(stills.join(name))
                .expect("written");
            assert_eq!(still_of(place.path()), Some(Path::new("stills").join(name)));
        }
        let thumbs = Thumbs::default();
        let small = thumbs.of(place.path()).expect("a picture");
        let read = image::load_from_memory(&small).expect("a JPEG");
        assert_eq!((read.width(), read.height()), (160, 240));
        assert!(Arc::ptr_eq(&small, &thumbs.of(place.path()).expect("kept")));
        std::fs::write(stills.join("face_on_top.jpg"), b"no picture").expect("written");
        assert_eq!(thumbs.of(place.path()), None);
    }
}
