//! People who do not swing a club: walking, squatting, reaching, twisting to warm up, teeing a ball
//! up, putting, carrying a bag. A simple body whose parts are placed by what it does, with sizes,
//! speeds and ways drawn at random.

use nalgebra::{Rotation3, Vector3};
use quarterturn::math::rotation::SegmentAngles;
use quarterturn::pose::ViewTrack;
use quarterturn::terms::Role;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::synthetic::{Noise, Phone, Pose, record};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    Walk,
    Squat,
    Reach,
    Twist,
    TeeUp,
    Putt,
    Carry,
    Stand,
}

pub const ALL: [Doing; 8] = [
    Doing::Walk,
    Doing::Squat,
    Doing::Reach,
    Doing::Twist,
    Doing::TeeUp,
    Doing::Putt,
    Doing::Carry,
    Doing::Stand,
];

/// What a moment of it is made of; angles in degrees, lengths in metres on a body of 1.75 m.
#[derive(Clone, Copy, Debug)]
struct Posture {
    /// Which way the body faces, about Z: 0 as at address.
    facing: f64,
    hips: [f64; 3],
    pelvis_turn: f64,
    thorax_turn: f64,
    forward: f64,
    /// Hands in the frame of the thorax's heading, from the middle of the shoulders: to the lead
    /// side, to the front, up.
    hands: [[f64; 3]; 2],
    /// Steps of the feet ahead of the hips, along where the body faces.
    stride: f64,
}

impl Default for Posture {
    fn default() -> Self {
        Self {
            facing: 0.0,
            hips: [0.0, 0.0, 0.95],
            pelvis_turn: 0.0,
            thorax_turn: 0.0,
            forward: 5.0,
            hands: [[0.25, 0.05, -0.62], [-0.25, 0.05, -0.62]],
            stride: 0.0,
        }
    }
}

fn body(p: &Posture) -> Pose {
    let about =
        |turn: f64| Rotation3::from_axis_angle(&Vector3::z_axis(), (p.facing - turn).to_radians());
    let segment = |turn: f64| {
        SegmentAngles {
            turn: (turn - p.facing).to_radians(),
            side: 0.0,
            forward: p.forward.to_radians(),
        }
        .compose()
    };
    let (pelvis, thorax) = (segment(p.pelvis_turn), segment(p.thorax_turn));
    let hips = Vector3::from(p.hips);
    let chest = hips + pelvis * Vector3::new(0.0, 0.0, 0.1) + thorax * Vector3::new(0.0, 0.0, 0.38);
    let side = [1.0, -1.0];
    let hip = side.map(|s| hips + pelvis * Vector3::new(0.09 * s, 0.0, 0.0));
    let shoulder = side.map(|s| chest + thorax * Vector3::new(0.18 * s, 0.0, 0.0));
    let front = about(0.0) * -Vector3::y();
    let ankle: [Vector3<f64>; 2] = std::array::from_fn(|k| {
        let out = about(0.0) * Vector3::new(0.1 * side[k], 0.0, 0.0);
        let mut a = hips + out + front * (p.stride * side[k]);
        a.z = 0.08;
        a
    });
    let knee: [Vector3<f64>; 2] =
        std::array::from_fn(|k| (hip[k] + ankle[k]) / 2.0 + front * (0.9 - p.hips[2]).max(0.03));
    let heading = about(p.thorax_turn);
    let wrist: [Vector3<f64>; 2] = std::array::from_fn(|k| {
        let [x, y, z] = p.hands[k];
        chest + heading * Vector3::new(x, -y, z)
    });
    let elbow: [Vector3<f64>; 2] = std::array::from_fn(|k| {
        (shoulder[k] + wrist[k]) / 2.0 + heading * Vector3::new(0.06 * side[k], 0.05, -0.05)
    });
    Pose {
        pelvis,
        thorax,
        hip,
        knee,
        ankle,
        shoulder,
        elbow,
        wrist,
    }
}

fn mix(a: [f64; 3], b: [f64; 3], f: f64) -> [f64; 3] {
    std::array::from_fn(|k| a[k] + f * (b[k] - a[k]))
}

