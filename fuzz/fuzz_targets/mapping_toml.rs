#![no_main]
//! Any bytes as a mapping file; what is accepted is used on a small recording.
use std::path::Path;

use quarterturn::agreement::sensor::{Mapping, read_csv_bytes};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let path = Path::new("m.toml");
    if let Ok(mapping) = Mapping::from_bytes(bytes, path) {
        let csv = b"time_s,swing,event,thorax_turn_deg,pelvis_turn_deg\n0,a,top,1,2\n0.01,a,,3,-4\n";
        let _ = read_csv_bytes(csv, &mapping, path);
    }
});
