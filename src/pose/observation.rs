//! What the networks saw in each frame of one view.

use nalgebra::Matrix3;
use serde::{Deserialize, Serialize};

use crate::clip::{ClipInfo, Frame, Strike};
use crate::math::stats::median;
use crate::warning::Warning;

/// Indices of the 33 landmarks that this project uses. "Left" is the person's own left.
pub mod landmark {
    /// Tip of the nose.
    pub const NOSE: usize = 0;
    /// The first so many are the nose, eyes, ears and mouth.
    pub const FACE: usize = 11;
    /// Left and right shoulder.
    pub const SHOULDER: [usize; 2] = [11, 12];
    /// Left and right elbow.
    pub const ELBOW: [usize; 2] = [13, 14];
    /// Left and right wrist.
    pub const WRIST: [usize; 2] = [15, 16];
    /// Left and right hip.
    pub const HIP: [usize; 2] = [23, 24];
    /// Left and right knee.
    pub const KNEE: [usize; 2] = [25, 26];
    /// Left and right ankle.
    pub const ANKLE: [usize; 2] = [27, 28];
    /// Left and right heel.
    pub const HEEL: [usize; 2] = [29, 30];
    /// Left and right tip of the foot.
    pub const TOE: [usize; 2] = [31, 32];
    /// How many there are.
    pub const COUNT: usize = 33;

    /// The landmark of the body's other side: eyes and mouth in threes and twos, then pairs.
    pub fn other_side(i: usize) -> usize {
        match i {
            1..=3 => i + 3,
            4..=6 => i - 3,
            // From the ears on the left one, of an odd number, comes first.
            7.. if i % 2 == 1 => i + 1,
            7.. => i - 1,
            _ => i,
        }
    }
}

/// The torso network's points, in its output order. L and R are the person's own. Elbows, wrists,
/// knees and ankles are better known from the landmark network.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub enum TorsoPoint {
    /// Left hip joint's centre.
    HipL = 0,
    /// Right hip joint's centre.
    HipR = 1,
    /// Left knee joint's centre.
    KneeL = 2,
    /// Right knee joint's centre.
    KneeR = 3,
    /// Left ankle joint's centre.
    AnkleL = 4,
    /// Right ankle joint's centre.
    AnkleR = 5,
    /// Left shoulder joint's centre.
    ShoulderL = 6,
    /// Right shoulder joint's centre.
    ShoulderR = 7,
    /// Left elbow joint's centre.
    ElbowL = 8,
    /// Right elbow joint's centre.
    ElbowR = 9,
    /// Left wrist joint's centre.
    WristL = 10,
    /// Right wrist joint's centre.
    WristR = 11,
    /// Left anterior superior iliac spine.
    AsisL = 12,
    /// Right anterior superior iliac spine.
    AsisR = 13,
    /// Left posterior superior iliac spine.
    PsisL = 14,
    /// Right posterior superior iliac spine.
    PsisR = 15,
    /// Seventh cervical vertebra, on the skin.
    C7 = 16,
    /// Notch above the breastbone.
    SuprasternalNotch = 17,
    /// Lower end of the breastbone.
    Xiphoid = 18,
    /// Eighth thoracic vertebra, on the skin.
    T8 = 19,
    /// Left tip of the shoulder blade.
    AcromionL = 20,
    /// Right tip of the shoulder blade.
    AcromionR = 21,
    /// Base of the neck.
    Neck = 22,
    /// Middle of the head.
    Head = 23,
    /// Midway between the wrists.
    WristMiddle = 24,
}

impl TorsoPoint {
    /// How many there are.
    pub const COUNT: usize = 25;

    /// All, in the network's order.
    pub const ALL: [Self; Self::COUNT] = [
        Self::HipL,
        Self::HipR,
        Self::KneeL,
        Self::KneeR,
        Self::AnkleL,
        Self::AnkleR,
        Self::ShoulderL,
        Self::ShoulderR,
        Self::ElbowL,
        Self::ElbowR,
        Self::WristL,
        Self::WristR,
        Self::AsisL,
        Self::AsisR,
        Self::PsisL,
        Self::PsisR,
        Self::C7,
        Self::SuprasternalNotch,
        Self::Xiphoid,
        Self::T8,
        Self::AcromionL,
        Self::AcromionR,
        Self::Neck,
        Self::Head,
        Self::WristMiddle,
    ];

