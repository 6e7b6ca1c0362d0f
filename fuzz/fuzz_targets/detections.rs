#![no_main]
//! Any numbers as the detector's raw output.
use std::sync::LazyLock;

use quarterturn::config::Pipeline;

static PIPELINE: LazyLock<Pipeline> = LazyLock::new(Pipeline::default);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let numbers: Vec<f32> = bytes
        .chunks_exact(4)
        .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]))
        .collect();
    // A score for every twelve numbers of a box.
    let (boxes, scores) = numbers.split_at(numbers.len() * 12 / 13);
    for d in quarterturn::pose::decode_detections(boxes, scores, 0.5, &PIPELINE.pose) {
        assert!(d.score.is_finite() && d.region.side_px.is_finite());
    }
});
