//! Whether the golfer stands upright in the picture. The torso network reads upright crops: of a
//! golfer on their head it gives numbers that look like numbers.

use super::observation::{Observation, landmark};
use crate::math::stats::median;

/// How the golfer is tilted in the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BodyTilt {
    Upright,
    Sideways,
    UpsideDown,
}

/// From the line from ankles to shoulders, over all frames: within 60° of straight up it is
/// upright. No golfer leans so far, and a picture that is turned wrongly is turned by 90° at least.
pub fn body_tilt(observations: &[Observation]) -> BodyTilt {
    let leans: Vec<f64> = observations
        .iter()
        .filter_map(|o| {
            let points = &o.person.as_ref()?.landmarks;
            let middle = |pair: [usize; 2]| {
                let (a, b) = (points.get(pair[0])?, points.get(pair[1])?);
                Some([(a.x_px + b.x_px) / 2.0, (a.y_px + b.y_px) / 2.0])
            };
            let (foot, top) = (middle(landmark::ANKLE)?, middle(landmark::SHOULDER)?);
            let lean = (top[0] - foot[0]).atan2(foot[1] - top[1]).abs();
            lean.is_finite().then(|| lean.to_degrees())
        })
        .collect();
    match median(&leans) {
        Some(lean) if lean > 120.0 => BodyTilt::UpsideDown,
        Some(lean) if lean > 60.0 => BodyTilt::Sideways,
        _ => BodyTilt::Upright,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pose::{Keypoint, Person};

    fn seen(shoulder: [f64; 2]) -> Vec<Observation> {
        let mut landmarks = vec![Keypoint::default(); landmark::COUNT];
        for i in landmark::SHOULDER {
            (landmarks[i].x_px, landmarks[i].y_px) = (shoulder[0], shoulder[1]);
        }
        vec![Observation {
            person: Some(Person {
                landmarks,
                ..Person::default()
            }),
            ..Observation::default()
        }]
    }

    #[test]
    fn the_way_from_ankles_to_shoulders_tells() {
        assert_eq!(body_tilt(&seen([30.0, -100.0])), BodyTilt::Upright);
        assert_eq!(body_tilt(&seen([100.0, 10.0])), BodyTilt::Sideways);
        assert_eq!(body_tilt(&seen([-100.0, 10.0])), BodyTilt::Sideways);
        assert_eq!(body_tilt(&seen([5.0, 100.0])), BodyTilt::UpsideDown);
        assert_eq!(body_tilt(&[]), BodyTilt::Upright);
    }
}
