//! The 33-landmark network on a turned crop, and the region that it says to look at next.

use nalgebra::SVector;
use ort::session::Session;

use super::crop::sample_crop;
use super::error::PoseError;
use super::observation::{Keypoint, Region, landmark};
use super::session::{self, ModelFiles};
use crate::clip::Picture;
use crate::config::PoseConfig;

const INPUT: usize = 256;
/// Rows of the network's output: 33 of the body, two of the next region, four unused.
const ROWS: usize = 39;

/// What the landmark network sees in one crop.
#[derive(Clone, Debug)]
pub struct Landmarks {
    pub presence: f64,
    pub keypoints: Vec<Keypoint>,
    pub world_m: Vec<[f64; 3]>,
    pub next: Region,
}

impl Landmarks {
    /// Where to look in the next frame; `None` where no person was seen, or none that fits `image`.
    pub fn next_region(&self, image: &Picture, config: &PoseConfig) -> Option<Region> {
        (self.presence >= config.min_presence && self.next.is_plausible(image)).then_some(self.next)
    }
}

/// Opens the landmark network for `read`.
pub fn open(files: &ModelFiles) -> Result<Session, PoseError> {
    session::open(
        files,
        &files.landmarks,
        &["landmarks", "presence", "world_landmarks"],
    )
}

pub fn read(
    session: &mut Session,
    image: &Picture,
    region: &Region,
) -> Result<Landmarks, PoseError> {
    let rows = sample_crop(image, region, INPUT, 1.0 / 255.0, 0.0);
    let said = session::run(session, &session::batch(&rows, INPUT)?)?;
    decode(
        &said.numbers("landmarks")?,
        &said.numbers("presence")?,
        &said.numbers("world_landmarks")?,
        region,
    )
    .ok_or_else(|| PoseError::Network("the landmark network's output is too short".into()))
}

/// The middle of the hands from the middle of the hips, in golfer heights.
pub fn hands(keypoints: &[Keypoint]) -> Option<[f64; 2]> {
    reach(|i| keypoints.get(i).map(|k| [k.x_px, k.y_px]), 8.0)
}

/// Hips to hands in golfer heights; `None` where the height is less than `least`.
fn reach<const N: usize>(at: impl Fn(usize) -> Option<[f64; N]>, least: f64) -> Option<[f64; N]> {
    let middle = |[left, right]: [usize; 2]| {
        let (a, b) = (SVector::from(at(left)?), SVector::from(at(right)?));
        Some((a + b) / 2.0)
    };
    let hips = middle(landmark::HIP)?;
    // Hips to ankles are close to half a stature, in any posture of a swing.
    let height = 2.0 * (middle(landmark::ANKLE)? - hips).norm();
    let hands = (middle(landmark::WRIST)? - hips) / height;
    (height > least).then(|| hands.into())
}

/// Decodes raw outputs; `None` when they are too short.
fn decode(raw: &[f64], presence: &[f64], world: &[f64], region: &Region) -> Option<Landmarks> {
    let rows: &[[f64; 5]; ROWS] = raw.as_chunks().0.first_chunk()?;
    let world: &[[f64; 3]; landmark::COUNT] = world.as_chunks().0.first_chunk()?;
    let (sin, cos) = region.roll_rad.sin_cos();
    let step = region.side_px / INPUT as f64;
    let half = region.side_px / 2.0;
    let to_frame = |x: f64, y: f64| region.to_frame(x * step - half, y * step - half);
    let logistic = |v: f64| 1.0 / (1.0 + (-v.clamp(-60.0, 60.0)).exp());
    let keypoints = rows
        .iter()
        .take(landmark::COUNT)
        .map(|r| {
            let [x_px, y_px] = to_frame(r[0], r[1]);
            Keypoint {
                x_px,
                y_px,
                visibility: logistic(r[3]),
                presence: logistic(r[4]),
            }
        })
        .collect();
    // The network's own 3D points come in the turned crop: turn them back.
    let world_m = world
        .iter()
        .map(|w| [w[0] * cos - w[1] * sin, w[0] * sin + w[1] * cos, w[2]])
        .collect();
    let (centre, circle) = (rows[33], rows[34]);
    let (c, p) = (
        to_frame(centre[0], centre[1]),
        to_frame(circle[0], circle[1]),
    );
    Some(Landmarks {
        presence: presence
            .first()
            .copied()
            .filter(|p| p.is_finite())
            .unwrap_or(0.0),
        keypoints,
        world_m,
        next: Region::around(c, p),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_crops_middle_is_the_regions_centre_whatever_the_roll() {
        let mut raw = vec![0.0; ROWS * 5];
        for r in raw.chunks_exact_mut(5) {
            r[0] = 128.0;
            r[1] = 128.0;
        }
        let region = Region {
            centre_px: [300.0, 400.0],
            side_px: 500.0,
            roll_rad: 0.7,
        };
        let seen = decode(&raw, &[0.9], &[0.0; 117], &region).expect("long enough");
        assert!((seen.keypoints[5].x_px - 300.0).abs() < 1e-9);
        assert!((seen.keypoints[5].y_px - 400.0).abs() < 1e-9);
        assert!(decode(&raw[..20], &[0.9], &[0.0; 117], &region).is_none());
    }
}
