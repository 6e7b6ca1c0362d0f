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
    session::open(files, &files.detector, &["boxes", "scores"])
}

/// The whole picture as the detector takes it: a square as large as the long side, centred.
pub fn whole(image: &Picture) -> Region {
    let (w, h) = (f64::from(image.width()), f64::from(image.height()));
    Region {
        centre_px: [w / 2.0, h / 2.0],
        side_px: w.max(h),
        roll_rad: 0.0,
    }
}

/// An upright square of a picture at the detector's own size. Black outside the picture, as the
/// network was trained.
pub struct Look {
    square: Region,
    input: Vec<f32>,
}

impl Look {
    pub fn at(image: &Picture, square: Region) -> Self {
        let mut input = sample_crop(image, &square, INPUT, 1.0 / 127.5, -1.0);
        blacken_outside(&mut input, image, &square);
        Self { square, input }
    }

    /// Brightness of the square's cells, row by row, 0..255; `CELLS` a side.
    pub fn cells(&self) -> Vec<f32> {
        const EACH: usize = INPUT / CELLS;
        let mut cells = vec![0f32; CELLS * CELLS];
        for (k, pixel) in self.input.as_chunks::<3>().0.iter().enumerate() {
            let at = k / INPUT / EACH * CELLS + k % INPUT / EACH;
            if let Some(cell) = cells.get_mut(at) {
                *cell += (pixel[1] + 1.0) * 127.5;
            }
        }
        for cell in &mut cells {
            *cell /= (EACH * EACH) as f32;
        }
        cells
    }
}

/// Cells a side of a look's brightness.
pub const CELLS: usize = 112;

/// People in a square of a picture, best first, overlapping ones merged away; those that score at
/// least `least`.
pub fn detect(
    session: &mut Session,
    look: &Look,
    least: f64,
    config: &PoseConfig,
) -> Result<Vec<Detection>, PoseError> {
    let said = session::run(session, &session::batch(&look.input, INPUT)?)?;
    let (boxes, scores) = (said.get("boxes")?, said.get("scores")?);
    let mut found = decode_detections(
        boxes.as_slice().unwrap_or_default(),
        scores.as_slice().unwrap_or_default(),
        least,
        config,
    );
    let side = look.square.side_px;
    let origin = look.square.centre_px.map(|c| c - side / 2.0);
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

fn blacken_outside(input: &mut [f32], image: &Picture, square: &Region) {
    let step = square.side_px / INPUT as f64;
    let inside = |centre: f64, extent: u32| -> Vec<bool> {
        (0..INPUT)
            .map(|i| centre - square.side_px / 2.0 + (i as f64 + 0.5) * step)
            .map(|at| (0.0..=f64::from(extent)).contains(&at))
            .collect()
    };
    let [x, y] = square.centre_px;
    let (columns, lines) = (inside(x, image.width()), inside(y, image.height()));
    for (row, line) in input.chunks_exact_mut(3 * INPUT).zip(&lines) {
        for (pixel, column) in row.as_chunks_mut::<3>().0.iter_mut().zip(&columns) {
            if !(*line && *column) {
                *pixel = [-1.0; 3];
            }
        }
    }
}

/// Decodes raw outputs into detections in units of the input's side. Any numbers are survived.
pub fn decode_detections(
    boxes: &[f32],
    scores: &[f32],
    least: f64,
    config: &PoseConfig,
) -> Vec<Detection> {
    let scale = 1.0 / INPUT as f64;
    let mut all: Vec<Detection> = anchors()
        .iter()
        .zip(boxes.as_chunks::<12>().0)
        .zip(scores)
        .filter_map(|((anchor, b), score)| {
            let score = 1.0 / (1.0 + (-f64::from(*score).clamp(-100.0, 100.0)).exp());
            if score.is_nan() || score < least || b.iter().any(|v| !v.is_finite()) {
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
    merge(&mut all, config);
    all
}

/// Keeps the best of those that overlap, best first.
pub fn merge(found: &mut Vec<Detection>, config: &PoseConfig) {
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Detection> = Vec::new();
    found.retain(|d| {
        let new = kept
            .iter()
            .all(|k| overlap(&k.box_px, &d.box_px) <= config.detector_max_overlap);
        if new {
            kept.push(*d);
        }
        new
    });
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

    #[test]
    fn there_are_as_many_anchors_as_outputs() {
        assert_eq!(anchors().len(), 2254);
    }
}
