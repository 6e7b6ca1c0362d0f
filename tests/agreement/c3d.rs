//! C3D files: all three processors, files of other packages, ours read by them.

use quarterturn::agreement::c3d::{self, C3dEvent, C3dWriter, Processor, Track};
use quarterturn::agreement::export::to_c3d;
use quarterturn::terms::{Event, Measure};

use crate::fixture::{Error, Truth, measured};
use crate::markers::{BY_C3D, BY_EZC3D};

fn writer(processor: Processor) -> C3dWriter {
    let track = |label: &str, k: f32| Track {
        label: label.into(),
        description: format!("about {label}"),
        points: (0..30)
            .map(|i| (i % 7 != 3).then(|| [k + i as f32, -0.125 * i as f32, 1e-3 * k]))
            .collect(),
    };
    C3dWriter {
        processor,
        rate_hz: 59.94,
        first_frame: 4,
        tracks: vec![track("A", 1.0), track("LONGER_LABEL", 1234.5)],
        events: vec![
            C3dEvent {
                label: "top".into(),
                time_s: 0.25,
            },
            C3dEvent {
                label: "impact".into(),
                time_s: 61.5,
            },
        ],
        angles: vec!["A".into()],
        texts: ("NOTE".into(), vec![("FRAME".into(), "as told".into())]),
    }
}

#[test]
fn what_is_written_is_read_back_for_every_processor() {
    for processor in [Processor::Intel, Processor::Dec, Processor::Mips] {
        let w = writer(processor);
        let file = c3d::read(&w.to_bytes().expect("bytes")).expect("read");
        assert_eq!(file.processor, processor);
        assert!((file.rate_hz - 59.94).abs() < 1e-4);
        assert_eq!((file.first_frame, file.units.as_str()), (4, "mm"));
        assert_eq!(file.tracks, w.tracks);
        assert_eq!(file.events, w.events);
        assert_eq!(
            file.parameter("NOTE", "FRAME").map(|v| v.texts().to_vec()),
            Some(vec!["as told".to_owned()])
        );
        assert!((file.time_s(0) - 3.0 / file.rate_hz).abs() < 1e-9);
    }
}

#[test]
fn integer_files_are_scaled() {
    // Built by hand: one point, two frames, scale 0.1, MIPS words.
    let mut b = vec![0_u8; 512 * 3];
    let put = |b: &mut Vec<u8>, word: usize, v: &[u8]| {
        b[(word - 1) * 2..(word - 1) * 2 + v.len()].copy_from_slice(v);
    };
    b[0] = 2;
    b[1] = 0x50;
    put(&mut b, 2, &1_u16.to_be_bytes());
    put(&mut b, 4, &1_u16.to_be_bytes());
    put(&mut b, 5, &2_u16.to_be_bytes());
    put(&mut b, 7, &0.1_f32.to_be_bytes());
    put(&mut b, 9, &3_u16.to_be_bytes());
    put(&mut b, 11, &50.0_f32.to_be_bytes());
    b[512..516].copy_from_slice(&[1, 0x50, 1, 86]);
    for (i, v) in [100_i16, -200, 300, 0, 1, 2, 3, -1].iter().enumerate() {
        b[1024 + i * 2..1026 + i * 2].copy_from_slice(&v.to_be_bytes());
    }
    let file = c3d::read(&b).expect("read");
    let points = &file.tracks[0].points;
    let p = points[0].expect("seen");
    for (v, e) in p.iter().zip([10.0, -20.0, 30.0]) {
        assert!((v - e).abs() < 1e-4);
    }
    assert_eq!(points[1], None, "the fourth word was negative");
}

#[test]
fn files_of_other_packages_are_read() {
    for bytes in [BY_C3D, BY_EZC3D] {
        let file = c3d::read(bytes).expect("read");
        assert_eq!(file.tracks.len(), 8);
        assert_eq!(file.tracks[0].points.len(), 40);
        assert_eq!(file.rate_hz, 100.0);
        assert_eq!(file.units, "mm");
        let c7 = file
            .tracks
            .iter()
            .find(|t| t.label.ends_with("C7"))
            .expect("C7");
        assert_eq!(c7.points.iter().filter(|p| p.is_none()).count(), 1);
    }
}

