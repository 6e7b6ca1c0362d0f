//! Measured swings and sensor recordings made from the rendered truth of sample-clips.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use quarterturn::result::{
    Clock, Curves, Estimate, Moment, SCHEMA, SwingResult, TypedIn, ViewEntry, write_result,
};
use quarterturn::terms::{Event, Handedness, Measure, Role};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use serde_json::Value;

pub struct Truth {
    pub name: String,
    pub t: Vec<f64>,
    pub series: BTreeMap<Measure, Vec<f64>>,
    pub events: BTreeMap<Event, f64>,
    pub starts_at_s: f64,
}

const KEYS: [(Measure, &str); 8] = [
    (Measure::PelvisTurn, "pelvis_turn"),
    (Measure::ThoraxTurn, "thorax_turn"),
    (Measure::PelvisSideBend, "pelvis_side"),
    (Measure::PelvisForwardBend, "pelvis_fwd"),
    (Measure::ThoraxSideBend, "thorax_side"),
    (Measure::ThoraxForwardBend, "thorax_fwd"),
    (Measure::LeadKneeFlexion, "knee_lead_flexion"),
    (Measure::TrailKneeFlexion, "knee_trail_flexion"),
];

impl Truth {
    pub fn load(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("sample-clips")
            .join(format!("{name}_truth.json"));
        let v: Value = serde_json::from_slice(&std::fs::read(path).expect("truth")).expect("JSON");
        let samples = v["samples"].as_array().expect("samples");
        let column = |k: &str| -> Vec<f64> {
            samples
                .iter()
                .map(|s| s[k].as_f64().expect("number"))
                .collect()
        };
        let mut series: BTreeMap<Measure, Vec<f64>> =
            KEYS.iter().map(|(m, k)| (*m, column(k))).collect();
        let separation = series[&Measure::ThoraxTurn]
            .iter()
            .zip(&series[&Measure::PelvisTurn])
            .map(|(a, b)| a - b)
            .collect();
        series.insert(Measure::Separation, separation);
        let event = |k: &str| v["events"][k].as_f64().expect("event");
        let starts_at_s = v["views"]["face_on"]["starts_at_s"]
            .as_f64()
            .expect("start");
        Self {
            name: name.to_owned(),
            t: column("t"),
            series,
            events: [
                (Event::Address, event("addr")),
                (Event::Top, event("top")),
                (Event::Impact, event("imp")),
                (Event::Finish, event("fin")),
            ]
            .into(),
            starts_at_s,
        }
    }

    /// Straight line between the truth's 240 samples a second.
    pub fn at(&self, m: Measure, t: f64) -> f64 {
        let i = self
            .t
            .partition_point(|s| *s < t)
            .clamp(1, self.t.len() - 1);
        let (a, b) = (self.t[i - 1], self.t[i]);
        let s = &self.series[&m];
        let w = ((t - a) / (b - a)).clamp(0.0, 1.0);
        s[i - 1] * (1.0 - w) + s[i] * w
    }

    pub fn address(&self) -> f64 {
        self.events[&Event::Address]
    }
}

/// How a made estimate departs from the truth.
#[derive(Clone)]
pub struct Error {
    pub bias: BTreeMap<Measure, f64>,
    pub half_width: f64,
    /// Slowly varying error, standard deviation in degrees.
    pub wander: f64,
    pub seed: u64,
}

impl Default for Error {
    fn default() -> Self {
        Self {
            bias: BTreeMap::new(),
            half_width: 4.0,
            wander: 0.0,
            seed: 1,
        }
    }
}

