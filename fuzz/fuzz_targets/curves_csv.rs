#![no_main]
//! Any bytes as curves.csv.
use std::path::Path;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(curves) = quarterturn::result::read_curves_bytes(bytes, Path::new("curves.csv")) {
        assert!(curves.series.values().all(|s| s.len() == curves.time_s.len()));
    }
});
