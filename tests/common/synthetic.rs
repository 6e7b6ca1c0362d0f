//! What the networks would see of a golfer whose rotations and joints are known: tracks of one or
//! two views, made by projecting a rendered swing's truth through cameras that are chosen here.

#![allow(dead_code, reason = "each test file uses its own part")]

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};
use quarterturn::camera::{Attitude, Camera, camera_from_crop};
use quarterturn::clip::{ClipInfo, Strike};
use quarterturn::math::rotation::SegmentAngles;
use quarterturn::pose::{Keypoint, Observation, Person, Region, TorsoReading, ViewTrack, landmark};
use quarterturn::terms::Role;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use serde_json::Value;

/// A swing's truth, sampled 240 times a second.
#[derive(Clone)]
pub struct Swing(Value);

impl Swing {
    pub fn parse(truth_json: &str) -> Self {
        Self(serde_json::from_str(truth_json).expect("a truth file"))
    }

    pub fn event_s(&self, key: &str) -> f64 {
        self.0["events"][key].as_f64().expect("an event")
    }

    fn samples(&self) -> &Vec<Value> {
        self.0["samples"].as_array().expect("samples")
    }

    pub fn end_s(&self) -> f64 {
        self.samples()
            .last()
            .and_then(|s| s["t"].as_f64())
            .expect("a time")
    }

    /// The two samples round `t` and the share of the second.
    fn around(&self, t: f64) -> (&Value, &Value, f64) {
        let s = self.samples();
        let time = |v: &Value| v["t"].as_f64().expect("a time");
        let i = s.partition_point(|v| time(v) <= t).clamp(1, s.len() - 1);
        let (a, b) = (&s[i - 1], &s[i]);
        (a, b, ((t - time(a)) / (time(b) - time(a))).clamp(0.0, 1.0))
    }

    /// An angle, degrees.
    pub fn degrees(&self, field: &str, t: f64) -> f64 {
        let (a, b, f) = self.around(t);
        let get = |v: &Value| v[field].as_f64().expect("an angle");
        get(a) + f * (get(b) - get(a))
    }

    pub fn since_address(&self, field: &str, event: &str) -> f64 {
        self.degrees(field, self.event_s(event)) - self.degrees(field, self.event_s("addr"))
    }

    fn rotation(&self, segment: &str, t: f64) -> Rotation3<f64> {
        let radians = |part: &str| self.degrees(&format!("{segment}_{part}"), t).to_radians();
        SegmentAngles {
            turn: radians("turn"),
            side: radians("side"),
            forward: radians("fwd"),
        }
        .compose()
    }

    fn joint(&self, name: &str, t: f64) -> Vector3<f64> {
        let (a, b, f) = self.around(t);
        let get = |v: &Value| {
            Vector3::from_iterator((0..3).map(|k| v["joints"][name][k].as_f64().expect("metres")))
        };
        get(a) + (get(b) - get(a)) * f
    }
}

/// How one phone stood and what its networks err by.
#[derive(Clone, Copy, Debug)]
pub struct Phone {
    pub role: Role,
    pub attitude: Attitude,
    pub position_m: Vector3<f64>,
    pub focal_px: f64,
    pub fps: f64,
    /// When the clip starts on the truth's clock, seconds.
    pub starts_s: f64,
}

impl Phone {
    /// A phone square in its role, upright, at chest height, 4.1 m away.
    pub fn square(role: Role) -> Self {
        let position_m = match role {
            Role::FaceOn => Vector3::new(0.0, -4.1, 1.05),
            Role::DownTheLine => Vector3::new(-4.1, -0.5, 1.1),
        };
        Self {
            role,
            attitude: Attitude::default(),
            position_m,
            focal_px: 1130.0,
            fps: 60.0,
            starts_s: 0.0,
        }
    }

    /// Turned by `degrees` about the golfer, still looking at them.
    pub fn round_the_golfer(mut self, degrees: f64) -> Self {
        let turn = Rotation3::from_axis_angle(&Vector3::z_axis(), degrees.to_radians());
        self.position_m = turn * self.position_m;
        self.attitude.azimuth += degrees.to_radians();
        self
    }

    pub fn camera(&self) -> Camera {
        Camera {
            focal_px: self.focal_px,
            centre_px: Vector2::new(SIZE.0 / 2.0, SIZE.1 / 2.0),
            world_from_camera: self.attitude.world_from_camera(self.role),
            position_m: self.position_m,
        }
    }
}

