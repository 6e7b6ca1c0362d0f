//! Whether two networks of one file contradict each other over a clip. The second has read rendered golfers
//! best, the first real people; on pictures where they agree the mean of both is better than either, and
//! where they don't the clip is unlike what the second one knows (docs/torso-network.md has the figures).

use super::flips::FlipAugmentation;
use crate::config::PoseConfig;
use crate::math::stats::median;

/// Fewest crops that a contradiction is told from.
const FEWEST: usize = 4;

/// What crops that both networks read say of them.
pub(super) struct Contradiction {
    every: usize,
    limit_rad: f64,
    since: usize,
    apart_rad: Vec<f64>,
}

impl Contradiction {
    pub fn new(config: &PoseConfig) -> Self {
        Self {
            every: config.contradiction_every,
            limit_rad: config.networks_apart_deg.to_radians(),
            since: 0,
            apart_rad: Vec::new(),
        }
    }

    /// What to read of the next crop: both images now and then, though they take turns.
    pub fn images(&mut self, wanted: FlipAugmentation) -> FlipAugmentation {
        self.since += 1;
        if wanted == FlipAugmentation::Both || self.since >= self.every {
            self.since = 0;
            return FlipAugmentation::Both;
        }
        wanted
    }

    /// How far both lay apart on crops that were read, rad.
    pub fn take(&mut self, apart_rad: impl Iterator<Item = f64>) {
        self.apart_rad.extend(apart_rad);
    }

    /// Whether they lie far apart on most crops.
    pub fn is_far(&self) -> bool {
        self.apart_rad.len() >= FEWEST
            && median(&self.apart_rad).is_some_and(|m| m > self.limit_rad)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn watched(settings: &str) -> Contradiction {
        let pipeline = Pipeline::from_text(&format!("[pose]\n{settings}"));
        Contradiction::new(&pipeline.expect("valid").pose)
    }

    #[test]
    fn every_so_often_a_crop_is_read_in_both_images() {
        use FlipAugmentation::{Both, Mirrored, Plain};
        let mut c = watched("contradiction_every = 3");
        let wanted = [Both, Plain, Mirrored, Plain, Mirrored, Plain, Both, Plain];
        let read = wanted.map(|w| c.images(w));
        assert_eq!(
            read,
            [Both, Plain, Mirrored, Both, Mirrored, Plain, Both, Plain]
        );
    }

    #[test]
    fn networks_contradict_each_other_where_most_crops_say_so_and_there_are_enough() {
        let mut c = watched("networks_apart_deg = 12");
        c.take([20f64, 20.0, 20.0].map(f64::to_radians).into_iter());
        assert!(!c.is_far(), "three crops are too few");
        c.take([20f64, 5.0, 5.0].map(f64::to_radians).into_iter());
        assert!(c.is_far());
        c.take([5f64, 5.0, 5.0].map(f64::to_radians).into_iter());
        assert!(!c.is_far());
    }
}
