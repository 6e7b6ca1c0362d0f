//! Who of several people swings: the one whose hands move fastest.

use std::path::Path;

use super::detector::Detection;
use super::error::PoseError;
use super::landmarks;
use super::observation::{Observation, Person, Region};
use super::search::{Effort, Finder};
use crate::clip::{Frame, FrameReader, Picture};
use crate::config::{ClipConfig, PoseConfig};
use crate::progress::Cancel;

/// Most people who are followed.
const MOST_PEOPLE: usize = 6;
/// Looks at the start of a clip without anybody, after which the choice is left to the search.
const EMPTY_LOOKS: usize = 20;
/// One look in so many goes through tiles.
const TILED_LOOKS: usize = 5;
/// Looks after which somebody who went out of sight is given up.
const LOST_LOOKS: usize = 5;
/// One look in so many asks the detector whether somebody is still there: the landmark network
/// follows things as readily as people.
const CHECKED_LOOKS: usize = 4;

/// People in a frame who may be the golfer, most likely first: biggest and most central of those
/// that the detector is sure of.
fn ranked(mut found: Vec<Detection>, image: &Picture, config: &PoseConfig) -> Vec<Region> {
    let (w, h) = (f64::from(image.width()), f64::from(image.height()));
    let rank = |d: &Detection| {
        let r = &d.region;
        let off = ((r.centre_px[0] - w / 2.0) / w).hypot((r.centre_px[1] - h / 2.0) / h);
        let sure = d.score >= config.detector_min_score;
        let score = if sure { 1.0 } else { d.score };
        score * r.side_px * (1.0 - off.min(1.0))
    };
    found.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    found.into_iter().map(|d| d.region).collect()
}

/// The same, less those far behind somebody large.
pub fn likely(found: Vec<Detection>, image: &Picture, config: &PoseConfig) -> Vec<Region> {
    let ranked = ranked(found, image, config);
    let largest = ranked.iter().map(|r| r.side_px).fold(0.0, f64::max);
    let short = f64::from(image.width().min(image.height()));
    let all_small = largest < config.search_small_share * short;
    // The first stays even where a bigger one at the edge outgrows it.
    let near = |(i, r): &(usize, Region)| {
        all_small || *i == 0 || r.side_px >= config.several_share * largest
    };
    let kept = ranked.into_iter().enumerate().filter(near);
    kept.map(|(_, r)| r).collect()
}

/// The one nearest to where the golfer was last seen, where they are known; else the likeliest.
pub fn nearest(likely: Vec<Region>, golfer: Option<Region>) -> Option<Region> {
    let Some(golfer) = golfer else {
        return likely.first().copied();
    };
    let far = |r: &Region| r.away(&golfer);
    likely.into_iter().min_by(|a, b| far(a).total_cmp(&far(b)))
}

/// Whom the choice fell on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chosen {
    /// Where they are when first seen.
    pub region: Region,
    /// When that is, seconds of playback.
    pub since_s: f64,
    pub people: usize,
}

impl Chosen {
    fn alone(region: Region, since_s: f64) -> Self {
        Self {
            region,
            since_s,
            people: 1,
        }
    }
}

/// Everyone who was followed, who swings most likely first.
pub struct People {
    pub order: Vec<Looked>,
    /// Nobody else would have been followed: there were as many as can be.
    pub full: bool,
}

impl People {
    fn none() -> Self {
        Self {
            order: Vec::new(),
            full: false,
        }
    }

    fn alone(chosen: Chosen) -> Self {
        Self {
            order: vec![Looked {
                chosen,
                looks: Vec::new(),
            }],
            full: false,
        }
    }
}

/// Somebody who was looked at now and then.
pub struct Looked {
    pub chosen: Chosen,
    /// What was seen of them at each look; empty of somebody who was alone.
    pub looks: Vec<Observation>,
}