pub const SIZE: (f64, f64) = (540.0, 960.0);
/// The ball, metres: where the strike is heard from.
pub const BALL_M: [f64; 3] = [0.0, -0.8, 0.0];

/// Errors of the networks.
#[derive(Clone, Copy, Debug)]
pub struct Noise {
    pub seed: u64,
    /// Standard deviation of a rotation about each axis of the crop camera, degrees.
    pub rotation_deg: f64,
    /// Of a point, pixels.
    pub point_px: f64,
    /// Time over which errors are alike, seconds; 0 for every frame its own.
    pub alike_s: f64,
}

/// An error of one view's turns that lasts the whole swing, both segments alike.
#[derive(Clone, Copy, Debug, Default)]
pub struct Lasting {
    pub offset_deg: f64,
    /// Degrees a degree of the segment's own turn from address.
    pub slope: f64,
    /// Where the segment's own turn is within 40° of that at the top, fading from there.
    pub top_deg: f64,
}

/// Errors of a frame that resemble those of the frame before (a first-order process).
struct Errors {
    rng: ChaCha8Rng,
    keep: f64,
    state: Vec<f64>,
}

impl Errors {
    fn new(noise: &Noise, fps: f64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(noise.seed);
        rng.set_stream(stream);
        let keep = if noise.alike_s > 0.0 {
            (-1.0 / (fps * noise.alike_s)).exp()
        } else {
            0.0
        };
        let state = (0..6 + 2 * (landmark::COUNT + 25))
            .map(|_| rng.sample(StandardNormal))
            .collect();
        Self { rng, keep, state }
    }

    fn step(&mut self) {
        let fresh = (1.0 - self.keep * self.keep).sqrt();
        for s in &mut self.state {
            let n: f64 = self.rng.sample(StandardNormal);
            *s = self.keep * *s + fresh * n;
        }
    }

    fn pixel(&self, i: usize) -> Vector2<f64> {
        Vector2::new(self.state[6 + 2 * i], self.state[7 + 2 * i])
    }
}

/// The joints that the networks name, in the world.
struct Figure {
    landmarks: Vec<Vector3<f64>>,
    points: Vec<Vector3<f64>>,
    segments: [Rotation3<f64>; 2],
}

/// A body at one moment: joints lead (a right-hander's left) then trail, metres in the world.
#[derive(Clone, Debug)]
pub struct Pose {
    pub pelvis: Rotation3<f64>,
    pub thorax: Rotation3<f64>,
    pub hip: [Vector3<f64>; 2],
    pub knee: [Vector3<f64>; 2],
    pub ankle: [Vector3<f64>; 2],
    pub shoulder: [Vector3<f64>; 2],
    pub elbow: [Vector3<f64>; 2],
    pub wrist: [Vector3<f64>; 2],
}

/// A swing's pose at `t`.
pub fn pose(swing: &Swing, t: f64) -> Pose {
    let j = |name: &str| swing.joint(name, t);
    let pair = |name: &str| [j(&format!("{name}_lead")), j(&format!("{name}_trail"))];
    let [hip, knee, ankle] = ["hip", "knee", "ankle"].map(pair);
    let [shoulder, elbow, wrist] = ["shoulder", "elbow", "wrist"].map(pair);
    Pose {
        pelvis: swing.rotation("pelvis", t),
        thorax: swing.rotation("thorax", t),
        hip,
        knee,
        ankle,
        shoulder,
        elbow,
        wrist,
    }
}

