#![no_main]
//! Any text as a pattern of names, its second line read by it.
use std::path::Path;

use quarterturn::result::NamePattern;

libfuzzer_sys::fuzz_target!(|text: &str| {
    let (pattern, path) = text.split_once('\n').unwrap_or((text, "Student 7/2026-05-14 hips held/a_1.mov"));
    if let Ok(pattern) = NamePattern::parse(pattern) {
        let _ = pattern.read(Path::new(path));
    }
});