/// One person on the way through the clip.
struct Candidate {
    first: Region,
    since_s: f64,
    last: Region,
    /// Looks since they were last seen.
    lost: usize,
    /// The hands at each look, golfer heights from the hips.
    hands: Vec<Option<[f64; 2]>>,
    /// What was seen of them.
    looks: Vec<Observation>,
    /// The detector's scores when it was asked.
    scores: Vec<f64>,
}

impl Candidate {
    fn new(region: Region, since_s: f64) -> Self {
        Self {
            first: region,
            since_s,
            last: region,
            lost: 0,
            hands: Vec::new(),
            looks: Vec::new(),
            scores: Vec::new(),
        }
    }

    /// The detector's mean score; nought where it was never asked.
    fn score(&self) -> f64 {
        self.scores.iter().sum::<f64>() / self.scores.len().max(1) as f64
    }

    fn follow(
        &mut self,
        finder: &mut Finder<'_>,
        frame: &Frame,
        config: &PoseConfig,
    ) -> Result<(), PoseError> {
        let image = &frame.image;
        let region = match self.lost {
            0 => Some(self.last),
            few if few <= LOST_LOOKS => finder.near(image, &self.last)?,
            _ => return Ok(()),
        };
        let Some(region) = region else {
            self.lost += 1;
            self.hands.push(None);
            return Ok(());
        };
        let seen = finder.read(image, &region)?;
        let next = seen.next_region(image, config);
        self.hands
            .push(next.and_then(|_| landmarks::hands(&seen.keypoints)));
        self.looks.push(Observation {
            index: frame.index,
            time_s: frame.time_s,
            person: next.map(|_| Person {
                presence: seen.presence,
                region,
                landmarks: seen.keypoints,
                world_m: seen.world_m,
                torso: None,
            }),
            repeated: false,
        });
        match next {
            Some(next) => (self.last, self.lost) = (next, 0),
            None => self.lost += 1,
        }
        if self.hands.len() % CHECKED_LOOKS == 1 {
            self.scores.push(finder.score_there(image, &self.last)?);
        }
        Ok(())
    }

    /// How far the hands move from look to look at their fastest: the mean of the three longest steps
    /// of a path without single slips of the network.
    fn speed(&self) -> f64 {
        let path: Vec<[f64; 2]> = self
            .hands
            .windows(3)
            .filter_map(|w| match w {
                [Some(a), Some(b), Some(c)] => {
                    Some([middle(a[0], b[0], c[0]), middle(a[1], b[1], c[1])])
                }
                _ => None,
            })
            .collect();
        let mut steps: Vec<f64> = path
            .iter()
            .zip(path.iter().skip(1))
            .map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]))
            .collect();
        steps.sort_by(|a, b| b.total_cmp(a));
        steps.iter().take(3).sum::<f64>() / 3.0
    }
}

/// The middle one of three numbers.
fn middle(a: f64, b: f64, c: f64) -> f64 {
    a.min(b).max(a.max(b).min(c))
}

/// Which people are looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Among {
    /// Those whom the first picture with anybody shows, less those far behind somebody large.
    First,
    /// Those too, and those who come in later. Beside whom is known already they are looked for by
    /// movement and in tiles.
    All(Region),
}

