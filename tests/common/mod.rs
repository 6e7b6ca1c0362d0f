//! Results built from the truth of the sample clips, for tests of what is shown. The angles are
//! exact; the intervals of ±4° are made up here and only here.
#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use nalgebra::{Matrix3, Rotation3, Vector3};
use quarterturn::body::{Overlay, OverlayFrame, SegmentPose};
use quarterturn::math::rotation::SegmentAngles;
use quarterturn::pose::TorsoPoint;
use quarterturn::result::{
    Clock, Curves, Estimate, Moment, Quantity, SCHEMA, SwingResult, Tempo, TypedIn, ViewEntry,
};
use quarterturn::terms::{Angle, Event, Handedness, Measure, Role, Unit};
use quarterturn::warning::Warning;
use serde_json::Value;

const HALF_WIDTH_DEG: f64 = 4.0;

pub fn samples() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-clips")
}

/// The truth of one sample swing.
pub struct Truth {
    value: Value,
    times: Vec<f64>,
}

impl Truth {
    pub fn load(name: &str) -> Self {
        let path = samples().join(format!("{name}_truth.json"));
        let text = std::fs::read_to_string(path).expect("the sample's truth");
        let value: Value = serde_json::from_str(&text).expect("JSON");
        let times = value["samples"]
            .as_array()
            .expect("samples")
            .iter()
            .map(|s| number(&s["t"]))
            .collect();
        Self { value, times }
    }

    fn sample(&self, t: f64) -> &Value {
        let i = self
            .times
            .partition_point(|s| *s < t)
            .min(self.times.len() - 1);
        &self.value["samples"][i]
    }

    fn event(&self, event: Event) -> f64 {
        let key = match event {
            Event::Address => "addr",
            Event::Top => "top",
            Event::Impact => "imp",
            Event::Finish => "fin",
        };
        number(&self.value["events"][key])
    }

    fn angle(&self, measure: Measure, t: f64) -> f64 {
        let spec = measure.spec();
        let of = |angle: Angle| {
            let key = match angle {
                Angle::PelvisTurn => "pelvis_turn",
                Angle::PelvisSide => "pelvis_side",
                Angle::PelvisForward => "pelvis_fwd",
                Angle::ThoraxTurn => "thorax_turn",
                Angle::ThoraxSide => "thorax_side",
                Angle::ThoraxForward => "thorax_fwd",
                Angle::LeadKnee => "knee_lead_flexion",
                Angle::TrailKnee => "knee_trail_flexion",
                Angle::ShoulderLine => "shoulder_line_turn",
            };
            let at = |t: f64| number(&self.sample(t)[key]);
            let zero = if spec.from_address {
                at(self.event(Event::Address))
            } else {
                0.0
            };
            at(t) - zero
        };
        of(spec.angle) - spec.less.map_or(0.0, of)
    }

    fn estimate(&self, measure: Measure, t: f64) -> Estimate {
        let v = self.angle(measure, t);
        Estimate::new(v, v - HALF_WIDTH_DEG, v + HALF_WIDTH_DEG)
    }

