#![no_main]
//! Any text as a pipeline file laid over the built-in one.
libfuzzer_sys::fuzz_target!(|text: &str| {
    let _ = quarterturn::config::Pipeline::from_text(text);
});
