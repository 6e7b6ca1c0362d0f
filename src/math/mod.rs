//! Rotations, small statistics and series that several rooms share. Radians inside.
#![warn(missing_docs)]

pub mod rotation;
pub mod series;
pub mod stats;
