#![no_main]
//! Any bytes as a sensor CSV, plain and with a mapping that uses every option.
use std::path::Path;

use quarterturn::agreement::sensor::{Mapping, read_csv_bytes};

const MAP: &[u8] = b"skip_lines = 1\ndelimiter = \";\"\ndecimal = \",\"\nevent_column = \"e\"\n[time]\ncolumn = \"t\"\nunit = \"frames\"\nrate_hz = 200\n[columns.thorax_turn]\ncolumn = \"a\"\nunit = \"rad\"\nsign = -1\n";

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let path = Path::new("s.csv");
    let mapped = Mapping::from_bytes(MAP, path).expect("valid");
    for mapping in [Mapping::default(), mapped] {
        for swing in read_csv_bytes(bytes, &mapping, path).unwrap_or_default() {
            assert!(swing.series.values().all(|s| s.len() == swing.time_s.len()));
            assert!(swing.time_s.windows(2).all(|w| w[0] < w[1]));
        }
    }
});