/// Follows everyone in a part of the clip and puts who swings most likely first; somebody who is alone
/// is chosen at once. Nobody where nobody is seen.
pub fn who_swings(
    path: &Path,
    (clip, pose): (&ClipConfig, &PoseConfig),
    (from_s, to_s): (f64, f64),
    among: Among,
    finder: &mut Finder<'_>,
    cancel: &Cancel,
) -> Result<People, PoseError> {
    let mut people: Vec<Candidate> = Vec::new();
    let mut next_s = from_s;
    let mut round_s = from_s;
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
        let newcomers = among != Among::First && frame.time_s >= round_s;
        if people.is_empty() || newcomers {
            round_s = frame.time_s + pose.look_round_s;
            let effort = if people.is_empty() && looks % TILED_LOOKS == 1 {
                Effort::Thorough
            } else {
                Effort::Quick
            };
            // Beside somebody large, whoever comes later is looked for by movement.
            let known = match among {
                Among::First => None,
                Among::All(known) => Some(people.first().map_or(known, |p| p.last)),
            };
            let seen = finder.people(&frame.image, effort, known.as_ref())?;
            let found = match among {
                Among::First => likely(seen, &frame.image, pose),
                Among::All(_) => ranked(seen, &frame.image, pose),
            };
            if among == Among::First {
                match found.as_slice() {
                    [] if looks < EMPTY_LOOKS => continue,
                    [] => return Ok(People::none()),
                    [one] => return Ok(People::alone(Chosen::alone(*one, frame.time_s))),
                    _ => {}
                }
            }
            for region in found {
                let known = people.iter().any(|p| p.last.holds_whom(&region));
                if !known && people.len() < MOST_PEOPLE {
                    people.push(Candidate::new(region, frame.time_s));
                }
            }
        }
        for one in &mut people {
            one.follow(finder, &frame, pose)?;
        }
    }
    tracing::debug!(
        moved = ?people.iter().map(|p| (p.first, p.since_s, p.speed(), p.score())).collect::<Vec<_>>(),
        "people and how far their hands move from look to look"
    );
    let full = people.len() >= MOST_PEOPLE;
    let best = people.iter().map(Candidate::score).fold(0.0, f64::max);
    people.retain(|p| p.score() >= pose.choose_score_share * best);
    let speeds: Vec<f64> = people.iter().map(Candidate::speed).collect();
    let count = people.len();
    let order = in_order(&speeds, pose.choose_share)
        .into_iter()
        .filter_map(|k| {
            let p = people.get_mut(k)?;
            Some(Looked {
                chosen: Chosen {
                    region: p.first,
                    since_s: p.since_s,
                    people: count,
                },
                looks: std::mem::take(&mut p.looks),
            })
        })
        .collect();
    Ok(People { order, full })
}

/// Who swings most likely by how fast each one's hands move: where several move about as fast as the
/// fastest, the first of them; then the others, the fastest first.
fn in_order(speeds: &[f64], share: f64) -> Vec<usize> {
    let fastest = speeds.iter().copied().fold(0.0, f64::max);
    let first = speeds.iter().position(|s| *s >= share * fastest);
    let mut rest: Vec<(usize, f64)> = speeds.iter().copied().enumerate().collect();
    rest.retain(|(k, _)| Some(*k) != first);
    rest.sort_by(|a, b| b.1.total_cmp(&a.1));
    first
        .into_iter()
        .chain(rest.into_iter().map(|(k, _)| k))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moving(hands: &[Option<f64>]) -> f64 {
        let mut one = Candidate::new(Region::default(), 0.0);
        one.hands = hands.iter().map(|x| x.map(|x| [x, 0.0])).collect();
        one.speed()
    }

    #[test]
    fn one_slip_of_the_network_makes_no_golfer_and_a_swing_does() {
        let still = Some(0.2);
        let slip = moving(&[still, still, still, Some(0.9), still, still, still]);
        let swing = moving(&[
            still,
            still,
            Some(0.1),
            Some(-0.2),
            Some(-0.6),
            Some(-0.7),
            still,
        ]);
        assert!(slip < 1e-9, "{slip}");
        assert!(swing > 0.2, "{swing}");
    }

    #[test]
    fn the_likeliest_of_those_who_move_alike_comes_first_and_then_who_moves_most() {
        assert_eq!(in_order(&[0.1, 0.8, 0.9, 0.3], 0.67), [1, 2, 3, 0]);
        assert_eq!(in_order(&[0.0, 0.0], 0.67), [0, 1]);
        assert!(in_order(&[], 0.67).is_empty());
    }

    #[test]
    fn moments_out_of_sight_count_for_nothing() {
        assert_eq!(moving(&[Some(0.0), None, Some(1.0), None, Some(0.0)]), 0.0);
        assert_eq!(moving(&[]), 0.0);
    }
}
