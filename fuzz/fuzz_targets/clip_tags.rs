#![no_main]
//! Any lines `key=value` as the tags that a phone wrote into a clip.
libfuzzer_sys::fuzz_target!(|text: &str| {
    let mut tags = quarterturn::clip::Tags::default();
    tags.add(text.lines().filter_map(|l| l.split_once('=')));
    let numbers = [tags.capture_fps(), tags.focal_35mm(), tags.created_unix_s()];
    assert!(numbers.iter().flatten().all(|v| v.is_finite()));
});