/// A piece of a laboratory's file (PyPI package biomdp, MIT), against what ezc3d reads in it.
#[test]
fn a_laboratory_file_is_read_as_ezc3d_reads_it() {
    let expect: serde_json::Value =
        serde_json::from_str(include_str!("../reference/c3d_sample.json")).expect("JSON");
    let file = c3d::read(include_bytes!("../reference/c3d_sample.c3d")).expect("read");
    assert_eq!(file.rate_hz, expect["rate"].as_f64().expect("rate"));
    assert_eq!(file.units, expect["units"].as_str().expect("units"));
    let labels = expect["labels"].as_array().expect("labels");
    let tracks = expect["points"].as_array().expect("tracks");
    assert_eq!(file.tracks.len(), tracks.len());
    let mut compared = 0;
    for ((track, label), rows) in file.tracks.iter().zip(labels).zip(tracks) {
        assert_eq!(track.label, label.as_str().expect("label"));
        let rows = rows.as_array().expect("rows");
        assert_eq!(track.points.len(), rows.len());
        for (p, row) in track.points.iter().zip(rows) {
            let Some(p) = p else {
                // Not seen: ezc3d gives nothing, or the zeros that stand in the file.
                assert!(row[0].is_null() || row[0] == 0.0, "{label} {row}");
                continue;
            };
            for (v, e) in p.iter().zip(row.as_array().expect("xyz")) {
                assert!(
                    (f64::from(*v) - e.as_f64().expect("number")).abs() < 1e-3,
                    "{label}"
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 100, "{compared}");
}

#[test]
fn nonsense_is_refused_with_a_sentence() {
    for bytes in [
        &b""[..],
        b"\x02\x50",
        b"PK\x03\x04 not a C3D",
        &[2, 0x50, 0, 0],
    ] {
        let e = c3d::read(bytes).expect_err("nonsense");
        assert!(e.ends_with('.'), "{e}");
    }
    let mut wrong = BY_C3D.to_vec();
    wrong[515] = 90;
    assert!(
        c3d::read(&wrong)
            .expect_err("processor")
            .contains("processor type 90")
    );
}

#[test]
fn truncation_anywhere_never_panics_and_never_invents_frames() {
    for bytes in [BY_C3D, BY_EZC3D] {
        for n in (0..bytes.len()).step_by(61) {
            if let Ok(file) = c3d::read(&bytes[..n]) {
                assert!(file.tracks.iter().all(|t| t.points.len() * 128 <= n));
            }
        }
    }
}

#[test]
fn a_claim_of_65535_points_of_nothing_costs_nothing() {
    let mut b = BY_C3D.to_vec();
    b[2] = 0xff;
    b[3] = 0xff;
    b[8] = 0xff;
    b[9] = 0xff;
    if let Ok(file) = c3d::read(&b) {
        let points: usize = file.tracks.iter().map(|t| t.points.len()).sum();
        assert!(points * 8 <= b.len());
    }
}

#[test]
fn an_exported_swing_holds_axes_angles_joints_and_events() {
    let truth = Truth::load("first-lesson");
    let (swing, curves) = measured(&truth, &Error::default());
    let bytes = to_c3d(&swing, &curves).expect("bytes");
    let file = c3d::read(&bytes).expect("read");
    let track = |l: &str| {
        file.tracks
            .iter()
            .find(|t| t.label == l)
            .unwrap_or_else(|| panic!("{l}"))
    };
    assert!((file.rate_hz - 60.0).abs() < 1e-6);
    let top = swing.events[&Event::Top].s.expect("top");
    let event = file
        .events
        .iter()
        .find(|e| e.label == "top")
        .expect("event");
    assert!((event.time_s - top).abs() < 1e-5);
    for (i, p) in track("THORAX_ANGLES").points.iter().enumerate() {
        let t = file.time_s(i);
        let expect = truth.at(Measure::ThoraxTurn, t + truth.starts_at_s);
        let [turn, ..] = p.expect("known");
        assert!(
            (f64::from(turn) - expect).abs() < 0.05,
            "{t}: {turn} {expect}"
        );
    }
    // The x axis in the world is the azimuth of the turn: closed by 90° it points to −Y.
    let i = (top * 60.0).round() as usize;
    let (o, x) = (
        track("THORAX_O").points[i].expect("o"),
        track("THORAX_X").points[i].expect("x"),
    );
    let azimuth = f64::from(x[1] - o[1])
        .atan2(f64::from(x[0] - o[0]))
        .to_degrees();
    let turn = track("THORAX_ANGLES").points[i].expect("angles")[0];
    assert!((azimuth + f64::from(turn)).abs() < 0.1, "{azimuth} {turn}");
    assert_eq!(o, [0.0, 0.0, 1300.0]);
    for (name, part) in [
        ("FRAME", "X along the target line"),
        ("SEQUENCE", "Rz(-turn)"),
        ("CAUTION", "no clinical"),
    ] {
        let text = file
            .parameter("QUARTERTURN", name)
            .expect(name)
            .texts()
            .join("");
        assert!(text.contains(part), "{text}");
    }
    if let Some(folder) = std::env::var_os("QUARTERTURN_WRITE_C3D") {
        std::fs::create_dir_all(&folder).expect("folder");
        let path = std::path::Path::new(&folder);
        std::fs::write(path.join("exported.c3d"), &bytes).expect("written");
        for (p, n) in [
            (Processor::Intel, "intel"),
            (Processor::Dec, "dec"),
            (Processor::Mips, "mips"),
        ] {
            let bytes = writer(p).to_bytes().expect("bytes");
            std::fs::write(path.join(format!("{n}.c3d")), bytes).expect("written");
        }
    }
}
