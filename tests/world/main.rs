//! The library against the world outside: OpenCV, SciPy, mediapipe and published figures.
//! docs/checks.md names the source of each check. The stored cases are made by the scripts in
//! tests/reference.

mod body_facts;
mod cameras;
mod landmarks;
mod pelvic_order;
mod reference;
mod rotations;
mod sets;
mod smoothing;
mod sound;
mod tour_players;