    /// A result on the clock of the first view's frames.
    pub fn swing(&self, name: &str) -> (SwingResult, Curves, Vec<Overlay>) {
        let views = &self.value["views"];
        let zero = number(&views["face_on"]["starts_at_s"]);
        let moment = |t: f64| Moment {
            s: Some(t),
            low: Some(t - 0.02),
            high: Some(t + 0.02),
        };
        let mut curves = Curves {
            time_s: (0..150).map(|i| f64::from(i) / 60.0).collect(),
            ..Curves::default()
        };
        for m in Measure::ALL {
            let points = curves
                .time_s
                .iter()
                .map(|t| self.estimate(m, t + zero))
                .collect();
            curves.series.insert(m, points);
        }
        let seconds = |v: f64| Quantity {
            value: Some(v),
            low: Some(v - 0.03),
            high: Some(v + 0.03),
            unit: Unit::Seconds,
            why: None,
        };
        let back = self.event(Event::Top) - self.event(Event::Address);
        let down = self.event(Event::Impact) - self.event(Event::Top);
        let overlays: Vec<Overlay> = Role::ALL
            .into_iter()
            .map(|r| self.overlay(r, zero))
            .collect();
        let swing = SwingResult {
            schema: SCHEMA.into(),
            tool_version: env!("CARGO_PKG_VERSION").into(),
            models: std::collections::BTreeMap::new(),
            ran_on: None,
            name: name.into(),
            handedness: Handedness::Right,
            handedness_from: "given".into(),
            clock: "seconds from the first frame of the first view".into(),
            real_time: Clock::default(),
            angle_order: "turn, then side bend, then forward bend".into(),
            views: Role::ALL
                .into_iter()
                .map(|role| ViewEntry {
                    role,
                    file: views[role.key()]["file"].as_str().expect("a file").into(),
                    sha256: "0".repeat(64),
                    filmed_unix_s: None,
                    fps: number(&views[role.key()]["fps"]),
                    offset_s: number(&views[role.key()]["starts_at_s"]) - zero,
                    offset_half_width_s: None,
                    time_scale: 1.0,
                    width: 540,
                    height: 960,
                    coverage: 1.0,
                    camera: None,
                })
                .collect(),
            events: Event::ALL
                .into_iter()
                .map(|e| (e, moment(self.event(e) - zero)))
                .collect(),
            at: Event::ALL
                .into_iter()
                .map(|e| {
                    (
                        e,
                        Measure::ALL
                            .into_iter()
                            .map(|m| (m, self.estimate(m, self.event(e))))
                            .collect(),
                    )
                })
                .collect(),
            between: Vec::new(),
            sway: BTreeMap::new(),
            tempo: Some(Tempo {
                backswing: seconds(back),
                downswing: seconds(down),
                ratio: Quantity {
                    value: Some(back / down),
                    low: Some(back / down - 0.4),
                    high: Some(back / down + 0.5),
                    unit: Unit::BackToDown,
                    why: None,
                },
            }),
            turn_speed: None,
            peak_separation: None,
            peak_separation_at: None,
            pelvis_top: None,
            thorax_top: None,
            typed_in: TypedIn {
                player: Some("Sam Sample".into()),
                club: Some("7 iron".into()),
                ..TypedIn::default()
            },
            calibration: None,
            warnings: vec![Warning::new(
                "test_fixture",
                "These numbers come from a test, not from a measurement.",
            )],
        };
        (swing, curves, overlays)
    }

    fn overlay(&self, role: Role, zero: f64) -> Overlay {
        let view = &self.value["views"][role.key()];
        let camera = Camera::read(view);
        let starts = number(&view["starts_at_s"]);
        let frames = (0..140)
            .map(|i| {
                let clip_time_s = i as f64 / number(&view["fps"]);
                let t = clip_time_s + starts;
                let s = self.sample(t);
                let joint = |k: &str| vector(&s["joints"][k]);
                let middle =
                    |k: &str| (joint(&format!("{k}_lead")) + joint(&format!("{k}_trail"))) / 2.0;
                let (hip, shoulder) = (middle("hip"), middle("shoulder"));
                let chest = shoulder + (hip - shoulder) * 0.3;
                let mut points = vec![camera.project(hip); TorsoPoint::COUNT];
                let mut set =
                    |p: TorsoPoint, v: Vector3<f64>| points[p as usize] = camera.project(v);
                use TorsoPoint as P;
                let pairs = [
                    (P::HipL, P::HipR, "hip"),
                    (P::KneeL, P::KneeR, "knee"),
                    (P::AnkleL, P::AnkleR, "ankle"),
                    (P::ShoulderL, P::ShoulderR, "shoulder"),
                    (P::ElbowL, P::ElbowR, "elbow"),
                    (P::WristL, P::WristR, "wrist"),
                ];
                for (l, r, k) in pairs {
                    set(l, joint(&format!("{k}_lead")));
                    set(r, joint(&format!("{k}_trail")));
                }
                let up = (shoulder - hip).normalize();
                set(P::Neck, shoulder + up * 0.06);
                set(P::Head, shoulder + up * 0.24);
                OverlayFrame {
                    index: i,
                    clip_time_s,
                    time_s: t - zero,
                    segments: [
                        Some(camera.segment(hip, self.rotation("pelvis", s))),
                        Some(camera.segment(chest, self.rotation("thorax", s))),
                    ],
                    points_px: points.into_iter().map(Some).collect(),
                    face_px: Vec::new(),
                }
            })
            .collect();
        Overlay {
            role,
            file: samples().join(view["file"].as_str().expect("a file")),
            frames,
        }
    }

