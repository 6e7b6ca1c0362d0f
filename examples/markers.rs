//! Sets what the program reads of a person against reflective markers: each camera alone and each
//! pair of cameras, in their true places, through the same smoothing, fusion and covariances as a
//! swing. Says how far errors exceed what the intervals' standard deviations promise.
//!
//! usage: markers TRACKS_DIR TRUTH.json [PIPELINE.toml]
//!
//! TRACKS_DIR/CAMERA.json as `observe` writes them. TRUTH.json: `levelled_cameras` (CAMERA:
//! `camera_from_world` rows, `centre_m`, `focal_px`, `principal_px`) and `frames` (`frame`, and for
//! `pelvis` and `thorax` `R_world_from_segment` rows; x left, y back, z up; world z up).

use std::error::Error;
use std::path::{Path, PathBuf};

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};
use quarterturn::body::{Belief, ViewReadings, angles_of, fuse};
use quarterturn::camera::Camera;
use quarterturn::config::{Pipeline, Segment};
use quarterturn::math::rotation::wrap;
use quarterturn::math::stats::quantile;
use quarterturn::pair::{RotationSample, ViewSeries};
use quarterturn::pose::ViewTrack;
use quarterturn::terms::Role;
use serde_json::Value;

struct View {
    name: String,
    camera: Camera,
    series: ViewSeries,
}

fn matrix(rows: &Value) -> Option<Matrix3<f64>> {
    let entries = (0..9).map(|k| rows[k / 3][k % 3].as_f64());
    Some(Matrix3::from_row_slice(
        &entries.collect::<Option<Vec<f64>>>()?,
    ))
}

fn vector(v: &Value, n: usize) -> Option<Vec<f64>> {
    (0..n).map(|k| v[k].as_f64()).collect()
}

fn camera(c: &Value) -> Option<Camera> {
    let camera_from_world = Rotation3::from_matrix(&matrix(&c["camera_from_world"])?);
    Some(Camera {
        focal_px: c["focal_px"].as_f64()?,
        centre_px: Vector2::from_vec(vector(&c["principal_px"], 2)?),
        world_from_camera: camera_from_world.inverse(),
        position_m: Vector3::from_vec(vector(&c["centre_m"], 3)?),
    })
}

/// Times and true turns of a segment, radians.
fn true_turns(truth: &Value, segment: &str, series: &ViewSeries) -> Vec<(f64, f64)> {
    let frames = truth["frames"].as_array().into_iter().flatten();
    frames
        .filter_map(|f| {
            let m = matrix(&f[segment]["R_world_from_segment"])?;
            let index = f["frame"].as_u64()? as usize;
            let instant = series.instants.iter().find(|i| i.index == index)?;
            Some((instant.time_s, angles_of(&Rotation3::from_matrix(&m))?[0]))
        })
        .collect()
}

#[derive(Default)]
struct Tally {
    errors: Vec<f64>,
    ratios: Vec<f64>,
    /// The network's standard deviation of the turn, degrees.
    network: Vec<f64>,
}

impl Tally {
    fn add(&mut self, error: f64, variance: f64) {
        self.errors.push(error.to_degrees());
        self.ratios.push(error.abs() / variance.sqrt());
    }

    fn merge(&mut self, other: Self) {
        self.errors.extend(other.errors);
        self.ratios.extend(other.ratios);
        self.network.extend(other.network);
    }

    /// How much too small σ is where 95 % of the truths should lie within 1.96 σ.
    fn too_small(&self) -> f64 {
        quantile(&self.ratios, 0.95).unwrap_or(f64::NAN) / 1.96
    }

    fn row(&self, name: &str) {
        let n = self.errors.len() as f64;
        let rms = (self.errors.iter().map(|e| e * e).sum::<f64>() / n).sqrt();
        let z = (self.ratios.iter().map(|r| r * r).sum::<f64>() / n).sqrt();
        let inside = self.ratios.iter().filter(|r| **r < 1.96).count();
        let most = self.too_small();
        println!(
            "| {name} | {n:.0} | {rms:.1}° | {z:.2} | {:.0} % | {most:.2} |",
            100.0 * inside as f64 / n
        );
    }
}

fn tally(belief: &Belief, truth: &[(f64, f64)], turn: &mut Tally, since: &mut Tally) {
    let read = |t: f64| Some(belief.angles(t)?[0]);
    let first: Vec<(f64, f64)> = truth.iter().take(3).copied().collect();
    let from: Vec<f64> = first.iter().map(|f| f.0).collect();
    let offset = first.iter().filter_map(|(t, y)| Some(wrap(read(*t)? - y)));
    let offset = offset.sum::<f64>() / first.len().max(1) as f64;
    for (t, y) in truth {
        let (Some(x), Some(variance)) = (read(*t), belief.variance(0, *t)) else {
            continue;
        };
        let error = wrap(x - y);
        turn.add(error, variance + belief.excess(0, *t, &[]));
        let w = belief.weights(0, *t).unwrap_or_default();
        let sigmas = belief
            .curves
            .iter()
            .zip(w)
            .map(|(c, w)| w * c.sigma_at(0, *t));
        turn.network.push(sigmas.sum::<f64>().to_degrees());
        if !from.contains(t)
            && let Some(variance) = belief.variance_since(0, *t, &from)
        {
            since.add(wrap(error - offset), variance + belief.excess(0, *t, &from));
        }
    }
}