fn figure(pose: &Pose) -> Figure {
    let Pose {
        pelvis,
        thorax,
        hip,
        knee,
        ankle,
        shoulder,
        elbow,
        wrist,
    } = pose.clone();
    let middle = |p: &[Vector3<f64>; 2]| (p[0] + p[1]) / 2.0;
    let neck = middle(&shoulder) + thorax * Vector3::new(0.0, 0.02, 0.06);
    // The head stays where it was at address, about: over the ball.
    let head = neck + Vector3::new(0.0, -0.08, 0.16);
    let toe = |k: usize, out: f64| ankle[k] + Vector3::new(out, -0.14, -0.06);
    let toes = [toe(0, 0.04), toe(1, -0.04)];
    let mut landmarks = vec![head; landmark::COUNT];
    landmarks[landmark::NOSE] = head + Vector3::new(0.0, -0.09, -0.03);
    for (at, joints) in [
        (landmark::SHOULDER, &shoulder),
        (landmark::ELBOW, &elbow),
        (landmark::WRIST, &wrist),
        (landmark::HIP, &hip),
        (landmark::KNEE, &knee),
        (landmark::ANKLE, &ankle),
        (landmark::HEEL, &ankle),
        (landmark::TOE, &toes),
    ] {
        for k in 0..2 {
            landmarks[at[k]] = joints[k];
        }
    }
    for k in 17..23 {
        landmarks[k] = wrist[(k + 1) % 2];
    }
    let on =
        |r: &Rotation3<f64>, c: Vector3<f64>, x: f64, y: f64, z: f64| c + r * Vector3::new(x, y, z);
    let (pc, tc) = (middle(&hip), middle(&shoulder));
    let points = vec![
        hip[0],
        hip[1],
        knee[0],
        knee[1],
        ankle[0],
        ankle[1],
        shoulder[0],
        shoulder[1],
        elbow[0],
        elbow[1],
        wrist[0],
        wrist[1],
        on(&pelvis, pc, 0.12, -0.05, 0.08),
        on(&pelvis, pc, -0.12, -0.05, 0.08),
        on(&pelvis, pc, 0.05, 0.11, 0.09),
        on(&pelvis, pc, -0.05, 0.11, 0.09),
        on(&thorax, tc, 0.0, 0.07, 0.05),
        on(&thorax, tc, 0.0, -0.07, -0.03),
        on(&thorax, tc, 0.0, -0.10, -0.20),
        on(&thorax, tc, 0.0, 0.11, -0.18),
        shoulder[0] + Vector3::new(0.0, 0.0, 0.03),
        shoulder[1] + Vector3::new(0.0, 0.0, 0.03),
        neck,
        head,
        middle(&wrist),
    ];
    Figure {
        landmarks,
        points,
        segments: [pelvis, thorax],
    }
}

/// A track of `swing` by `phone`, heard as well as seen.
pub fn track(swing: &Swing, phone: &Phone, noise: &Noise) -> ViewTrack {
    let at = |t: f64| pose(swing, t);
    record(&at, swing.end_s(), Some(swing.event_s("imp")), phone, noise)
}

/// A track of `swing` by `phone` with an error that lasts.
pub fn track_erring(swing: &Swing, phone: &Phone, noise: &Noise, lasting: &Lasting) -> ViewTrack {
    let at = |t: f64| {
        let mut pose = pose(swing, t);
        let each = [
            ("pelvis_turn", &mut pose.pelvis),
            ("thorax_turn", &mut pose.thorax),
        ];
        for (field, rotation) in each {
            let turned = swing.degrees(field, t) - swing.degrees(field, swing.event_s("addr"));
            let below = swing.since_address(field, "top") - turned;
            let top = lasting.top_deg * (1.0 - below.abs() / 40.0).max(0.0);
            let wrong = lasting.offset_deg + lasting.slope * turned + top;
            // Turn is positive the other way round than the world's Z.
            let wrong = Rotation3::from_axis_angle(&Vector3::z_axis(), -wrong.to_radians());
            *rotation = wrong * *rotation;
        }
        pose
    };
    record(&at, swing.end_s(), Some(swing.event_s("imp")), phone, noise)
}

/// A track by `phone` of a body that moves as `at` says until `end_s`, with a strike at the ball
/// where one is heard.
pub fn record(
    at: &dyn Fn(f64) -> Pose,
    end_s: f64,
    strike_s: Option<f64>,
    phone: &Phone,
    noise: &Noise,
) -> ViewTrack {
    let camera = phone.camera();
    let stream = u64::from(phone.role == Role::DownTheLine);
    let mut errors = Errors::new(noise, phone.fps, stream);
    let frames = ((end_s - phone.starts_s) * phone.fps) as usize;
    let observations = (0..frames)
        .map(|index| {
            errors.step();
            let time_s = index as f64 / phone.fps;
            Observation {
                index,
                time_s,
                person: Some(person(
                    &figure(&at(phone.starts_s + time_s)),
                    &camera,
                    noise,
                    &errors,
                )),
                repeated: false,
            }
        })
        .collect();
    let way_m = (camera.position_m - Vector3::from(BALL_M)).norm();
    ViewTrack {
        info: ClipInfo {
            file: format!("synthetic_{}.mp4", phone.role.key()).into(),
            width: SIZE.0 as u32,
            height: SIZE.1 as u32,
            fps: phone.fps,
            duration_s: Some(frames as f64 / phone.fps),
            has_sound: true,
            ..ClipInfo::default()
        },
        sha256: phone.role.key().into(),
        observations,
        strikes: strike_s
            .map(|s| Strike {
                time_s: s - phone.starts_s + way_m / 343.2,
                sigma_s: 0.0005,
                prominence_db: 30.0,
            })
            .into_iter()
            .collect(),
        people_seen: 1,
        warnings: Vec::new(),
    }
}