    fn rotation(&self, segment: &str, s: &Value) -> Rotation3<f64> {
        let get = |k: &str| number(&s[format!("{segment}_{k}")]).to_radians();
        SegmentAngles {
            turn: get("turn"),
            side: get("side"),
            forward: get("fwd"),
        }
        .compose()
    }
}

struct Camera {
    at: Vector3<f64>,
    camera_from_world: Matrix3<f64>,
    focal_px: f64,
    middle: [f64; 2],
}

impl Camera {
    fn read(view: &Value) -> Self {
        let m = &view["camera_to_world"];
        // The renderer's camera has y up and z backwards.
        let flip = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, -1.0));
        let to_world = Matrix3::from_fn(|r, c| number(&m[r][c])) * flip;
        Self {
            at: vector(&view["camera_position_m"]),
            camera_from_world: to_world.transpose(),
            focal_px: number(&view["focal_px"]),
            middle: [number(&view["width"]) / 2.0, number(&view["height"]) / 2.0],
        }
    }

    fn project(&self, p: Vector3<f64>) -> [f64; 2] {
        let c = self.camera_from_world * (p - self.at);
        [
            self.middle[0] + self.focal_px * c.x / c.z,
            self.middle[1] + self.focal_px * c.y / c.z,
        ]
    }

    fn segment(&self, centre: Vector3<f64>, world_from_segment: Rotation3<f64>) -> SegmentPose {
        let c = self.camera_from_world * (centre - self.at);
        let turn = Rotation3::rotation_between(&c, &Vector3::z()).unwrap_or_default();
        SegmentPose {
            centre_px: self.project(centre),
            px_per_m: self.focal_px / c.z,
            depth_m: c.norm(),
            camera_from_segment: turn.matrix()
                * self.camera_from_world
                * world_from_segment.matrix(),
        }
    }
}

fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

fn vector(v: &Value) -> Vector3<f64> {
    Vector3::new(number(&v[0]), number(&v[1]), number(&v[2]))
}

/// Writes a whole result folder with its report.
pub fn write_all(folder: &Path, name: &str) {
    let (swing, curves, overlays) = Truth::load(name).swing(name);
    write_parts(folder, &swing, &curves, &overlays);
}

pub fn write_parts(folder: &Path, swing: &SwingResult, curves: &Curves, overlays: &[Overlay]) {
    use quarterturn::config::Pipeline;
    let pipeline = Pipeline::default();
    quarterturn::result::write_result(folder, swing, curves).expect("writes");
    use quarterturn::report::{Films, draw_pictures, write_films, write_page};
    let drawing = quarterturn::report::Drawing {
        folder,
        swing,
        curves,
        overlays,
        pipeline: &pipeline,
        progress: &quarterturn::progress::Silent,
        cancel: &quarterturn::progress::Cancel::default(),
    };
    let references = quarterturn::report::References::load(None).expect("built in");
    let mut pictures = draw_pictures(&drawing).expect("pictures");
    write_films(&drawing, &mut pictures).expect("videos");
    write_page(&drawing, &references, &pictures, Films::There).expect("a page");
}
