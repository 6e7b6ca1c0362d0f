//! One view on real time, as a right-hander's.

use std::path::PathBuf;

use nalgebra::{Matrix3, Vector2, Vector3};

use super::sample::{RotationSample, Seen};
use crate::clip::Strike;
use crate::math::rotation::nearest_rotation;
use crate::pose::{Observation, TorsoPoint, ViewTrack, body_height_px, landmark};
use crate::terms::Role;

/// What one frame holds; left is the lead side.
#[derive(Clone, Debug)]
pub struct Instant {
    /// Index of the frame in the clip.
    pub index: usize,
    /// Seconds of real time since the clip's first frame.
    pub time_s: f64,
    /// The 33 landmarks, pixels, with sigma; `None` where hidden.
    pub landmarks: Vec<Seen>,
    /// The landmark network's own 3D points, metres.
    pub world_m: Vec<Vector3<f64>>,
    /// The torso network's 25 points; ask [`Instant::point`].
    points: Vec<Seen>,
    /// What the torso network read of pelvis and thorax; `None` where it saw none.
    pub rotation: Option<RotationSample>,
}

impl Instant {
    /// A point of the body: of trunk and head the torso network's, which was trained on true joint
    /// centres; of the limbs, the landmark network's, which reads those better.
    pub fn point(&self, p: TorsoPoint) -> Seen {
        use TorsoPoint as P;
        let limb = |i: usize| self.landmarks.get(i).copied().flatten();
        match p {
            P::KneeL => limb(landmark::KNEE[0]),
            P::KneeR => limb(landmark::KNEE[1]),
            P::AnkleL => limb(landmark::ANKLE[0]),
            P::AnkleR => limb(landmark::ANKLE[1]),
            P::ElbowL => limb(landmark::ELBOW[0]),
            P::ElbowR => limb(landmark::ELBOW[1]),
            P::WristL => limb(landmark::WRIST[0]),
            P::WristR => limb(landmark::WRIST[1]),
            P::WristMiddle => {
                let (a, b) = (limb(landmark::WRIST[0])?, limb(landmark::WRIST[1])?);
                Some(((a.0 + b.0) / 2.0, a.1.max(b.1)))
            }
            _ => self.points.get(p as usize).copied().flatten(),
        }
    }
}

/// A view's usable frames.
#[derive(Clone, Debug)]
pub struct ViewSeries {
    /// Where the camera stands.
    pub role: Role,
    /// The clip.
    pub file: PathBuf,
    /// SHA-256 of the clip, hexadecimal.
    pub sha256: String,
    /// When filming began, seconds since 1970, where the file tells.
    pub filmed_unix_s: Option<f64>,
    /// Pixels.
    pub size_px: Vector2<f64>,
    /// Focal length, pixels of the display picture, where the file tells it.
    pub focal_px: Option<f64>,
    /// Playback seconds are real seconds times this.
    pub time_scale: f64,
    /// Frames a second of real time.
    pub fps: f64,
    /// Real time of every frame of the clip, read or not.
    pub frame_times_s: Vec<f64>,
    /// What the networks saw, in order of time.
    pub instants: Vec<Instant>,
    /// Strikes on real time.
    pub strikes: Vec<Strike>,
    /// Picture height of the standing golfer, pixels: head to ankles at rest.
    pub body_px: f64,
    /// Whether the picture was mirrored, for a left-hander.
    pub mirrored: bool,
}

