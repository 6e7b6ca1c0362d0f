//! Who of several people swings: the one whose hands move fastest.

use std::path::Path;

use ort::session::Session;

use super::detector::{self, Detection};
use super::error::PoseError;
use super::landmarks;
use super::observation::Region;
use crate::clip::{FrameReader, Picture};
use crate::config::{ClipConfig, PoseConfig};
use crate::progress::Cancel;

/// Most people who are followed.
const MOST_PEOPLE: usize = 4;
/// Looks at the start of a clip without anybody, after which the choice is left to the search.
const EMPTY_LOOKS: usize = 20;

/// People in a frame who are large enough to be the golfer, most likely first: biggest and most
/// central.
pub fn likely(found: Vec<Detection>, image: &Picture, config: &PoseConfig) -> Vec<Region> {
    let largest = found.iter().map(|d| d.region.side_px).fold(0.0, f64::max);
    let (w, h) = (f64::from(image.width()), f64::from(image.height()));
    let rank = |r: &Region| {
        let off = ((r.centre_px[0] - w / 2.0) / w).hypot((r.centre_px[1] - h / 2.0) / h);
        r.side_px * (1.0 - off.min(1.0))
    };
    let mut likely: Vec<Region> = found.into_iter().map(|d| d.region).collect();
    likely.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    // The first stays even where a bigger one at the edge outgrows it.
    let near = |(i, r): &(usize, Region)| *i == 0 || r.side_px >= config.several_share * largest;
    let kept = likely.into_iter().enumerate().filter(near);
    kept.map(|(_, r)| r).collect()
}

/// Whom the choice fell on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chosen {
    /// Where they are when first seen.
    pub region: Region,
    pub people: usize,
}

/// One person on the way through the clip.
struct Candidate {
    first: Region,
    region: Option<Region>,
    hands: Option<[f64; 2]>,
    /// Hands' steps from look to look, golfer heights.
    steps: Vec<f64>,
}

impl Candidate {
    /// How far the hands move at their fastest: the mean of the three longest steps, so that one
    /// slip of the network does not make a golfer.
    fn speed(mut self) -> f64 {
        self.steps.sort_by(|a, b| b.total_cmp(a));
        self.steps.iter().take(3).sum::<f64>() / 3.0
    }
}

/// Follows everyone in `part` of the clip whom the first frame shows. `None` where there is but one.
pub fn who_swings(
    path: &Path,
    (clip, pose): (&ClipConfig, &PoseConfig),
    (from_s, to_s): (f64, f64),
    (finder, limbs): (&mut Session, &mut Session),
    cancel: &Cancel,
) -> Result<Option<Chosen>, PoseError> {
    let mut people: Vec<Candidate> = Vec::new();
    let mut next_s = from_s;
    let mut looks = 0;
    for frame in FrameReader::open(path, clip)? {
        // What cannot be decoded is said when the clip is read.
        let Ok(frame) = frame else { break };
        if cancel.requested() {
            return Err(PoseError::Stopped);
        }
        if frame.time_s > to_s {
            break;
        }
        if frame.time_s < next_s {
            continue;
        }
        next_s = frame.time_s + 0.999 * pose.choose_every_s;
        looks += 1;
        if people.is_empty() {
            let found = detector::detect(finder, &frame.image, pose)?;
            match likely(found, &frame.image, pose) {
                none if none.is_empty() && looks < EMPTY_LOOKS => continue,
                few if few.len() < 2 => return Ok(None),
                several => {
                    people.extend(several.into_iter().take(MOST_PEOPLE).map(|r| Candidate {
                        first: r,
                        region: Some(r),
                        hands: None,
                        steps: Vec::new(),
                    }))
                }
            }
        }
        for one in &mut people {
            let Some(region) = one.region else { continue };
            let seen = landmarks::read(limbs, &frame.image, &region)?;
            one.region = seen.next_region(&frame.image, pose);
            let hands = one.region.and_then(|_| landmarks::hands(&seen.keypoints));
            if let (Some(was), Some(now)) = (one.hands, hands) {
                one.steps.push((now[0] - was[0]).hypot(now[1] - was[1]));
            }
            one.hands = hands;
        }
    }
    let count = people.len();
    let moved: Vec<(Region, f64)> = people.into_iter().map(|c| (c.first, c.speed())).collect();
    tracing::debug!(
        ?moved,
        "people and how far their hands move in a tenth of a second"
    );
    let fastest = moved.iter().map(|m| m.1).fold(0.0, f64::max);
    // Where several swing alike, the likeliest of them.
    Ok(moved
        .into_iter()
        .find(|m| m.1 >= pose.choose_share * fastest)
        .map(|(region, _)| Chosen {
            region,
            people: count,
        }))
}
