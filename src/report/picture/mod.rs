//! Drawing over a view's pictures: the body, the running turns, the plan view, captions.
//! Every size is a share of the picture's, so that an overlay reads alike at any resolution.

mod body;
mod canvas;
mod labels;
mod plan;

pub use body::draw_body;
pub use canvas::{Canvas, DrawError};
pub use labels::{Timeline, draw_caption, draw_readings, draw_timeline};
pub use plan::draw_plan;

use tiny_skia::Color;

use crate::result::Estimate;

/// Colours over pictures: light on a dark casing, apart in brightness as well as hue.
pub(crate) struct Ink;

impl Ink {
    /// Hips: a full bar.
    pub const PELVIS: [u8; 3] = [255, 196, 61];
    /// Shoulders (rib cage): a bar with a slit.
    pub const THORAX: [u8; 3] = [122, 214, 255];
    pub const PAPER: [u8; 3] = [255, 255, 255];
    pub const CASING: [u8; 3] = [12, 16, 20];
}

pub(crate) fn colour(rgb: [u8; 3], alpha: u8) -> Color {
    Color::from_rgba8(rgb[0], rgb[1], rgb[2], alpha)
}

/// The running turns at one frame: pelvis, thorax, separation, each from address.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Readings {
    pub pelvis: Estimate,
    pub thorax: Estimate,
    pub separation: Estimate,
}