    /// Index of the point on the person's other side; middle points are their own.
    pub fn swapped(i: usize) -> usize {
        match i {
            16..=19 | 22..=24 => i,
            _ => i ^ 1,
        }
    }
}

/// One of the 33 landmarks, in display pixels of the frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Keypoint {
    /// From the left edge, pixels.
    pub x_px: f64,
    /// From the upper edge, pixels.
    pub y_px: f64,
    /// Probability that the point is in the picture and not hidden.
    pub visibility: f64,
    /// Probability that the point is inside the crop.
    pub presence: f64,
}

/// A square region of the frame that a network looks at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Region {
    /// Its middle, display pixels.
    pub centre_px: [f64; 2],
    /// Its side, display pixels.
    pub side_px: f64,
    /// Clockwise turn of the crop against the frame, radians; 0 for the torso network.
    pub roll_rad: f64,
}

/// A region's side in radii of the circle round the body: a quarter more than its diameter, as the
/// landmark network was trained.
const SIDE_PER_RADIUS: f64 = 2.5;
/// Hips of one person, found twice, lie within this share of the smaller region's side: a third of a
/// body's height. Networks differ by a tenth; two people hip to hip are as far apart.
const SAME_PERSON_SIDES: f64 = 0.25;
/// Smallest side that can show a person, pixels.
const LEAST_SIDE_PX: f64 = 16.0;
/// Largest side, in long sides of the picture: beyond it the network has lost its way.
const MOST_LONG_SIDES: f64 = 8.0;

impl Region {
    /// Round the circle that has its centre at the hips and goes through `on_circle`, a point that
    /// stands straight above the hips in the crop.
    pub fn around(hips: [f64; 2], on_circle: [f64; 2]) -> Self {
        let (dx, dy) = (on_circle[0] - hips[0], on_circle[1] - hips[1]);
        Self {
            centre_px: hips,
            side_px: SIDE_PER_RADIUS * dx.hypot(dy),
            roll_rad: dx.atan2(-dy),
        }
    }

    /// The place in the frame of a point `u` to the right of the region's centre and `v` below it, as
    /// the crop lies; pixels.
    pub fn to_frame(&self, u: f64, v: f64) -> [f64; 2] {
        let (sin, cos) = self.roll_rad.sin_cos();
        let [x, y] = self.centre_px;
        [x + u * cos - v * sin, y + u * sin + v * cos]
    }

    /// How far the centres of two regions lie apart, pixels.
    pub fn away(&self, other: &Self) -> f64 {
        let ([x, y], [u, v]) = (self.centre_px, other.centre_px);
        (x - u).hypot(y - v)
    }

    /// Whether both regions hold one person: near each other and of about one size.
    pub fn holds_whom(&self, other: &Self) -> bool {
        self.away(other) < SAME_PERSON_SIDES * self.side_px.min(other.side_px)
            && (0.5..2.0).contains(&(self.side_px / other.side_px))
    }

    /// Whether a person in a picture of a width and a height, pixels, can be as large as that.
    pub fn is_plausible(&self, size: [u32; 2]) -> bool {
        let long_side = f64::from(size[0].max(size[1]));
        self.side_px > LEAST_SIDE_PX && self.side_px < MOST_LONG_SIDES * long_side
    }
}

/// The torso network's reading of one frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TorsoReading {
    /// The upright crop that was read.
    pub region: Region,
    /// Pelvis, thorax: columns are the segment's x (person's left), y (back), z (up) in a camera
    /// turned to look through the crop's centre (x right, y down, z into the scene).
    pub crop_from_segment: [Matrix3<f64>; 2],
    /// Log of the standard deviation, radians, of the rotation vector about the crop camera's
    /// x, y and z axes (the error is R_read · R_trueᵀ).
    pub log_sigma: [[f64; 3]; 2],
    /// The 25 points in display pixels of the frame, in the order of [`TorsoPoint`].
    pub points_px: Vec<[f64; 2]>,
    /// Their Laplace scale, display pixels.
    pub scale_px: Vec<[f64; 2]>,
}