/// The role whose place is nearer to where the camera stands: before the chest, or beside it.
fn role(camera: &Camera, turn: f64) -> Role {
    let ahead = camera.world_from_camera * Vector3::z();
    // At turn 0 the chest faces -Y, and a camera before it looks along +Y.
    let before = std::f64::consts::FRAC_PI_2 - turn;
    let off = wrap(ahead.y.atan2(ahead.x) - before).abs();
    if (std::f64::consts::FRAC_PI_4..=3.0 * std::f64::consts::FRAC_PI_4).contains(&off) {
        Role::DownTheLine
    } else {
        Role::FaceOn
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let [tracks, truth, rest @ ..] = args.as_slice() else {
        return Err("usage: markers TRACKS_DIR TRUTH.json [PIPELINE.toml]".into());
    };
    let pipeline = Pipeline::load(rest.first().map(PathBuf::as_path))?;
    let truth: Value = serde_json::from_slice(&std::fs::read(truth)?)?;
    let cameras = truth["levelled_cameras"].as_object().ok_or("no cameras")?;
    let mut views = Vec::new();
    for (name, c) in cameras {
        let path: &Path = &tracks.join(format!("{name}.json"));
        let track: ViewTrack = serde_json::from_slice(&std::fs::read(path)?)?;
        views.push(View {
            name: name.clone(),
            camera: camera(c).ok_or("a camera lacks numbers")?,
            series: ViewSeries::new(&track, Role::FaceOn, 1.0, false, 0.012),
        });
    }
    println!(
        "| | moments | turn, rms error | error over σ, rms | inside 1.96 σ | σ is too small by |"
    );
    println!("| --- | --- | --- | --- | --- | --- |");
    for (segment, key) in [(Segment::Pelvis, "pelvis"), (Segment::Thorax, "thorax")] {
        let mut all: [Tally; 4] = Default::default();
        for a in 0..views.len() {
            for b in a..views.len() {
                let chosen: Vec<&View> = if a == b {
                    vec![&views[a]]
                } else {
                    vec![&views[a], &views[b]]
                };
                let turns = true_turns(&truth, key, &chosen[0].series);
                let Some((from_s, turn)) = turns.first().copied() else {
                    continue;
                };
                let samples: Vec<Vec<RotationSample>> = chosen
                    .iter()
                    .map(|v| {
                        v.series
                            .instants
                            .iter()
                            .filter_map(|i| i.rotation.clone())
                            .collect()
                    })
                    .collect();
                let readings: Vec<ViewReadings<'_>> = chosen
                    .iter()
                    .zip(&samples)
                    .map(|(v, samples)| ViewReadings {
                        role: role(&v.camera, turn),
                        samples,
                        camera: &v.camera,
                        offset_s: 0.0,
                    })
                    .collect();
                let (_, belief) = fuse(
                    &readings,
                    segment,
                    from_s,
                    &pipeline.learned,
                    &pipeline.body,
                );
                let names: Vec<&str> = chosen.iter().map(|v| v.name.as_str()).collect();
                let (mut own, mut since) = (Tally::default(), Tally::default());
                tally(&belief, &turns, &mut own, &mut since);
                own.row(&format!("{key} {}", names.join(" + ")));
                let at = if a == b { 0 } else { 1 };
                all[at].merge(own);
                all[at + 2].merge(since);
            }
        }
        for (t, name) in all.iter().zip([
            "one camera, turn",
            "two cameras, turn",
            "one camera, turn since the start",
            "two cameras, turn since the start",
        ]) {
            t.row(&format!("**{key}, {name}**"));
        }
        // For `calibrate.py people`: what σ is too small by with one camera and with two, turn and turn
        // since the start the worse of the two, and how unsure the network was.
        let worse = |i: usize| all[i].too_small().max(all[i + 2].too_small());
        let network: Vec<f64> = all[0].network.clone();
        eprintln!(
            "{key} one {:.3} two {:.3} network_deg {:.2} {:.2}",
            worse(0),
            worse(1),
            quantile(&network, 0.25).unwrap_or(f64::NAN),
            quantile(&network, 0.5).unwrap_or(f64::NAN)
        );
    }
    Ok(())
}
