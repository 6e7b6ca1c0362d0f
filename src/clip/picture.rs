//! A decoded picture as it was stored. Turning a whole picture for display costs more than reading
//! what the networks look at, so it is turned only where someone asks for all of it.

use std::fmt;

use image::RgbImage;

use super::frame_pool::Lent;
use super::orientation::Orientation;
use super::rows::Rows;

/// A picture and how it is to be shown. Its size is that of display.
pub struct Picture {
    stored: Stored,
    /// How the stored picture is turned to be shown.
    pub orientation: Orientation,
}

enum Stored {
    /// RGB24, straight from the scaler.
    Decoded(Lent),
    Image(RgbImage),
}

impl Picture {
    pub(super) fn decoded(rgb: Lent, orientation: Orientation) -> Self {
        Self {
            stored: Stored::Decoded(rgb),
            orientation,
        }
    }

    /// A stored picture that is to be shown turned.
    pub fn turned(stored: RgbImage, orientation: Orientation) -> Self {
        Self {
            stored: Stored::Image(stored),
            orientation,
        }
    }

    /// The stored bytes.
    pub fn rows(&self) -> Rows<'_> {
        match &self.stored {
            Stored::Decoded(lent) => lent.rows(),
            Stored::Image(image) => Rows {
                bytes: image.as_raw(),
                stride: image.width() as usize * 3,
                width: image.width() as usize,
                height: image.height() as usize,
            },
        }
    }

    fn size(&self) -> (u32, u32) {
        let rows = self.rows();
        self.orientation.size(rows.width as u32, rows.height as u32)
    }

    /// Width as shown, pixels.
    pub fn width(&self) -> u32 {
        self.size().0
    }

    /// Height as shown, pixels.
    pub fn height(&self) -> u32 {
        self.size().1
    }

    /// The whole picture as it is to be shown.
    pub fn shown(&self) -> RgbImage {
        let rows = self.rows();
        let row = rows.width * 3;
        let mut bytes = Vec::with_capacity(row * rows.height);
        for line in rows.bytes.chunks(rows.stride.max(1)).take(rows.height) {
            bytes.extend_from_slice(line.get(..row).unwrap_or_default());
        }
        bytes.resize(row * rows.height, 0);
        RgbImage::from_raw(rows.width as u32, rows.height as u32, bytes)
            .map(|stored| self.orientation.apply(stored))
            .unwrap_or_default()
    }
}

impl From<RgbImage> for Picture {
    fn from(image: RgbImage) -> Self {
        Self::turned(image, Orientation::default())
    }
}

impl fmt::Debug for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Picture({} x {})", self.width(), self.height())
    }
}
