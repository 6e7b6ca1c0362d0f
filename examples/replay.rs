//! Measures swings from tracks that `observe` wrote, without the networks: for work on geometry,
//! events and intervals, and for calibration. Beside each result it writes `evidence.csv`, what the
//! intervals' score was told.
//!
//! usage: replay TRACKS_DIR OUT_DIR two|face_on|down_the_line [--uncalibrated] [--calibration FILE]
//!        [--true-cameras TRUTH_DIR] [--only FILE_OF_NAMES]

use std::collections::BTreeSet;
use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};
use quarterturn::camera::Camera;
use quarterturn::config::{Feature, Pipeline};
use quarterturn::measure::{Known, Measured, Options, measure_tracks};
use quarterturn::pose::ViewTrack;
use quarterturn::result::write_result;
use quarterturn::terms::Role;
use rayon::prelude::*;
use serde_json::Value;

const USAGE: &str = "usage: replay TRACKS_DIR OUT_DIR two|face_on|down_the_line [--uncalibrated] [--calibration FILE] [--true-cameras TRUTH_DIR] [--only FILE_OF_NAMES]";

#[derive(Default)]
struct Settings {
    uncalibrated: bool,
    pipeline: Pipeline,
    truths: Option<PathBuf>,
    only: Option<BTreeSet<String>>,
}

fn track(path: &Path) -> Option<ViewTrack> {
    serde_json::from_slice(&std::fs::read(path).ok()?).ok()
}

/// The true camera of a view, as a right-hander's.
fn known(truth: &Value, role: Role) -> Option<Known> {
    let view = &truth["views"][role.key()];
    let number = |v: &Value| v.as_f64();
    let position = (0..3).map(|k| number(&view["camera_position_m"][k]));
    let mut position_m = Vector3::from_vec(position.collect::<Option<Vec<f64>>>()?);
    let entries = (0..9).map(|k| number(&view["camera_to_world"][k / 3][k % 3]));
    let m = Matrix3::from_row_slice(&entries.collect::<Option<Vec<f64>>>()?);
    // Columns right, up, back; ours are right, down, ahead.
    let mut m = m * Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, -1.0));
    if truth["handedness"] == "left" {
        let flip = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, 1.0));
        m = flip * m * flip;
        position_m.x = -position_m.x;
    }
    Some(Known {
        role,
        camera: Camera {
            focal_px: number(&view["focal_px"])?,
            centre_px: Vector2::new(
                number(&view["width"])? / 2.0,
                number(&view["height"])? / 2.0,
            ),
            world_from_camera: Rotation3::from_matrix_unchecked(m),
            position_m,
        },
        starts_s: number(&view["starts_at_s"])?,
    })
}

fn evidence(m: &Measured) -> String {
    let mut out = String::from("event,measure");
    for f in Feature::ALL {
        let _ = write!(out, ",{}", f.key());
    }
    for (event, measures) in &m.evidence {
        for (measure, values) in measures {
            let _ = write!(out, "\n{},{measure}", event.key());
            for v in values {
                let _ = write!(out, ",{v:.5}");
            }
        }
    }
    out + "\n"
}

fn one(
    folder: &Path,
    out: &Path,
    name: &str,
    roles: &[Role],
    s: &Settings,
) -> Result<(), Box<dyn Error>> {
    let path = |role: &Role| folder.join(format!("{name}_{}.json", role.key()));
    let tracks: Vec<ViewTrack> = roles.iter().filter_map(|r| track(&path(r))).collect();
    let known = match &s.truths {
        Some(truths) => {
            let text = std::fs::read(truths.join(format!("{name}_truth.json")))?;
            let truth: Value = serde_json::from_slice(&text)?;
            let each = roles.iter().map(|r| known(&truth, *r));
            each.collect::<Option<_>>()
                .ok_or("the truth tells no cameras")?
        }
        None => Vec::new(),
    };
    let options = Options {
        name: name.to_owned(),
        clips: tracks
            .iter()
            .zip(roles)
            .map(|(t, r)| (t.info.file.clone(), s.truths.is_some().then_some(*r)))
            .collect(),
        uncalibrated: s.uncalibrated,
        pipeline: s.pipeline.clone(),
        known,
        ..Options::default()
    };
    let m = measure_tracks(&tracks, &options)?;
    let folder = out.join(name);
    write_result(&folder, &m.result, &m.curves)?;
    std::fs::write(folder.join("evidence.csv"), evidence(&m))?;
    for w in m.result.warnings.iter().filter(|w| w.code != "single_view") {
        eprintln!("{name}: {} {}", w.code, w.text);
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    tracing_subscriber::fmt()
        .with_env_filter(tracing_subscriber::EnvFilter::from_default_env())
        .init();
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, out, mode, rest @ ..] = args.as_slice() else {
        return Err(USAGE.into());
    };
    let mut settings = Settings::default();
    let mut rest = rest.iter();
    while let Some(option) = rest.next() {
        let mut value = || rest.next().ok_or(USAGE);
        match option.as_str() {
            "--uncalibrated" => settings.uncalibrated = true,
            "--calibration" => {
                let text = format!("[interval]\ncalibration = {:?}\n", value()?);
                settings.pipeline = Pipeline::from_text(&text)?;
            }
            "--true-cameras" => settings.truths = Some(value()?.into()),
            "--only" => {
                let names = std::fs::read_to_string(value()?)?;
                settings.only = Some(names.split_whitespace().map(str::to_owned).collect());
            }
            _ => return Err(USAGE.into()),
        }
    }
    let mut names: Vec<String> = std::fs::read_dir(folder)?
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|n| n.strip_suffix("_face_on.json").map(str::to_owned))
        .filter(|n| settings.only.as_ref().is_none_or(|only| only.contains(n)))
        .collect();
    names.sort();
    let roles: &[Role] = match mode.as_str() {
        "two" => &Role::ALL,
        "face_on" => &[Role::FaceOn],
        _ => &[Role::DownTheLine],
    };
    names.par_iter().for_each(|name| {
        if let Err(e) = one(Path::new(folder), Path::new(out), name, roles, &settings) {
            eprintln!("{name}: {e}");
        }
    });
    Ok(())
}
