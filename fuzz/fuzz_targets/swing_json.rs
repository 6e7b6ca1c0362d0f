#![no_main]
//! Any bytes as swing.json; what is read can be written and read again.
use std::path::Path;

use quarterturn::result::read_swing_bytes;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let path = Path::new("swing.json");
    if let Ok(swing) = read_swing_bytes(bytes, path) {
        let again = serde_json::to_vec(&swing).expect("a result can be written");
        assert!(read_swing_bytes(&again, path).is_ok());
    }
});
