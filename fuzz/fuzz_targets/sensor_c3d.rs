#![no_main]
//! Any bytes as C3D, and as a C3D file of landmarks.
use std::path::Path;

use quarterturn::agreement::c3d;
use quarterturn::agreement::sensor::{Mapping, read_c3d_bytes};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(file) = c3d::read(bytes) {
        let points: usize = file.tracks.iter().map(|t| t.points.len()).sum();
        assert!(points * 8 <= bytes.len(), "no points without bytes");
    }
    let _ = read_c3d_bytes(bytes, &Mapping::default(), Path::new("s.c3d"));
});
