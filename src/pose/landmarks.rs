//! The 33-landmark network on a turned crop, and the region that it says to look at next.

use nalgebra::SVector;
use ort::session::Session;

use super::crop::sample_crop;
use super::error::PoseError;
use super::observation::{Keypoint, Region, landmark};
use super::session::{self, ModelFiles, Outputs};
use crate::clip::Picture;
use crate::config::PoseConfig;

const INPUT: usize = 256;
/// Rows of the network's output: 33 of the body, two of the next region, four unused.
const ROWS: usize = 39;

/// What the landmark network sees in one crop; by default nobody.
#[derive(Clone, Debug, Default)]
pub struct Landmarks {
    pub presence: f64,
    pub keypoints: Vec<Keypoint>,
    pub world_m: Vec<[f64; 3]>,
    pub next: Region,
}

impl Landmarks {
    /// Where to look in the next frame; `None` where no person was seen, or none that fits `image`.
    pub fn next_region(&self, image: &Picture, config: &PoseConfig) -> Option<Region> {
        self.next_in([image.width(), image.height()], config)
    }

    /// The same for a picture of a width and a height, pixels.
    pub fn next_in(&self, size: [u32; 2], config: &PoseConfig) -> Option<Region> {
        (self.presence >= config.min_presence && self.next.is_plausible(size)).then_some(self.next)
    }

    /// What was seen in the mirror image of an upright crop, in the crop itself: left and right swap
    /// names.
    pub fn mirrored(&self, crop: &Region) -> Self {
        let across = |x_px: f64| 2.0 * crop.centre_px[0] - x_px;
        let [x, y] = self.next.centre_px;
        Self {
            presence: self.presence,
            keypoints: swapped(&self.keypoints, |k| Keypoint {
                x_px: across(k.x_px),
                ..*k
            }),
            world_m: swapped(&self.world_m, |[x, y, z]| [-x, *y, *z]),
            next: Region {
                centre_px: [across(x), y],
                side_px: self.next.side_px,
                roll_rad: -self.next.roll_rad,
            },
        }
    }

    /// The mean of what was seen twice in one crop.
    pub fn mean(&self, other: &Self) -> Self {
        let half = |a: f64, b: f64| (a + b) / 2.0;
        let points = self.keypoints.iter().zip(&other.keypoints);
        let world = self.world_m.iter().zip(&other.world_m);
        let (a, b) = (self.next, other.next);
        Self {
            presence: half(self.presence, other.presence),
            keypoints: points
                .map(|(a, b)| Keypoint {
                    x_px: half(a.x_px, b.x_px),
                    y_px: half(a.y_px, b.y_px),
                    visibility: half(a.visibility, b.visibility),
                    presence: half(a.presence, b.presence),
                })
                .collect(),
            world_m: world
                .map(|(a, b)| [half(a[0], b[0]), half(a[1], b[1]), half(a[2], b[2])])
                .collect(),
            next: Region {
                centre_px: [
                    half(a.centre_px[0], b.centre_px[0]),
                    half(a.centre_px[1], b.centre_px[1]),
                ],
                side_px: half(a.side_px, b.side_px),
                // Both lean by little, as golfers stand.
                roll_rad: half(a.roll_rad, b.roll_rad),
            },
        }
    }
}

fn swapped<T>(all: &[T], turn: impl Fn(&T) -> T) -> Vec<T> {
    (0..all.len())
        .filter_map(|i| all.get(landmark::other_side(i)).map(&turn))
        .collect()
}

/// What the landmark network gives, and the torso network where it reads landmarks too.
pub const OUTPUTS: [&str; 3] = ["landmarks", "presence", "world_landmarks"];

/// Opens the landmark network for `read`.
pub fn open(files: &ModelFiles) -> Result<Session, PoseError> {
    session::open(files, &files.landmarks, &OUTPUTS)
}

/// What a network says of the landmarks in a region.
pub fn said(outputs: &Outputs<'_>, region: &Region) -> Result<Landmarks, PoseError> {
    let [points, presence, world] = OUTPUTS;
    decode(
        &outputs.numbers(points)?,
        &outputs.numbers(presence)?,
        &outputs.numbers(world)?,
        region,
    )
    .ok_or_else(|| PoseError::Network("its landmarks are too few".into()))
}

pub fn read(
    session: &mut Session,
    image: &Picture,
    region: &Region,
) -> Result<Landmarks, PoseError> {
    let rows = sample_crop(image, region, INPUT, 1.0 / 255.0, 0.0);
    said(
        &session::run(session, &session::batch(&rows, INPUT)?)?,
        region,
    )
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

    #[test]
    fn every_landmark_swaps_with_the_one_across_and_middle_ones_stay() {
        for pair in [
            landmark::SHOULDER,
            landmark::ELBOW,
            landmark::WRIST,
            landmark::HIP,
            landmark::KNEE,
            landmark::ANKLE,
            landmark::HEEL,
            landmark::TOE,
            [1, 4],
            [2, 5],
            [3, 6],
            [7, 8],
            [9, 10],
        ] {
            assert_eq!(pair.map(landmark::other_side), [pair[1], pair[0]]);
        }
        assert_eq!(landmark::other_side(landmark::NOSE), landmark::NOSE);
        let twice = |i| landmark::other_side(landmark::other_side(i));
        assert!((0..landmark::COUNT).all(|i| twice(i) == i));
    }

    #[test]
    fn mirroring_twice_changes_nothing_and_once_brings_an_error_to_the_other_side() {
        let mut raw = vec![0.0; ROWS * 5];
        for (i, r) in raw.chunks_exact_mut(5).enumerate() {
            (r[0], r[1]) = (100.0 + i as f64, 50.0 + i as f64);
        }
        let region = Region {
            centre_px: [300.0, 400.0],
            side_px: 256.0,
            roll_rad: 0.0,
        };
        let seen = decode(&raw, &[0.9], &[0.5; 117], &region).expect("long enough");
        let back = seen.mirrored(&region).mirrored(&region);
        assert_eq!(back.keypoints, seen.keypoints);
        assert_eq!((back.world_m, back.next), (seen.world_m.clone(), seen.next));
        let mirrored = seen.mirrored(&region);
        let (left, right) = (seen.keypoints[23], mirrored.keypoints[24]);
        assert!((left.x_px + right.x_px - 600.0).abs() < 1e-9 && left.y_px == right.y_px);
        assert_eq!(mirrored.world_m[0], [-0.5, 0.5, 0.5]);
        let mean = seen.mean(&seen);
        assert_eq!(mean.keypoints, seen.keypoints);
    }
}
