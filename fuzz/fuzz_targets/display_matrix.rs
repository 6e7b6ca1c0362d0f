#![no_main]
//! Any bytes as an MP4 display matrix.
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let o = quarterturn::clip::Orientation::from_matrix(bytes);
    assert!(o.clockwise_deg.is_multiple_of(90) && o.clockwise_deg < 360);
});
