//! Any bytes given to any parser end in a value or an error, never in a panic. A short run with a
//! fixed seed; `fuzz/` holds the long ones.

use std::path::Path;

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use quarterturn::agreement::sensor::{Mapping, read_c3d_bytes, read_csv_bytes};
use quarterturn::agreement::{Calibration, c3d};
use quarterturn::clip::{Orientation, Tags};
use quarterturn::config::{Learned, Pipeline};
use quarterturn::pose::decode_detections;
use quarterturn::report::References;
use quarterturn::result::{NamePattern, read_curves_bytes, read_swing_bytes};

const SWING: &[u8] = include_bytes!("../fuzz/seeds/swing.json");
const CURVES: &[u8] = include_bytes!("../fuzz/seeds/curves.csv");
const SENSOR: &[u8] = include_bytes!("../fuzz/seeds/sensor.csv");
const MAPPED: &[u8] = include_bytes!("../fuzz/seeds/sensor_mapped.csv");
const MAPPING: &[u8] = include_bytes!("../fuzz/seeds/mapping.toml");
const CALIBRATION: &[u8] = include_bytes!("../fuzz/seeds/calibration.toml");
const PIPELINE: &[u8] = include_bytes!("../fuzz/seeds/pipeline.toml");
const LEARNED: &[u8] = include_bytes!("../pipelines/calibration.toml");
const TAGS: &[u8] = include_bytes!("../fuzz/seeds/tags.txt");
const NAMES: &[u8] = include_bytes!("../fuzz/seeds/name_pattern.txt");
const REFERENCES: &[u8] = include_bytes!("../docs/references.toml");
const C3D: &[u8] = include_bytes!("reference/landmarks_by_c3d.c3d");
const C3D_LABORATORY: &[u8] = include_bytes!("reference/c3d_sample.c3d");

/// Bytes of nothing in particular, or a good file with a few bytes changed, cut out or doubled.
fn near(good: &'static [u8]) -> impl Strategy<Value = Vec<u8>> {
    let edit = (
        any::<prop::sample::Index>(),
        any::<u8>(),
        0..4_u8,
        1..40_usize,
    );
    let edited = prop::collection::vec(edit, 1..6).prop_map(move |edits| {
        let mut bytes = good.to_vec();
        for (at, value, kind, length) in edits {
            if bytes.is_empty() {
                break;
            }
            let at = at.index(bytes.len());
            let end = (at + length).min(bytes.len());
            match kind {
                0 => bytes[at] = value,
                1 => drop(bytes.drain(at..end)),
                2 => {
                    let piece = bytes[at..end].to_vec();
                    bytes.splice(at..at, piece);
                }
                _ => bytes.truncate(at),
            }
        }
        bytes
    });
    prop_oneof![4 => edited, 1 => prop::collection::vec(any::<u8>(), 0..2000)]
}