/// A result and curves at 60 frames a second on the face-on clip's clock.
pub fn measured(truth: &Truth, error: &Error) -> (SwingResult, Curves) {
    let mut rng = ChaCha8Rng::seed_from_u64(error.seed);
    let normal = Normal::new(0.0, 1.0).expect("normal");
    let end = truth.t[truth.t.len() - 1];
    let n = ((end - truth.starts_at_s) * 60.0) as usize;
    let times: Vec<f64> = (0..=n).map(|i| i as f64 / 60.0).collect();
    let mut curves = Curves {
        time_s: times.clone(),
        ..Curves::default()
    };
    let mut errors: BTreeMap<Measure, [f64; 4]> = BTreeMap::new();
    for m in truth.series.keys() {
        errors.insert(*m, std::array::from_fn(|_| normal.sample(&mut rng)));
    }
    let value = |m: Measure, t: f64| -> f64 {
        let [a, b, c, d] = errors[&m];
        let bias = error.bias.get(&m).copied().unwrap_or(0.0);
        let wander = error.wander
            * (a * (2.1 * t).sin()
                + b * (2.1 * t).cos()
                + c * (5.3 * t).sin()
                + d * (5.3 * t).cos())
            / 2.0_f64.sqrt();
        truth.at(m, t) + bias + wander
    };
    let around = |v: f64| Estimate::new(v, v - error.half_width, v + error.half_width);
    let get = |m: Measure, t_result: f64| -> Estimate {
        let t = t_result + truth.starts_at_s;
        let a = truth.address();
        let base = match m {
            Measure::PelvisTurnFromAddress => Measure::PelvisTurn,
            Measure::ThoraxTurnFromAddress => Measure::ThoraxTurn,
            Measure::SeparationFromAddress => Measure::Separation,
            m => return around(value(m, t)),
        };
        around(value(base, t) - value(base, a))
    };
    let mut measures: Vec<Measure> = truth.series.keys().copied().collect();
    measures.extend([
        Measure::PelvisTurnFromAddress,
        Measure::ThoraxTurnFromAddress,
        Measure::SeparationFromAddress,
    ]);
    for m in &measures {
        curves
            .series
            .insert(*m, times.iter().map(|t| get(*m, *t)).collect());
    }
    let mut at: BTreeMap<Event, BTreeMap<Measure, Estimate>> = BTreeMap::new();
    let mut events = BTreeMap::new();
    for (e, t) in &truth.events {
        let s = t - truth.starts_at_s;
        events.insert(
            *e,
            Moment {
                s: Some(s),
                low: Some(s - 0.02),
                high: Some(s + 0.02),
            },
        );
        at.insert(*e, measures.iter().map(|m| (*m, get(*m, s))).collect());
    }
    let view = |role: Role, file: &str| ViewEntry {
        role,
        file: file.into(),
        sha256: "0".repeat(64),
        filmed_unix_s: None,
        fps: 60.0,
        offset_s: 0.0,
        offset_half_width_s: None,
        time_scale: 1.0,
        width: 540,
        height: 960,
        coverage: 1.0,
        camera: None,
    };
    let swing = SwingResult {
        schema: SCHEMA.into(),
        tool_version: "test".into(),
        models: BTreeMap::new(),
        ran_on: None,
        name: truth.name.clone(),
        handedness: Handedness::Right,
        handedness_from: "given".into(),
        clock: "seconds from the first frame of the first view".into(),
        real_time: Clock::default(),
        angle_order: "turn, side bend, forward bend".into(),
        views: vec![
            view(Role::FaceOn, "a.mp4"),
            view(Role::DownTheLine, "b.mp4"),
        ],
        events,
        at,
        between: Vec::new(),
        sway: BTreeMap::new(),
        tempo: None,
        turn_speed: None,
        peak_separation: None,
        peak_separation_at: None,
        pelvis_top: None,
        thorax_top: None,
        typed_in: TypedIn::default(),
        calibration: None,
        warnings: Vec::new(),
    };
    (swing, curves)
}

pub fn write(folder: &Path, name: &str, made: &(SwingResult, Curves)) -> PathBuf {
    let path = folder.join(name);
    write_result(&path, &made.0, &made.1).expect("written");
    path
}

/// A made sensor.
#[derive(Clone)]
pub struct Sensor {
    pub rate_hz: f64,
    /// Sensor's clock less the result's.
    pub shift_s: f64,
    pub thorax_bias: f64,
    pub noise: f64,
    /// Stretches of the truth's time without samples.
    pub gaps: Vec<(f64, f64)>,
    pub seed: u64,
    pub stretch: f64,
}

impl Default for Sensor {
    fn default() -> Self {
        Self {
            rate_hz: 200.0,
            shift_s: 0.13,
            thorax_bias: 4.0,
            noise: 1.5,
            gaps: vec![(0.78, 0.86), (1.52, 1.58), (1.9, 2.0)],
            seed: 7,
            stretch: 1.0,
        }
    }
}

impl Sensor {
    /// Rows of pelvis and thorax turn, header left to the caller.
    pub fn rows(&self, truth: &Truth) -> Vec<(f64, f64, f64)> {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let noise = Normal::new(0.0, self.noise).expect("noise");
        let end = truth.t[truth.t.len() - 1];
        (0..)
            .map(|i| 0.0021 + f64::from(i) / self.rate_hz)
            .take_while(|t| *t < end)
            .filter(|t| !self.gaps.iter().any(|(a, b)| (a..b).contains(&t)))
            .map(|t| {
                let pelvis = truth.at(Measure::PelvisTurn, t) + noise.sample(&mut rng);
                let thorax =
                    truth.at(Measure::ThoraxTurn, t) + self.thorax_bias + noise.sample(&mut rng);
                (
                    (t - truth.starts_at_s) * self.stretch + self.shift_s,
                    pelvis,
                    thorax,
                )
            })
            .collect()
    }

    pub fn csv(&self, truth: &Truth, name: &str) -> String {
        let mut out = format!("# swing: {name}\ntime_s,pelvis_turn_deg,thorax_turn_deg\n");
        for (t, p, x) in self.rows(truth) {
            out.push_str(&format!("{t:.4},{p:.3},{x:.3}\n"));
        }
        out
    }
}

pub const SAMPLES: [&str; 2] = ["first-lesson", "sixth-lesson"];