/// The golfer in one frame.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Person {
    /// Probability that the region holds a person, by the landmark network.
    pub presence: f64,
    /// The turned crop that the landmark network read.
    pub region: Region,
    /// 33 landmarks, see [`landmark`].
    pub landmarks: Vec<Keypoint>,
    /// The landmark network's own 3D points, metres, x right, y down, z away from the camera,
    /// origin at the middle of the hips. Used for
    /// knees of a lone view and to look for swings, never for a turn.
    pub world_m: Vec<[f64; 3]>,
    /// What the torso network read; `None` where it was not run.
    pub torso: Option<TorsoReading>,
}

/// Picture height of somebody from the nose to the ankles: the median over the frames, pixels.
pub fn body_height_px<'a>(seen: impl Iterator<Item = &'a Person>) -> Option<f64> {
    let heights: Vec<f64> = seen
        .filter_map(|p| {
            let y = |i: usize| Some(p.landmarks.get(i)?.y_px);
            let [l, r] = landmark::ANKLE;
            Some(0.5 * (y(l)? + y(r)?) - y(landmark::NOSE)?)
        })
        .filter(|h| *h > 1.0)
        .collect();
    median(&heights)
}

/// One frame of one view.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// Number of the frame in the clip.
    pub index: usize,
    /// Seconds of playback since the clip's first frame.
    pub time_s: f64,
    /// `None` where nobody was found, a tracking gap, and where the frame was not read.
    pub person: Option<Person>,
    /// True where the frame was not read, because nothing moved or it would add nothing.
    pub repeated: bool,
}

impl Observation {
    /// A frame in which nobody was seen so far.
    pub(super) fn nobody(frame: &Frame) -> Self {
        Self {
            index: frame.index,
            time_s: frame.time_s,
            ..Self::default()
        }
    }
}

/// Everything the networks saw in one clip.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ViewTrack {
    /// What the file says of itself.
    pub info: ClipInfo,
    /// Hexadecimal SHA-256 of the file.
    pub sha256: String,
    /// One for each frame that was looked at, in order.
    pub observations: Vec<Observation>,
    /// Candidate strikes in the clip's sound, loudest first; empty without sound.
    pub strikes: Vec<Strike>,
    /// Most people seen at once.
    pub people_seen: usize,
    /// Doubts about the clip.
    pub warnings: Vec<Warning>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn upright_people_have_no_roll_and_leaning_right_is_clockwise() {
        let upright = Region::around([100.0, 300.0], [100.0, 100.0]);
        assert!(upright.roll_rad.abs() < 1e-12);
        assert!((upright.side_px - 500.0).abs() < 1e-9);
        assert!(Region::around([100.0, 300.0], [200.0, 100.0]).roll_rad > 0.0);
    }

    #[test]
    fn two_people_hip_to_hip_are_two_and_one_seen_twice_is_one() {
        let of = |x: f64, side_px: f64| Region {
            centre_px: [x, 700.0],
            side_px,
            ..Region::default()
        };
        let golfer = of(366.0, 578.0);
        assert!(golfer.holds_whom(&of(400.0, 620.0)));
        // Somebody nearer to the camera, whose shoulder is before the golfer's.
        assert!(!golfer.holds_whom(&of(607.0, 824.0)));
        assert!(!golfer.holds_whom(&of(366.0, 280.0)));
    }

    #[test]
    fn only_regions_that_a_person_can_fill_are_plausible() {
        let plausible = |side_px: f64| {
            Region {
                side_px,
                ..Region::default()
            }
            .is_plausible([20, 40])
        };
        assert!(plausible(17.0) && plausible(319.0));
        for side_px in [16.0, 320.0, f64::NAN, f64::INFINITY] {
            assert!(!plausible(side_px), "{side_px}");
        }
    }

    #[test]
    fn torso_points_stand_in_order_and_swapping_them_changes_sides() {
        for (i, p) in TorsoPoint::ALL.into_iter().enumerate() {
            assert_eq!(p as usize, i);
            assert_eq!(TorsoPoint::swapped(TorsoPoint::swapped(i)), i);
        }
        for (here, there) in [
            (TorsoPoint::AsisL, TorsoPoint::AsisR),
            (TorsoPoint::AcromionL, TorsoPoint::AcromionR),
            (TorsoPoint::C7, TorsoPoint::C7),
        ] {
            assert_eq!(TorsoPoint::swapped(here as usize), there as usize);
        }
    }
}