/// Rises from 0 to 1 between two times, smoothly.
fn ramp(t: f64, from: f64, to: f64) -> f64 {
    let x = ((t - from) / (to - from)).clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// A take of somebody doing so, filmed from anywhere.
pub fn take(doing: Doing, seed: u64) -> ViewTrack {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut u = |a: f64, b: f64| rng.random_range(a..b);
    let (pace, size, lag) = (u(0.6, 1.6), u(0.7, 1.3), u(0.0, 1.0));
    let (wide, high, turned) = (u(0.0, 1.0), u(0.0, 1.0), u(-180.0, 180.0));
    let end_s = u(3.0, 7.0);
    let wave = |t: f64| (std::f64::consts::TAU * (t / pace + lag)).sin();
    // To and fro with a stop at either end.
    let to_and_fro = |t: f64| (1.6 * wave(0.5 * t)).clamp(-1.0, 1.0);
    let together = |x: f64, y: f64, z: f64| [[x + 0.03, y, z], [x - 0.03, y, z + 0.06]];
    let at = |t: f64| -> Pose {
        let mut p = Posture::default();
        match doing {
            Doing::Walk | Doing::Carry => {
                let w = wave(t);
                p.facing = turned;
                let ahead = (3.0 / end_s).min(1.2 / pace) * (t - end_s / 2.0);
                let (s, c) = turned.to_radians().sin_cos();
                p.hips = [ahead * s, -ahead * c, 0.95 + 0.02 * w * w];
                p.stride = 0.3 * size * w;
                p.pelvis_turn = 6.0 * size * w;
                p.thorax_turn = -6.0 * size * w;
                let swing = 0.25 * size * w;
                p.hands = [[0.25, 0.05 - swing, -0.6], [-0.25, 0.05 + swing, -0.6]];
                if doing == Doing::Carry {
                    p.hands[1] = [-0.2, 0.15, -0.15];
                    p.forward = 12.0;
                }
            }
            Doing::Squat => {
                let d = 0.5 + 0.5 * to_and_fro(t);
                p.hips[2] = 0.95 - 0.4 * size.min(1.1) * d;
                p.forward = 5.0 + 35.0 * d;
                // Arms ahead, hands together or apart.
                let ahead = mix([0.25, 0.1, -0.6], [0.03 + 0.2 * wide, 0.55, -0.1], d);
                p.hands = [ahead, [-ahead[0], ahead[1], ahead[2]]];
                p.thorax_turn = 4.0 * wave(t);
            }
            Doing::Reach => {
                let d = 0.5 + 0.5 * to_and_fro(t);
                let up = [0.1 + 0.3 * wide, 0.3 * (1.0 - high), 0.2 + 0.35 * high];
                p.hands[0] = mix([0.25, 0.05, -0.6], up, d);
                if wide < 0.5 {
                    p.hands[1] = mix([-0.25, 0.05, -0.6], [-0.05, up[1], up[2]], d);
                }
                p.thorax_turn = 15.0 * size * (wide - 0.5) * d;
            }
            Doing::Twist => {
                let w = to_and_fro(t);
                p.thorax_turn = 60.0 * size * w;
                p.pelvis_turn = 25.0 * size * w;
                // A club across the shoulders, hands on the hips, or arms crossed on the chest.
                p.hands = if wide < 0.4 {
                    [[0.4, 0.0, 0.03], [-0.4, 0.0, 0.03]]
                } else if wide < 0.7 {
                    [[0.28, 0.05, -0.42], [-0.28, 0.05, -0.42]]
                } else {
                    together(0.0, 0.25, -0.15 - 0.1 * high)
                };
            }
            Doing::TeeUp => {
                let d = ramp(t, 0.8, 0.8 + 1.2 * pace) - ramp(t, 2.0 + pace, 2.0 + 2.2 * pace);
                p.forward = 5.0 + 75.0 * d;
                p.hips[2] = 0.95 - 0.25 * d;
                p.hips[1] = 0.15 * d;
                p.stride = 0.2 * d;
                let ground = [-0.05, 0.25, -0.65];
                p.hands[1] = mix([-0.25, 0.05, -0.6], ground, d);
                p.hands[0] = mix([0.25, 0.05, -0.6], [0.2, 0.2, -0.4], d);
                p.thorax_turn = -12.0 * size * d;
            }
            Doing::Putt => {
                let a = 0.8 + 0.5 * lag;
                let back =
                    ramp(t, a, a + 0.7 * pace) * (1.0 - ramp(t, a + 0.75 * pace, a + 1.05 * pace));
                let on =
                    ramp(t, a + 0.95 * pace, a + 1.5 * pace) * (1.0 - ramp(t, a + 2.5, a + 3.2));
                let w = (back - 0.9 * on) * size;
                p.forward = 38.0;
                p.hips[1] = 0.12;
                p.thorax_turn = 7.0 * w;
                p.pelvis_turn = 1.0 * w;
                p.hands = together(-0.11 * w, 0.12, -0.58 + 0.02 * w.abs());
            }
            Doing::Stand => {
                p.forward = 30.0;
                p.thorax_turn = 3.0 * wave(0.4 * t);
                let w = 0.5 + 0.5 * to_and_fro(1.5 * t);
                p.hands = together(-0.2 * high * w, 0.2, -0.6 + 0.1 * high * w);
            }
        }
        body(&p)
    };
    let role = if u(0.0, 1.0) < 0.5 {
        Role::FaceOn
    } else {
        Role::DownTheLine
    };
    let mut phone = Phone::square(role).round_the_golfer(u(-35.0, 35.0));
    phone.fps = [24.0, 30.0, 60.0][(u(0.0, 3.0)) as usize % 3];
    let noise = Noise {
        seed,
        rotation_deg: u(2.0, 8.0),
        point_px: u(2.0, 7.0),
        alike_s: 0.1,
    };
    let mut track = record(&at, end_s, None, &phone, &noise);
    outliers(&mut track, u(0.0, 0.03), seed);
    track
}

/// Some frames read wrongly: a wrist on the other hand or elsewhere, a torso turned about.
pub fn outliers(track: &mut ViewTrack, share: f64, seed: u64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
    for o in &mut track.observations {
        if rng.random_range(0.0..1.0) >= share {
            continue;
        }
        let Some(p) = &mut o.person else { continue };
        if rng.random_range(0.0..1.0) < 0.5 {
            let i = quarterturn::pose::landmark::WRIST[rng.random_range(0..2usize)];
            p.landmarks[i].x_px += rng.random_range(-120.0..120.0);
            p.landmarks[i].y_px += rng.random_range(-120.0..120.0);
        } else if let Some(t) = &mut p.torso {
            let about = Rotation3::from_axis_angle(&Vector3::y_axis(), rng.random_range(1.0..3.1));
            for r in &mut t.crop_from_segment {
                *r = about.matrix() * *r;
            }
        }
    }
}