impl ViewSeries {
    /// Puts a track on real time and mirrors it when the golfer is left-handed.
    ///
    /// `landmark_sigma` is a share of the golfer's picture height.
    pub fn new(
        track: &ViewTrack,
        role: Role,
        time_scale: f64,
        mirror: bool,
        landmark_sigma: f64,
    ) -> Self {
        let size = Vector2::new(f64::from(track.info.width), f64::from(track.info.height));
        let people = track.observations.iter().filter_map(|o| o.person.as_ref());
        let body_px = body_height_px(people).unwrap_or(size.y * 0.6);
        let sigma = landmark_sigma * body_px;
        let instants = track
            .observations
            .iter()
            .filter(|o| !o.repeated)
            .filter_map(|o| instant(o, time_scale, mirror, size.x, sigma))
            .collect();
        let strikes = track
            .strikes
            .iter()
            .map(|s| Strike {
                time_s: s.time_s / time_scale,
                sigma_s: s.sigma_s / time_scale,
                ..*s
            })
            .collect();
        // 36 mm is the long side of the frame that "35 mm equivalent" refers to.
        let focal_px = track.info.focal_35mm.map(|mm| mm / 36.0 * size.max());
        Self {
            role,
            file: track.info.file.clone(),
            sha256: track.sha256.clone(),
            filmed_unix_s: track.info.created_unix_s.filter(|s| s.is_finite()),
            size_px: size,
            focal_px: focal_px.filter(|f| f.is_finite() && *f > 0.0),
            time_scale,
            fps: track.info.fps * time_scale,
            frame_times_s: track
                .observations
                .iter()
                .map(|o| o.time_s / time_scale)
                .collect(),
            instants,
            strikes,
            body_px,
            mirrored: mirror,
        }
    }

    /// Middle of both wrists, pixels.
    pub fn hands(&self, i: &Instant) -> Option<Vector2<f64>> {
        let [l, r] = landmark::WRIST;
        match (i.landmarks.get(l)?, i.landmarks.get(r)?) {
            (Some((a, _)), Some((b, _))) => Some((a + b) / 2.0),
            (Some((a, _)), None) | (None, Some((a, _))) => Some(*a),
            _ => None,
        }
    }
}

fn instant(
    o: &Observation,
    time_scale: f64,
    mirror: bool,
    width: f64,
    sigma: f64,
) -> Option<Instant> {
    let person = o.person.as_ref()?;
    let flip = |x: f64| if mirror { width - x } else { x };
    let landmarks = (0..person.landmarks.len().min(landmark::COUNT))
        .map(|i| {
            let k = person
                .landmarks
                .get(if mirror { landmark::other_side(i) } else { i })?;
            // Hidden points are guesses: they count, with a sigma that says so.
            let doubt = 1.0 + 2.0 * (1.0 - k.visibility.clamp(0.0, 1.0));
            let at = Vector2::new(flip(k.x_px), k.y_px);
            (at.iter().all(|v| v.is_finite()) && k.presence > 0.1).then_some((at, sigma * doubt))
        })
        .collect();
    let world_m = (0..person.world_m.len())
        .filter_map(|i| {
            let w = person.world_m.get(if mirror && i < landmark::COUNT {
                landmark::other_side(i)
            } else {
                i
            })?;
            Some(Vector3::new(if mirror { -w[0] } else { w[0] }, w[1], w[2]))
        })
        .collect();
    let torso = person.torso.as_ref();
    let points = torso.map_or_else(Vec::new, |t| {
        (0..TorsoPoint::COUNT.min(t.points_px.len()))
            .map(|i| {
                let j = if mirror { TorsoPoint::swapped(i) } else { i };
                let (p, s) = (t.points_px.get(j)?, t.scale_px.get(j)?);
                // A Laplace scale b has a standard deviation of √2 b.
                let spread = (s[0].max(s[1]) * std::f64::consts::SQRT_2).max(0.5);
                Some((Vector2::new(flip(p[0]), p[1]), spread))
            })
            .collect()
    });
    let time_s = o.time_s / time_scale;
    let rotation = torso.and_then(|t| {
        let f = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, 1.0));
        let turn = |m: &Matrix3<f64>| nearest_rotation(&if mirror { f * m * f } else { *m });
        Some(RotationSample {
            time_s,
            crop_centre_px: Vector2::new(flip(t.region.centre_px[0]), t.region.centre_px[1]),
            crop_from_segment: [
                turn(&t.crop_from_segment[0])?,
                turn(&t.crop_from_segment[1])?,
            ],
            sigma: t.log_sigma.map(|s| s.map(|l| l.clamp(-6.0, 2.0).exp())),
        })
    });
    Some(Instant {
        index: o.index,
        time_s,
        landmarks,
        world_m,
        points,
        rotation,
    })
}
