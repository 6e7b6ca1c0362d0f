//! Rotations and small statistics that several rooms share. Radians inside.

pub mod rotation;
