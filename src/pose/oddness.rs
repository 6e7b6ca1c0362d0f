//! How unlike the pictures of a clip are to those that the networks learned from, by what the
//! networks themselves show: how unsure they are, whether readings of a crop and of its mirror image
//! contradict each other, whether points jump, whether the two networks see one body, and whether
//! that body keeps its shape.

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};

use super::observation::{Observation, Person, TorsoPoint, TorsoReading, landmark};
use crate::config::OddConfig;
use crate::math::rotation::nearest_rotation;
use crate::math::stats::median;

/// Frames that oddness is told from at least.
const FEWEST: usize = 10;
/// A region's side in body heights: the circle through which it is drawn goes round the body.
const SIDE_HEIGHTS: f64 = 1.45;
/// Points that both networks see.
const SHARED: [(TorsoPoint, usize); 6] = [
    (TorsoPoint::HipL, landmark::HIP[0]),
    (TorsoPoint::HipR, landmark::HIP[1]),
    (TorsoPoint::ShoulderL, landmark::SHOULDER[0]),
    (TorsoPoint::ShoulderR, landmark::SHOULDER[1]),
    (TorsoPoint::KneeL, landmark::KNEE[0]),
    (TorsoPoint::KneeR, landmark::KNEE[1]),
];

/// The oddest thing about a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Oddness {
    /// The measure over its limit: above 1 the pictures are odd.
    pub ratio: f64,
    /// What is odd, for people.
    pub why: String,
}

/// The oddness of what was seen; `None` where too little was.
pub fn oddness(observations: &[Observation], config: &OddConfig) -> Option<Oddness> {
    let read: Vec<&Observation> = observations.iter().filter(|o| !o.repeated).collect();
    let people: Vec<&Person> = read.iter().filter_map(|o| o.person.as_ref()).collect();
    let torsos: Vec<(&Person, &TorsoReading)> = people
        .iter()
        .filter_map(|p| Some((*p, p.torso.as_ref()?)))
        .collect();
    if torsos.len() < FEWEST {
        return None;
    }
    let unsure = unsure_deg(&torsos);
    let contradiction = contradiction_deg(&torsos);
    let told = [
        (
            unsure.map(|v| v / config.unsure_deg),
            format!(
                "the network is unsure of the trunk's turn by {:.0}°, where clips of its kind give {:.0}°",
                unsure.unwrap_or_default(),
                config.usual_unsure_deg
            ),
        ),
        (
            contradiction.map(|v| v / config.contradiction_deg),
            format!(
                "readings of neighbouring pictures contradict each other by {:.0}°",
                contradiction.unwrap_or_default()
            ),
        ),
        (
            jump_heights(&people).map(|v| v / config.jump_heights),
            "the body's points jump from picture to picture".into(),
        ),
        (
            apart_heights(&torsos).map(|v| v / config.apart_heights),
            "the two networks see hips, shoulders and knees in different places".into(),
        ),
        (
            trunk_share(&people).map(|v| v / config.trunk_share),
            "the trunk changes its length".into(),
        ),
        (
            lost_share(&read).map(|v| v / config.lost_share),
            "the golfer was lost from sight again and again".into(),
        ),
    ];
    told.into_iter()
        .filter_map(|(ratio, why)| Some(Oddness { ratio: ratio?, why }))
        .max_by(|a, b| a.ratio.total_cmp(&b.ratio))
}

/// The torso network's own standard deviation: of the worse segment, root mean square over the axes,
/// median over frames.
fn unsure_deg(torsos: &[(&Person, &TorsoReading)]) -> Option<f64> {
    let of = |segment: usize| {
        let each: Vec<f64> = torsos
            .iter()
            .filter_map(|(_, t)| {
                let axes = t.log_sigma.get(segment)?;
                let square = axes.iter().map(|l| (2.0 * l).exp()).sum::<f64>() / 3.0;
                Some(square.sqrt().to_degrees())
            })
            .collect();
        median(&each)
    };
    Some(of(0)?.max(of(1)?))
}

/// How far a reading lies from the mean of its neighbours. From 50 frames a second on neighbours are
/// of the mirror image, below that every reading is the mean of both and this is noise and movement.
fn contradiction_deg(torsos: &[(&Person, &TorsoReading)]) -> Option<f64> {
    let of = |segment: usize| {
        let turns: Vec<Matrix3<f64>> = torsos
            .iter()
            .filter_map(|(_, t)| t.crop_from_segment.get(segment).copied())
            .collect();
        let each: Vec<f64> = turns
            .windows(3)
            .filter_map(|w| {
                let [a, b, c] = w else { return None };
                let middle = nearest_rotation(&(a + c))?;
                let here = Rotation3::from_matrix_unchecked(*b);
                Some(here.angle_to(&middle).to_degrees())
            })
            .collect();
        median(&each)
    };
    Some(of(0)?.max(of(1)?))
}

fn height_px(person: &Person) -> f64 {
    person.region.side_px / SIDE_HEIGHTS
}

fn point(person: &Person, i: usize) -> Option<Vector2<f64>> {
    let k = person.landmarks.get(i)?;
    Some(Vector2::new(k.x_px, k.y_px))
}

/// How far the farthest of the joints lies from the middle of its neighbours in time.
fn jump_heights(people: &[&Person]) -> Option<f64> {
    let joints = [
        landmark::SHOULDER,
        landmark::HIP,
        landmark::KNEE,
        landmark::ANKLE,
    ];
    let each: Vec<f64> = people
        .windows(3)
        .filter_map(|w| {
            let [a, b, c] = w else { return None };
            let off = joints.iter().flatten().filter_map(|i| {
                let bent = point(b, *i)? - (point(a, *i)? + point(c, *i)?) / 2.0;
                Some(bent.norm() / height_px(b))
            });
            off.max_by(f64::total_cmp)
        })
        .collect();
    median(&each)
}

