//! Region tracking and landmarks against the `mediapipe` package, which runs the same weights: its
//! landmarks on every 20th frame of two sample clips are stored by tests/reference/landmarks.py.
//!
//! What differs, and by how much one sees here: that package moves each landmark to the middle of
//! its heatmap nearby, ours leaves it where the network puts it; it resamples the turned crop with
//! one bilinear tap a pixel whose centre it takes to lie at its corner, ours with four at the centre;
//! and each follows its own landmarks, so that the regions differ by as much as the landmarks do.
//! The first two are done here to our landmarks as well: what is left then is the third.

use std::path::Path;

use quarterturn::clip::FrameReader;
use quarterturn::config::Pipeline;
use quarterturn::math::stats::median;
use quarterturn::pose::{
    ModelFiles, Reading, Region, Runners, landmark, observe, open_session, sample_crop,
};
use quarterturn::progress::{Cancel, Silent};
use serde_json::Value;

use crate::reference::{self, list, number, numbers};

/// Side of the landmark network's input, pixels.
const INPUT: usize = 256;
/// Side of its heatmaps, cells, and how many there are.
const CELLS: usize = 64;
const HEATMAPS: usize = 39;
/// Cells to each side that the refinement looks at, and the peak that it asks for, as published
/// with the network's graph.
const REACH: usize = 3;
const LEAST_PEAK: f64 = 0.5;

/// How far apart the landmarks are that the package calls visible, pixels.
#[derive(Default)]
struct Apart {
    as_they_are: Vec<f64>,
    refined: Vec<f64>,
    /// Only shoulders, elbows, wrists, hips, knees and ankles, as they are.
    joints: Vec<f64>,
    stature_px: Vec<f64>,
}

