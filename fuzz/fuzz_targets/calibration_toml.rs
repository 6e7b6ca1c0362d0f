#![no_main]
//! Any bytes as a studio calibration.
use std::path::Path;

use quarterturn::agreement::Calibration;
use quarterturn::result::Estimate;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(c) = Calibration::from_bytes(bytes, Path::new("c.toml")) {
        for rule in c.views.iter().flat_map(|v| v.measures.values()) {
            let (deg, low, high) = rule.correct(Estimate::new(40.0, 35.0, 47.0)).parts().expect("known");
            assert!(low <= deg && deg <= high);
        }
    }
});
