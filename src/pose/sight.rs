//! Where the golfer is in a picture and what was seen of them there, on the way to an observation.

use super::landmarks::Landmarks;
use super::observation::{Person, Region, TorsoReading};
use super::torso;
use crate::config::PoseConfig;

/// Where the golfer was in a frame that was read.
#[derive(Clone, Copy, Debug)]
pub struct Spot {
    pub time_s: f64,
    /// Where the landmark network said to look next.
    pub next: Region,
    /// The upright crop.
    pub crop: Option<Region>,
}

impl Spot {
    /// Where the golfer is between this spot and a later one.
    pub fn between(&self, later: &Self, time_s: f64) -> Self {
        let part = (time_s - self.time_s) / (later.time_s - self.time_s).max(1e-6);
        let part = part.clamp(0.0, 1.0);
        let at = |a: f64, b: f64| a + part * (b - a);
        let nearer = if part < 0.5 { self } else { later };
        let lie = |a: &Region, b: &Region| Region {
            centre_px: [
                at(a.centre_px[0], b.centre_px[0]),
                at(a.centre_px[1], b.centre_px[1]),
            ],
            side_px: at(a.side_px, b.side_px),
            roll_rad: nearer.next.roll_rad,
        };
        let crops = self.crop.zip(later.crop);
        Self {
            time_s,
            next: lie(&self.next, &later.next),
            crop: crops
                .map(|(a, b)| Region {
                    roll_rad: 0.0,
                    ..lie(&a, &b)
                })
                .or(nearer.crop),
        }
    }
}

/// What was seen of the golfer in one picture.
pub struct Sight {
    /// Where they were looked for.
    pub region: Region,
    pub seen: Landmarks,
    /// The upright crop, and what was read of the torso, where one network reads both.
    pub read: Option<(Region, Option<TorsoReading>)>,
}

impl Sight {
    /// The upright crop that the landmarks ask for.
    pub fn upright(&self, config: &PoseConfig) -> Option<Region> {
        torso::upright_region(&self.seen.keypoints, config.torso_crop_scale)
    }

    pub fn person(self) -> Person {
        Person {
            presence: self.seen.presence,
            region: self.region,
            landmarks: self.seen.keypoints,
            world_m: self.seen.world_m,
            torso: self.read.and_then(|(_, torso)| torso),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(time_s: f64, x: f64, crop: Option<f64>) -> Spot {
        let region = |x: f64| Region {
            centre_px: [x, 10.0],
            side_px: 100.0 + x,
            roll_rad: 0.0,
        };
        Spot {
            time_s,
            next: region(x),
            crop: crop.map(region),
        }
    }

    #[test]
    fn between_two_spots_a_golfer_is_on_the_way_from_one_to_the_other() {
        let (a, b) = (spot(1.0, 0.0, Some(8.0)), spot(2.0, 40.0, Some(16.0)));
        let c = a.between(&b, 1.25);
        assert_eq!((c.next.centre_px, c.next.side_px), ([10.0, 10.0], 110.0));
        assert_eq!(c.crop.map(|r| r.centre_px[0]), Some(10.0));
        assert_eq!(a.between(&b, 3.0).next, b.next);
    }

    #[test]
    fn where_one_of_two_spots_has_no_crop_the_nearer_one_tells() {
        let (a, b) = (spot(1.0, 0.0, None), spot(2.0, 40.0, Some(16.0)));
        assert_eq!(a.between(&b, 1.25).crop, None);
        assert_eq!(a.between(&b, 1.75).crop, b.crop);
    }
}