fn config() -> ProptestConfig {
    ProptestConfig {
        cases: 400,
        rng_seed: RngSeed::Fixed(20),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn swing_json(bytes in near(SWING)) {
        if let Ok(swing) = read_swing_bytes(&bytes, Path::new("swing.json")) {
            let again = serde_json::to_vec(&swing).expect("written");
            prop_assert!(read_swing_bytes(&again, Path::new("swing.json")).is_ok());
        }
    }

    #[test]
    fn name_pattern(bytes in near(NAMES)) {
        let text = String::from_utf8_lossy(&bytes);
        let (pattern, path) = text.split_once('\n').unwrap_or((&text, "a/b.mp4"));
        let told = NamePattern::parse(pattern).ok().and_then(|p| p.read(Path::new(path)));
        let fields = told.map(|t| [t.player, t.label, t.club]);
        for field in fields.into_iter().flatten().flatten() {
            prop_assert!(!field.is_empty() && field.trim() == field);
        }
    }

    #[test]
    fn curves_csv(bytes in near(CURVES)) {
        if let Ok(curves) = read_curves_bytes(&bytes, Path::new("curves.csv")) {
            prop_assert!(curves.series.values().all(|s| s.len() == curves.time_s.len()));
        }
    }

    #[test]
    fn sensor_csv(bytes in prop_oneof![near(SENSOR), near(MAPPED)]) {
        let path = Path::new("s.csv");
        let mapped = Mapping::from_bytes(
            b"skip_lines = 1\ndelimiter = \";\"\ndecimal = \",\"\nevent_column = \"e\"\n[time]\ncolumn = \"t\"\nunit = \"frames\"\nrate_hz = 200\n[columns.thorax_turn]\ncolumn = \"a\"\n",
            path,
        ).expect("valid");
        for mapping in [Mapping::default(), mapped] {
            for swing in read_csv_bytes(&bytes, &mapping, path).unwrap_or_default() {
                prop_assert!(swing.series.values().all(|s| s.len() == swing.time_s.len()));
                prop_assert!(swing.time_s.windows(2).all(|w| w[0] < w[1]));
            }
        }
    }

    #[test]
    fn sensor_c3d(bytes in prop_oneof![near(C3D), near(C3D_LABORATORY)]) {
        if let Ok(file) = c3d::read(&bytes) {
            let points: usize = file.tracks.iter().map(|t| t.points.len()).sum();
            prop_assert!(points * 8 <= bytes.len(), "no points without bytes");
        }
        let _ = read_c3d_bytes(&bytes, &Mapping::default(), Path::new("s.c3d"));
    }

    #[test]
    fn mapping_toml(bytes in near(MAPPING)) {
        if let Ok(mapping) = Mapping::from_bytes(&bytes, Path::new("m.toml")) {
            let _ = read_csv_bytes(SENSOR, &mapping, Path::new("s.csv"));
        }
    }

    #[test]
    fn calibration_toml(bytes in near(CALIBRATION)) {
        if let Ok(c) = Calibration::from_bytes(&bytes, Path::new("c.toml")) {
            for rule in c.views.iter().flat_map(|v| v.measures.values()) {
                prop_assert!((0.1..=50.0).contains(&rule.interval_scale));
            }
        }
    }

    #[test]
    fn pipeline_toml(bytes in near(PIPELINE)) {
        let _ = Pipeline::from_text(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn learned_toml(bytes in near(LEARNED)) {
        if let Ok(learned) = Learned::from_text(&String::from_utf8_lossy(&bytes)) {
            prop_assert!(learned.factors.iter().all(|f| f.scale.is_finite() && f.scale > 0.0));
        }
    }

    #[test]
    fn references_toml(bytes in near(REFERENCES)) {
        if let Ok(r) = References::parse(&String::from_utf8_lossy(&bytes), "ranges.toml") {
            for range in &r.ranges {
                let _ = (range.extent(), range.words());
            }
        }
    }

    #[test]
    fn clip_tags(bytes in near(TAGS)) {
        let text = String::from_utf8_lossy(&bytes);
        let mut tags = Tags::default();
        tags.add(text.lines().filter_map(|l| l.split_once('=')));
        let numbers = [tags.capture_fps(), tags.focal_35mm(), tags.created_unix_s()];
        prop_assert!(numbers.iter().flatten().all(|v| v.is_finite()));
    }

    #[test]
    fn display_matrix(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
        let o = Orientation::from_matrix(&bytes);
        prop_assert!(o.clockwise_deg.is_multiple_of(90) && o.clockwise_deg < 360);
    }

    #[test]
    fn detector_output(
        boxes in prop::collection::vec(prop::num::f32::ANY, 0..28_000),
        scores in prop::collection::vec(prop::num::f32::ANY, 0..2300),
    ) {
        let pipeline = Pipeline::default();
        for d in decode_detections(&boxes, &scores, 0.5, &pipeline.pose) {
            prop_assert!((0.0..=1.0).contains(&d.score) && d.region.side_px.is_finite());
        }
    }
}
