//! Segments from landmarks, against rotations that SciPy composed, in files that other packages
//! wrote (tests/reference).

use std::path::Path;

use quarterturn::agreement::c3d::{self, C3dFile, C3dWriter, Processor};
use quarterturn::agreement::sensor::{Mapping, SensorSwing, read_c3d_bytes};
use quarterturn::terms::Measure;

use crate::statistics::{numbers, reference};

pub const BY_C3D: &[u8] = include_bytes!("../reference/landmarks_by_c3d.c3d");
pub const BY_EZC3D: &[u8] = include_bytes!("../reference/landmarks_by_ezc3d.c3d");

fn read(bytes: &[u8], mapping: &str) -> Result<SensorSwing, String> {
    let path = Path::new("lab.c3d");
    let map = Mapping::from_bytes(mapping.as_bytes(), path).map_err(|e| e.to_string())?;
    read_c3d_bytes(bytes, &map, path).map_err(|e| e.to_string())
}

/// A file as other software would write it.
fn written(file: C3dFile, processor: Processor) -> Vec<u8> {
    C3dWriter {
        processor,
        rate_hz: file.rate_hz,
        first_frame: 1,
        tracks: file.tracks,
        events: vec![],
        angles: vec![],
        texts: ("NOTE".into(), vec![]),
    }
    .to_bytes()
    .expect("bytes")
}

#[test]
fn angles_are_those_the_landmarks_were_made_with() {
    let r = reference();
    let hidden = r["markers"]["hidden_frame"].as_u64().expect("frame") as usize;
    for bytes in [BY_C3D, BY_EZC3D] {
        let swing = read(bytes, "").expect("landmarks");
        for (segment, names) in [
            (
                "pelvis",
                [
                    Measure::PelvisTurn,
                    Measure::PelvisSideBend,
                    Measure::PelvisForwardBend,
                ],
            ),
            (
                "thorax",
                [
                    Measure::ThoraxTurn,
                    Measure::ThoraxSideBend,
                    Measure::ThoraxForwardBend,
                ],
            ),
        ] {
            for (i, row) in r["markers"]["angles"][segment]
                .as_array()
                .expect("rows")
                .iter()
                .enumerate()
            {
                for (m, expect) in names.iter().zip(numbers(row)) {
                    match swing.series[m][i] {
                        None => assert!(i == hidden && segment == "thorax", "{m} {i}"),
                        Some(v) => {
                            assert!(!(i == hidden && segment == "thorax"), "C7 was hidden");
                            assert!((v - expect).abs() < 0.01, "{m} {i}: {v} {expect}");
                        }
                    }
                }
            }
        }
        assert!((swing.time_s[1] - swing.time_s[0] - 0.01).abs() < 1e-9);
        assert_eq!(swing.time_s[0], 0.0);
    }
}

#[test]
fn a_mirrored_left_hander_has_turn_and_side_bend_of_opposite_sign() {
    // Read for a left-hander, a right-hander's markers are mirrored: turn and side change sign.
    let swing = read(BY_C3D, "").expect("landmarks");
    let left = swing.left_handed_series.as_ref().expect("markers");
    for (m, sign) in [
        (Measure::PelvisTurn, -1.0),
        (Measure::PelvisSideBend, -1.0),
        (Measure::PelvisForwardBend, 1.0),
        (Measure::ThoraxTurn, -1.0),
        (Measure::ThoraxSideBend, -1.0),
        (Measure::ThoraxForwardBend, 1.0),
    ] {
        for (a, b) in swing.series[&m].iter().zip(&left[&m]) {
            match (a, b) {
                (Some(a), Some(b)) => assert!((a * sign - b).abs() < 1e-6, "{m}: {a} {b}"),
                (a, b) => assert_eq!(a.is_some(), b.is_some()),
            }
        }
    }
}

#[test]
fn another_laboratory_frame_gives_the_same_angles() {
    // Y up, target along −Z.
    let mut file = c3d::read(BY_C3D).expect("file");
    for t in &mut file.tracks {
        for p in t.points.iter_mut().flatten() {
            let [x, y, z] = *p;
            *p = [-y, z, -x];
        }
    }
    let bytes = written(file, Processor::Intel);
    let plain = read(BY_C3D, "").expect("landmarks");
    let turned = read(&bytes, "target_axis = \"-z\"\nup_axis = \"+y\"\n").expect("landmarks");
    for (m, series) in &plain.series {
        for (a, b) in series.iter().zip(&turned.series[m]) {
            assert!(
                (a.unwrap_or(0.0) - b.unwrap_or(0.0)).abs() < 1e-3,
                "{m}: {a:?} {b:?}"
            );
        }
    }
}

#[test]
fn unknown_labels_are_named_and_a_mapping_finds_them() {
    let mut file = c3d::read(BY_C3D).expect("file");
    for t in &mut file.tracks {
        t.label = format!("my_{}", t.label.to_lowercase());
    }
    let bytes = written(file, Processor::Mips);
    let e = read(&bytes, "").expect_err("unknown");
    for part in ["RASIS", "T8", "my_rasis", "[labels]", "lab.c3d"] {
        assert!(e.contains(part), "{part}: {e}");
    }
    let half = "[labels]\nRASIS = \"my_rasis\"\nLASIS = \"my_lasis\"\nRPSIS = \"my_rpsis\"\nLPSIS = \"my_lpsis\"\n";
    let swing = read(&bytes, half).expect("pelvis");
    assert!(swing.series.contains_key(&Measure::PelvisTurn));
    assert!(!swing.series.contains_key(&Measure::ThoraxTurn));
    assert!(
        swing.notes.iter().any(|n| n.contains("IJ, PX, C7, T8")),
        "{:?}",
        swing.notes
    );
    let e = read(&bytes, "[labels]\nRASIS = \"R.ASIS\"\n").expect_err("unknown");
    assert!(e.contains("RASIS (looked for \"R.ASIS\")"), "{e}");
}
