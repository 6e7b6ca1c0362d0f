//! The person detector: a whole frame in, regions of people out.

use ort::session::Session;

use super::crop::sample_crop;
use super::error::PoseError;
use super::observation::Region;
use super::session::{self, ModelFiles};
use crate::clip::Picture;
use crate::config::PoseConfig;

const INPUT: usize = 224;

/// One person as the detector sees them, frame pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Detection {
    /// Probability.
    pub score: f64,
    /// Left, top, right, bottom.
    pub box_px: [f64; 4],
    /// The landmark network's first region.
    pub region: Region,
}

/// Anchor centres over the input's side: 28 × 28 with 2 a cell, 14 × 14 with 2, 7 × 7 with 6.
fn anchors() -> Vec<[f64; 2]> {
    let mut out = Vec::with_capacity(2254);
    for (cells, each) in [(28, 2), (14, 2), (7, 6)] {
        for y in 0..cells {
            for x in 0..cells {
                for _ in 0..each {
                    out.push([
                        (f64::from(x) + 0.5) / f64::from(cells),
                        (f64::from(y) + 0.5) / f64::from(cells),
                    ]);
                }
            }
        }
    }
    out
}

/// Opens the detector for `detect`.
pub fn open(files: &ModelFiles) -> Result<Session, PoseError> {
    session::open(&files.detector, &files.runtime, &["boxes", "scores"])
}

/// People in a frame, best first, overlapping ones merged away.
pub fn detect(
    session: &mut Session,
    image: &Picture,
    config: &PoseConfig,
) -> Result<Vec<Detection>, PoseError> {
    let side = f64::from(image.width().max(image.height()));
    // Letterboxed: a square as large as the long side, centred; its outside repeats the edge,
    // which holds no person.
    let square = Region {
        centre_px: [
            f64::from(image.width()) / 2.0,
            f64::from(image.height()) / 2.0,
        ],
        side_px: side,
        roll_rad: 0.0,
    };
    let mut input = sample_crop(image, &square, INPUT, 1.0 / 127.5, -1.0);
    blacken_outside(&mut input, image);
    let said = session::run(session, &session::batch(&input, INPUT)?)?;
    let (boxes, scores) = (said.get("boxes")?, said.get("scores")?);
    let mut found = decode_detections(
        boxes.as_slice().unwrap_or_default(),
        scores.as_slice().unwrap_or_default(),
        config,
    );
    let origin = [
        square.centre_px[0] - side / 2.0,
        square.centre_px[1] - side / 2.0,
    ];
    for d in &mut found {
        for (v, o) in d.box_px.iter_mut().zip(origin.iter().cycle()) {
            *v = o + *v * side;
        }
        for (c, o) in d.region.centre_px.iter_mut().zip(origin) {
            *c = o + *c * side;
        }
        d.region.side_px *= side;
    }
    Ok(found)
}

/// The network was trained with black bars.
fn blacken_outside(input: &mut [f32], image: &Picture) {
    let (w, h) = (f64::from(image.width()), f64::from(image.height()));
    let side = w.max(h);
    let inside = |i: usize, extent: f64| {
        ((i as f64 + 0.5) / INPUT as f64 * side - side / 2.0).abs() <= extent / 2.0
    };
    for (k, pixel) in input.chunks_exact_mut(3).enumerate() {
        if !inside(k % INPUT, w) || !inside(k / INPUT, h) {
            pixel.fill(-1.0);
        }
    }
}

/// Decodes raw outputs into detections in units of the input's side. Any numbers are survived.
pub fn decode_detections(boxes: &[f32], scores: &[f32], config: &PoseConfig) -> Vec<Detection> {
    let scale = 1.0 / INPUT as f64;
    let mut all: Vec<Detection> = anchors()
        .iter()
        .zip(boxes.as_chunks::<12>().0)
        .zip(scores)
        .filter_map(|((anchor, b), score)| {
            let score = 1.0 / (1.0 + (-f64::from(*score).clamp(-100.0, 100.0)).exp());
            if score.is_nan()
                || score < config.detector_min_score
                || b.iter().any(|v| !v.is_finite())
            {
                return None;
            }
            let [dx, dy, w, h, hips_x, hips_y, round_x, round_y, ..] =
                b.map(|v| f64::from(v) * scale);
            let (cx, cy) = (anchor[0] + dx, anchor[1] + dy);
            let (hips, circle) = (
                [anchor[0] + hips_x, anchor[1] + hips_y],
                [anchor[0] + round_x, anchor[1] + round_y],
            );
            let region = Region::around(hips, circle);
            (w > 0.0 && h > 0.0 && region.side_px > 0.01).then_some(Detection {
                score,
                box_px: [cx - w / 2.0, cy - h / 2.0, cx + w / 2.0, cy + h / 2.0],
                region,
            })
        })
        .collect();
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Detection> = Vec::new();
    for d in all {
        if kept
            .iter()
            .all(|k| overlap(&k.box_px, &d.box_px) <= config.detector_max_overlap)
        {
            kept.push(d);
        }
    }
    kept
}

fn overlap(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    let w = (a[2].min(b[2]) - a[0].max(b[0])).max(0.0);
    let h = (a[3].min(b[3]) - a[1].max(b[1])).max(0.0);
    let area = |r: &[f64; 4]| (r[2] - r[0]) * (r[3] - r[1]);
    let union = area(a) + area(b) - w * h;
    if union > 0.0 { w * h / union } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use proptest::prelude::*;

    #[test]
    fn there_are_as_many_anchors_as_outputs() {
        assert_eq!(anchors().len(), 2254);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(16))]
        #[test]
        fn any_numbers_are_survived(seed in any::<u64>(), bits in proptest::collection::vec(any::<u32>(), 64)) {
            let config = Pipeline::default().pose;
            let number = |i: usize| f32::from_bits(bits[(i as u64 ^ seed) as usize % 64]);
            let boxes: Vec<f32> = (0..2254 * 12).map(number).collect();
            let scores: Vec<f32> = (0..2254).map(|i| number(i * 7)).collect();
            for d in decode_detections(&boxes, &scores, &config) {
                prop_assert!(d.region.side_px.is_finite());
            }
        }
    }
}