fn distance(a: [f64; 2], b: &[f64]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// A place in units of the crop's side, moved to the middle of its heatmap nearby.
fn refine(at: [f64; 2], heatmap: &[f32], which: usize) -> [f64; 2] {
    let cell = at.map(|v| (v * CELLS as f64) as usize);
    let window = |c: usize| c.saturating_sub(REACH)..(c + REACH + 1).min(CELLS);
    let (mut sum, mut moment, mut peak) = (0.0, [0.0; 2], 0.0f64);
    for y in window(cell[1]) {
        for x in window(cell[0]) {
            let logit = f64::from(heatmap[(y * CELLS + x) * HEATMAPS + which]);
            let p = 1.0 / (1.0 + (-logit).exp());
            sum += p;
            moment[0] += p * x as f64;
            moment[1] += p * y as f64;
            peak = peak.max(p);
        }
    }
    if peak < LEAST_PEAK {
        return at;
    }
    moment.map(|m| m / sum / CELLS as f64)
}

/// From units of the crop's side to the frame, as the package does: its crop takes the middle of a
/// frame's pixel for its corner, which shifts the picture by half a crop pixel less half a frame's.
fn to_frame(at: [f64; 2], region: &Region) -> [f64; 2] {
    let shift = (region.side_px / INPUT as f64 - 1.0) / 2.0;
    let [u, v] = at.map(|p| (p - 0.5) * region.side_px + shift);
    let (sin, cos) = region.roll_rad.sin_cos();
    [
        region.centre_px[0] + u * cos - v * sin,
        region.centre_px[1] + u * sin + v * cos,
    ]
}

fn compare(clip: &Value) -> Apart {
    let name = clip["clip"].as_str().expect("a name");
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-clips")
        .join(name);
    let files = ModelFiles::find().expect("the models");
    let mut pipeline = Pipeline::default();
    // The torso network is no part of this.
    pipeline.pose.mirror_average = false;
    pipeline.pose.one_network = false;
    let runners = Runners::start(&files, 2).expect("the network");
    let how = Reading {
        every_frame: true,
        part: None,
        runners: &runners,
        closer: |_, _, _| Vec::new(),
        shows: |_, _, _| true,
        may_show: |_, _, _| true,
    };
    let track = observe(&path, &files, &pipeline, how, &Silent, &Cancel::default())
        .expect("a sample clip is read");
    assert_eq!(
        track.observations.len(),
        number(&clip["frames_in_clip"]) as usize,
        "{name}: both see the same frames"
    );
    let outputs = ["landmarks", "heatmap"];
    let mut network = open_session(&files, &files.landmarks, &outputs).expect("the network");
    let mut apart = Apart::default();
    let stored = list(&clip["frames"]);
    for frame in FrameReader::open(&path, &pipeline.clip).expect("the clip") {
        let frame = frame.expect("a frame");
        let Some(theirs) = stored
            .iter()
            .find(|f| number(&f["index"]) as usize == frame.index)
        else {
            continue;
        };
        let person = track.observations[frame.index]
            .person
            .as_ref()
            .unwrap_or_else(|| panic!("{name}: nobody in frame {}", frame.index));
        let input = sample_crop(&frame.image, &person.region, INPUT, 1.0 / 255.0, 0.0);
        let tensor =
            ort::value::TensorRef::from_array_view(([1usize, INPUT, INPUT, 3], input.as_slice()))
                .expect("a tensor");
        let seen = network.run(ort::inputs!["image" => tensor]).expect("a run");
        let output = |name: &str| seen[name].try_extract_tensor::<f32>().expect("numbers").1;
        let (raw, heatmap) = (output("landmarks"), output("heatmap"));
        let points: Vec<Vec<f64>> = list(&theirs["points"]).iter().map(numbers).collect();
        assert_eq!(points.len(), landmark::COUNT);
        for (i, (theirs, ours)) in points.iter().zip(&person.landmarks).enumerate() {
            if theirs[2] < 0.5 {
                continue;
            }
            let plain = distance([ours.x_px, ours.y_px], theirs);
            apart.as_they_are.push(plain);
            if (11..=16).contains(&i) || (23..=28).contains(&i) {
                apart.joints.push(plain);
            }
            let at = [5 * i, 5 * i + 1].map(|k| f64::from(raw[k]) / INPUT as f64);
            let better = to_frame(refine(at, heatmap, i), &person.region);
            apart.refined.push(distance(better, theirs));
        }
        // Hips to ankles are close to half a stature.
        let middle = |pair: [usize; 2], k: usize| (points[pair[0]][k] + points[pair[1]][k]) / 2.0;
        let along = |k: usize| middle(landmark::HIP, k) - middle(landmark::ANKLE, k);
        apart.stature_px.push(2.0 * along(0).hypot(along(1)));
    }
    assert_eq!(
        apart.stature_px.len(),
        stored.len(),
        "{name}: every stored frame is compared"
    );
    apart
}

/// Median and largest, as shares of stature.
fn shares(what: &str, values: &[f64], stature_px: f64) -> (f64, f64) {
    let largest = values.iter().copied().fold(0.0, f64::max);
    let middle = median(values).expect("landmarks");
    println!(
        "{what}: {} landmarks, median {middle:.1} px, worst {largest:.1} px of {stature_px:.0} px",
        values.len()
    );
    (middle / stature_px, largest / stature_px)
}

fn check(clip: usize) {
    let kept = reference::landmarks();
    let apart = compare(&list(&kept["clips"])[clip]);
    let stature_px = median(&apart.stature_px).expect("frames");
    // A heatmap's cell is 2.4 % of stature here. The package's refinement moves a landmark by less
    // than a cell as a rule, and by three at most.
    for (what, values) in [
        ("as they are", &apart.as_they_are),
        ("joints", &apart.joints),
    ] {
        let (middle, worst) = shares(what, values, stature_px);
        assert!(middle < 0.02, "{what}: {middle}");
        assert!(worst < 0.07, "{what}: {worst}");
    }
    // With the refinement and the shift done to ours, a crop pixel or two (0.6 % each) is left, where a
    // region has drifted two cells, and hardly ever three.
    let (middle, worst) = shares("refined", &apart.refined, stature_px);
    assert!(middle < 0.01, "refined: {middle}");
    assert!(worst < 0.07, "refined: {worst}");
    let far = |d: &&f64| **d > 0.048 * stature_px;
    let beyond = apart.refined.iter().filter(far).count();
    assert!(
        beyond * 100 <= apart.refined.len(),
        "{beyond} beyond two cells"
    );
    let plain = median(&apart.as_they_are).expect("landmarks");
    assert!(
        middle * stature_px < 0.6 * plain,
        "the refinement accounts for most of the difference"
    );
}

#[test]
fn landmarks_face_on_are_those_of_the_package_with_the_same_weights() {
    check(0);
}

#[test]
fn landmarks_down_the_line_are_those_of_the_package_with_the_same_weights() {
    check(1);
}
