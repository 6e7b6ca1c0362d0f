//! Charts as inline SVG. Colours are the page's CSS variables, so that a chart follows dark, light
//! and print; shapes carry the meaning, colours only help.

mod axes;
mod clock;
mod curves;
mod dots;
mod ruler;
mod svg;

pub use axes::{Frame, PLOT, Sheet};
pub use clock::clock;
pub use curves::{CurveChart, Line, curve_chart};
pub use dots::{Dots, Lane, dots, dots_span};
pub use ruler::{Ruler, Strip, ruler, ruler_span};
pub use svg::{definitions, n};
