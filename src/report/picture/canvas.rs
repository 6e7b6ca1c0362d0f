//! A picture that can be drawn on: shapes by tiny-skia, text by ab_glyph.

use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};
use image::RgbImage;
use tiny_skia::{
    FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, PremultipliedColorU8, Rect,
    Stroke, Transform,
};

use super::colour;

const FONT: &[u8] = include_bytes!("../assets/DejaVuSans-Bold.ttf");

/// Why a picture could not be drawn on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DrawError {
    /// No picture of this size can be held.
    #[error("a picture of {width} × {height} pixels can't be drawn on")]
    Size {
        /// Pixels.
        width: u32,
        /// Pixels.
        height: u32,
    },
    /// The font inside the program is damaged.
    #[error("the built-in font can't be read")]
    Font,
}

pub struct Canvas {
    pixmap: Pixmap,
    font: FontRef<'static>,
}

impl Canvas {
    pub fn new(width: u32, height: u32) -> Result<Self, DrawError> {
        let pixmap = Pixmap::new(width, height).ok_or(DrawError::Size { width, height })?;
        let font = FontRef::try_from_slice(FONT).map_err(|_| DrawError::Font)?;
        Ok(Self { pixmap, font })
    }

    pub fn width(&self) -> u32 {
        self.pixmap.width()
    }

    pub fn height(&self) -> u32 {
        self.pixmap.height()
    }

    /// RGBA rows without padding, opaque.
    pub fn pixels(&self) -> &[u8] {
        self.pixmap.data()
    }

    /// The same, to be filled with an opaque picture.
    pub fn pixels_mut(&mut self) -> &mut [u8] {
        self.pixmap.data_mut()
    }

    pub fn to_rgb(&self) -> RgbImage {
        let mut out = RgbImage::new(self.width(), self.height());
        for (to, from) in out.pixels_mut().zip(self.pixmap.data().as_chunks::<4>().0) {
            let [r, g, b, _] = *from;
            to.0 = [r, g, b];
        }
        out
    }

    /// The unit for text and strokes: text of this height reads on a phone, and 34 letters fit
    /// into the picture's width.
    pub fn unit(&self) -> f32 {
        (self.height() as f32 * 0.026)
            .min(self.width() as f32 * 0.038)
            .max(6.0)
    }

    pub fn line(&mut self, points: &[[f32; 2]], width: f32, rgb: [u8; 3], alpha: u8) {
        let Some(path) = trace(points).finish() else {
            return;
        };
        let stroke = Stroke {
            width,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            ..Stroke::default()
        };
        self.stroke(&path, &stroke, rgb, alpha);
    }

    pub fn polygon(&mut self, points: &[[f32; 2]], rgb: [u8; 3], alpha: u8) {
        let mut path = trace(points);
        path.close();
        let Some(path) = path.finish() else { return };
        self.fill(&path, rgb, alpha);
    }

    pub fn disc(&mut self, centre: [f32; 2], radius: f32, rgb: [u8; 3], alpha: u8) {
        if let Some(path) = PathBuilder::from_circle(centre[0], centre[1], radius) {
            self.fill(&path, rgb, alpha);
        }
    }

    pub fn ring(&mut self, centre: [f32; 2], radius: f32, width: f32, rgb: [u8; 3], alpha: u8) {
        if let Some(path) = PathBuilder::from_circle(centre[0], centre[1], radius) {
            let stroke = Stroke {
                width,
                ..Stroke::default()
            };
            self.stroke(&path, &stroke, rgb, alpha);
        }
    }

    fn fill(&mut self, path: &Path, rgb: [u8; 3], alpha: u8) {
        self.pixmap.fill_path(
            path,
            &paint(rgb, alpha),
            FillRule::Winding,
            Transform::identity(),
            None,
        );
    }

    fn stroke(&mut self, path: &Path, stroke: &Stroke, rgb: [u8; 3], alpha: u8) {
        self.pixmap.stroke_path(
            path,
            &paint(rgb, alpha),
            stroke,
            Transform::identity(),
            None,
        );
    }

    pub fn plate(&mut self, x: f32, y: f32, width: f32, height: f32, rgb: [u8; 3], alpha: u8) {
        if let Some(rect) = Rect::from_xywh(x, y, width, height) {
            self.pixmap
                .fill_rect(rect, &paint(rgb, alpha), Transform::identity(), None);
        }
    }

    pub fn text_width(&self, text: &str, size: f32) -> f32 {
        let font = self.font.as_scaled(PxScale::from(size));
        text.chars().map(|c| font.h_advance(font.glyph_id(c))).sum()
    }

    /// Draws one line of text, its top left corner at `x`, `y`; returns where it ends.
    pub fn text(&mut self, text: &str, x: f32, y: f32, size: f32, rgb: [u8; 3]) -> f32 {
        let scale = PxScale::from(size);
        let font = self.font.clone();
        let scaled = font.as_scaled(scale);
        let (mut at, baseline) = (x, y + scaled.ascent());
        for c in text.chars() {
            let id = scaled.glyph_id(c);
            let glyph = id.with_scale_and_position(scale, point(at, baseline));
            if let Some(outline) = font.outline_glyph(glyph) {
                let origin = outline.px_bounds().min;
                outline.draw(|gx, gy, cover| {
                    self.blend(
                        origin.x as i64 + i64::from(gx),
                        origin.y as i64 + i64::from(gy),
                        rgb,
                        cover,
                    );
                });
            }
            at += scaled.h_advance(id);
        }
        at
    }

    fn blend(&mut self, x: i64, y: i64, rgb: [u8; 3], cover: f32) {
        let (w, h) = (i64::from(self.width()), i64::from(self.height()));
        if x < 0 || y < 0 || x >= w || y >= h {
            return;
        }
        let i = (y * w + x) as usize;
        if let Some(pixel) = self.pixmap.pixels_mut().get_mut(i) {
            let mix = |new: u8, old: u8| {
                let c = cover.clamp(0.0, 1.0);
                (f32::from(new) * c + f32::from(old) * (1.0 - c)).round() as u8
            };
            let mixed = PremultipliedColorU8::from_rgba(
                mix(rgb[0], pixel.red()),
                mix(rgb[1], pixel.green()),
                mix(rgb[2], pixel.blue()),
                255,
            );
            if let Some(mixed) = mixed {
                *pixel = mixed;
            }
        }
    }
}

/// A line from point to point.
fn trace(points: &[[f32; 2]]) -> PathBuilder {
    let mut path = PathBuilder::new();
    for (i, p) in points.iter().enumerate() {
        if i == 0 {
            path.move_to(p[0], p[1]);
        } else {
            path.line_to(p[0], p[1]);
        }
    }
    path
}

fn paint(rgb: [u8; 3], alpha: u8) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color(colour(rgb, alpha));
    paint.anti_alias = true;
    paint
}
