//! From stored pictures to display orientation.

use image::{RgbImage, imageops};

/// What the display matrix asks for: an optional mirror (left-right), then a clockwise turn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Orientation {
    /// 0, 90, 180 or 270.
    pub clockwise_deg: u32,
    /// Whether the picture is mirrored left to right before it is turned.
    pub mirrored: bool,
}

impl Orientation {
    /// From the nine little-endian 16.16 fixed-point numbers of an MP4 display matrix (ISO/IEC
    /// 14496-12, `tkhd`): a stored point (p, q) is shown at x = a·p + c·q, y = b·p + d·q.
    /// Angles are taken to the nearest right angle; bytes of another length mean no turn.
    pub fn from_matrix(bytes: &[u8]) -> Self {
        let number = |i: usize| {
            bytes
                .get(i * 4..i * 4 + 4)
                .and_then(|b| <[u8; 4]>::try_from(b).ok())
                .map_or(0.0, |b| f64::from(i32::from_le_bytes(b)))
        };
        if bytes.len() < 36 {
            return Self::default();
        }
        let (a, b, c, d) = (number(0), number(1), number(3), number(4));
        let mirrored = a * d - b * c < 0.0;
        // With a mirror in x first, the first column changes sign.
        let (a, b) = if mirrored { (-a, -b) } else { (a, b) };
        let turns = (b.atan2(a) / std::f64::consts::FRAC_PI_2).round() as i64;
        Self {
            clockwise_deg: (turns.rem_euclid(4) * 90) as u32,
            mirrored,
        }
    }

    /// Display size of a stored picture.
    pub fn size(&self, width: u32, height: u32) -> (u32, u32) {
        if self.clockwise_deg % 180 == 90 {
            (height, width)
        } else {
            (width, height)
        }
    }

    /// Where a shown point lies in the stored picture, pixels from its top left corner; `stored`: the
    /// stored size.
    pub fn to_stored(&self, [x, y]: [f64; 2], stored: [f64; 2]) -> [f64; 2] {
        let [w, h] = stored;
        let [p, q] = match self.clockwise_deg {
            90 => [y, h - x],
            180 => [w - x, h - y],
            270 => [w - y, x],
            _ => [x, y],
        };
        [if self.mirrored { w - p } else { p }, q]
    }

    /// The picture as it is to be shown.
    pub fn apply(&self, mut stored: RgbImage) -> RgbImage {
        if self.mirrored {
            imageops::flip_horizontal_in_place(&mut stored);
        }
        match self.clockwise_deg {
            90 => imageops::rotate90(&stored),
            180 => {
                imageops::rotate180_in_place(&mut stored);
                stored
            }
            270 => imageops::rotate270(&stored),
            _ => stored,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    fn matrix(a: i32, b: i32, c: i32, d: i32) -> Vec<u8> {
        [a, b, 0, c, d, 0, 0, 0, 1 << 30]
            .iter()
            .flat_map(|v| v.to_le_bytes())
            .collect()
    }

    const ONE: i32 = 1 << 16;

    #[test]
    fn right_angles_and_mirrors_are_read() {
        let of = |a, b, c, d| Orientation::from_matrix(&matrix(a, b, c, d));
        assert_eq!(of(ONE, 0, 0, ONE), Orientation::default());
        assert_eq!(of(0, ONE, -ONE, 0).clockwise_deg, 90);
        assert_eq!(of(-ONE, 0, 0, -ONE).clockwise_deg, 180);
        assert_eq!(of(0, -ONE, ONE, 0).clockwise_deg, 270);
        assert_eq!(
            of(-ONE, 0, 0, ONE),
            Orientation {
                clockwise_deg: 0,
                mirrored: true
            }
        );
    }

    #[test]
    fn a_clockwise_turn_takes_the_top_left_to_the_top_right() {
        let mut image = RgbImage::new(3, 2);
        image.put_pixel(0, 0, Rgb([255, 0, 0]));
        let turned = Orientation {
            clockwise_deg: 90,
            mirrored: false,
        }
        .apply(image);
        assert_eq!(turned.dimensions(), (2, 3));
        assert_eq!(turned.get_pixel(1, 0), &Rgb([255, 0, 0]));
    }

    #[test]
    fn shown_points_are_found_in_the_stored_picture() {
        let image = RgbImage::from_fn(5, 3, |x, y| Rgb([x as u8, y as u8, 0]));
        for clockwise_deg in [0, 90, 180, 270] {
            for mirrored in [false, true] {
                let o = Orientation {
                    clockwise_deg,
                    mirrored,
                };
                for (x, y, pixel) in o.apply(image.clone()).enumerate_pixels() {
                    let at = [f64::from(x) + 0.5, f64::from(y) + 0.5];
                    let [p, q] = o.to_stored(at, [5.0, 3.0]);
                    assert_eq!(
                        [p - 0.5, q - 0.5],
                        [f64::from(pixel[0]), f64::from(pixel[1])]
                    );
                }
            }
        }
    }
}
