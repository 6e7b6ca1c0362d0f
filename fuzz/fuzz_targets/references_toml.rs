#![no_main]
//! Any text as a file of reference ranges.
libfuzzer_sys::fuzz_target!(|text: &str| {
    if let Ok(references) = quarterturn::report::References::parse(text, "ranges.toml") {
        for range in &references.ranges {
            let _ = (range.extent(), range.words());
        }
    }
});