fn person(figure: &Figure, camera: &Camera, noise: &Noise, errors: &Errors) -> Person {
    let seen = |p: &Vector3<f64>, error: usize| {
        camera.project(p).expect("in front of the camera") + errors.pixel(error) * noise.point_px
    };
    let landmarks = figure
        .landmarks
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let at = seen(p, i);
            Keypoint {
                x_px: at.x,
                y_px: at.y,
                visibility: 1.0,
                presence: 1.0,
            }
        })
        .collect();
    let points: Vec<Vector2<f64>> = figure
        .points
        .iter()
        .enumerate()
        .map(|(i, p)| seen(p, landmark::COUNT + i))
        .collect();
    let centre = (points[0] + points[1]) / 2.0;
    let region = Region {
        centre_px: [centre.x, centre.y],
        side_px: 2.5 * ((points[4] - centre).norm()).max((points[23] - centre).norm()),
        roll_rad: 0.0,
    };
    let world_from_crop =
        camera.world_from_camera * camera_from_crop(&camera.ray_in_camera(&centre));
    let read = |k: usize| -> Matrix3<f64> {
        let e = Vector3::new(
            errors.state[3 * k],
            errors.state[3 * k + 1],
            errors.state[3 * k + 2],
        );
        let wrong = Rotation3::from_scaled_axis(e * noise.rotation_deg.to_radians());
        (wrong * world_from_crop.inverse() * figure.segments[k]).into_inner()
    };
    let hips = (figure.points[0] + figure.points[1]) / 2.0;
    // A network that says it is exact would be believed more than the cameras' priors can bear.
    let log_sigma = noise.rotation_deg.max(1.0).to_radians().ln();
    Person {
        presence: 1.0,
        region,
        landmarks,
        world_m: figure
            .landmarks
            .iter()
            .map(|p| (camera.world_from_camera.inverse() * (p - hips)).into())
            .collect(),
        torso: Some(TorsoReading {
            region,
            crop_from_segment: [read(0), read(1)],
            log_sigma: [[log_sigma; 3]; 2],
            points_px: points.iter().map(|p| [p.x, p.y]).collect(),
            scale_px: vec![[noise.point_px.max(1.0); 2]; points.len()],
        }),
    }
}

/// The same view in a mirror: what a phone would have seen of a left-hander.
pub fn mirrored(track: &ViewTrack) -> ViewTrack {
    let mut track = track.clone();
    let flip = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, 1.0));
    let pair = |i: usize| match i {
        0 => 0,
        1..=3 => i + 3,
        4..=6 => i - 3,
        _ if i % 2 == 1 => i + 1,
        _ => i - 1,
    };
    for person in track
        .observations
        .iter_mut()
        .filter_map(|o| o.person.as_mut())
    {
        let (landmarks, world) = (person.landmarks.clone(), person.world_m.clone());
        for (i, k) in person.landmarks.iter_mut().enumerate() {
            *k = landmarks[pair(i)];
            k.x_px = SIZE.0 - k.x_px;
            let w = world[pair(i)];
            person.world_m[i] = [-w[0], w[1], w[2]];
        }
        person.region.centre_px[0] = SIZE.0 - person.region.centre_px[0];
        let Some(torso) = &mut person.torso else {
            continue;
        };
        torso.region = person.region;
        for r in &mut torso.crop_from_segment {
            *r = flip * *r * flip;
        }
        let points = torso.points_px.clone();
        for (i, p) in torso.points_px.iter_mut().enumerate() {
            let from = points[if matches!(i, 16..=19 | 22..=24) {
                i
            } else {
                i ^ 1
            }];
            *p = [SIZE.0 - from[0], from[1]];
        }
    }
    track
}