/// How far apart both networks see the same joints.
fn apart_heights(torsos: &[(&Person, &TorsoReading)]) -> Option<f64> {
    let each: Vec<f64> = torsos
        .iter()
        .filter_map(|(person, torso)| {
            let off: Option<f64> = SHARED
                .iter()
                .map(|(here, there)| {
                    let seen = Vector2::from(*torso.points_px.get(*here as usize)?);
                    Some((seen - point(person, *there)?).norm())
                })
                .sum();
            Some(off? / SHARED.len() as f64 / height_px(person))
        })
        .collect();
    median(&each)
}

/// Spread of the trunk's length in space over its mean.
fn trunk_share(people: &[&Person]) -> Option<f64> {
    let lengths: Vec<f64> = people
        .iter()
        .filter_map(|p| {
            let middle = |[l, r]: [usize; 2]| {
                Some((Vector3::from(*p.world_m.get(l)?) + Vector3::from(*p.world_m.get(r)?)) / 2.0)
            };
            Some((middle(landmark::SHOULDER)? - middle(landmark::HIP)?).norm())
        })
        .collect();
    let n = lengths.len() as f64;
    let mean = lengths.iter().sum::<f64>() / n;
    let variance = lengths.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / n;
    (mean > 0.0 && variance.is_finite()).then(|| variance.sqrt() / mean)
}

/// Share of the frames without the golfer between the first and the last that show them.
fn lost_share(read: &[&Observation]) -> Option<f64> {
    let seen = |o: &&Observation| o.person.is_some();
    let first = read.iter().position(seen)?;
    let last = read.iter().rposition(seen)?;
    let between = read.get(first..=last)?;
    let lost = between.iter().filter(|o| o.person.is_none()).count();
    Some(lost as f64 / between.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use crate::pose::{Keypoint, Region};

    /// A body 300 px tall at rest; `turn_deg` and `shift_px` by frame.
    fn seen(
        sigma_deg: f64,
        turn_deg: impl Fn(usize) -> f64,
        shift_px: impl Fn(usize) -> f64,
    ) -> Vec<Observation> {
        (0..40)
            .map(|index| {
                let shift = shift_px(index);
                let place = |i: usize| [400.0 + i as f64 + shift, 300.0 + 2.0 * i as f64];
                let landmarks = (0..landmark::COUNT)
                    .map(|i| Keypoint {
                        x_px: place(i)[0],
                        y_px: place(i)[1],
                        ..Keypoint::default()
                    })
                    .collect();
                let region = Region {
                    centre_px: [420.0, 340.0],
                    side_px: 435.0,
                    roll_rad: 0.0,
                };
                let mut points_px = vec![[0.0; 2]; TorsoPoint::COUNT];
                for (here, there) in SHARED {
                    points_px[here as usize] = place(there);
                }
                let turn = Rotation3::from_euler_angles(0.1, turn_deg(index).to_radians(), 0.0)
                    .into_inner();
                Observation {
                    index,
                    time_s: index as f64 / 60.0,
                    repeated: false,
                    person: Some(Person {
                        presence: 1.0,
                        region,
                        landmarks,
                        world_m: (0..landmark::COUNT)
                            .map(|i| [0.0, 0.03 * i as f64, 0.0])
                            .collect(),
                        torso: Some(TorsoReading {
                            region,
                            crop_from_segment: [turn; 2],
                            log_sigma: [[sigma_deg.to_radians().ln(); 3]; 2],
                            points_px,
                            scale_px: vec![[1.0; 2]; TorsoPoint::COUNT],
                        }),
                    }),
                }
            })
            .collect()
    }

    fn told(observations: &[Observation]) -> Oddness {
        oddness(observations, &Pipeline::default().odd).expect("enough is seen")
    }

    #[test]
    fn a_body_as_the_networks_know_it_is_not_odd() {
        let plain = told(&seen(4.0, |i| i as f64, |_| 0.0));
        assert!(plain.ratio < 0.8, "{plain:?}");
    }

    #[test]
    fn each_kind_of_oddness_is_told_by_its_name() {
        let odd = |observations: &[Observation], word: &str| {
            let found = told(observations);
            assert!(found.ratio > 1.0 && found.why.contains(word), "{found:?}");
        };
        odd(&seen(25.0, |_| 0.0, |_| 0.0), "unsure");
        odd(&seen(4.0, |i| 40.0 * (i % 2) as f64, |_| 0.0), "contradict");
        odd(&seen(4.0, |_| 0.0, |i| 40.0 * (i % 2) as f64), "jump");
        let mut gaps = seen(4.0, |_| 0.0, |_| 0.0);
        for o in gaps.iter_mut().filter(|o| o.index % 3 == 1) {
            o.person = None;
        }
        odd(&gaps, "lost");
        let mut apart = seen(4.0, |_| 0.0, |_| 0.0);
        let mut trunk = apart.clone();
        for o in &mut apart {
            let torso = o.person.as_mut().and_then(|p| p.torso.as_mut());
            for p in &mut torso.expect("read").points_px {
                p[1] += 60.0;
            }
        }
        odd(&apart, "different places");
        for o in &mut trunk {
            let stretch = if o.index % 2 == 0 { 1.0 } else { 2.0 };
            for w in &mut o.person.as_mut().expect("seen").world_m {
                w[1] *= stretch;
            }
        }
        odd(&trunk, "length");
    }

    #[test]
    fn of_too_little_nothing_is_said() {
        let few = seen(25.0, |_| 0.0, |_| 0.0);
        assert_eq!(oddness(&few[..5], &Pipeline::default().odd), None);
        assert_eq!(oddness(&[], &Pipeline::default().odd), None);
    }
}
