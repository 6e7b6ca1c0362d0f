//! Rotations, small statistics and series that several rooms share. Radians inside.

pub mod rotation;
pub mod series;
pub mod stats;
