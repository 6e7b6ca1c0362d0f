//! The command as a coach runs it.

use std::path::Path;

use assert_cmd::Command;
use quarterturn::result::read_swing;
use serde_json::Value;

use crate::fixture::{Error, SAMPLES, Sensor, Truth, measured, write};

fn agree() -> Command {
    let mut c = Command::cargo_bin("quarterturn").expect("built");
    c.arg("agree");
    c
}

/// Two measured swings and the sensor's CSV.
fn session(dir: &Path) -> String {
    let mut csv = String::new();
    for (i, name) in SAMPLES.iter().enumerate() {
        let truth = Truth::load(name);
        let error = Error {
            wander: 1.0,
            seed: i as u64,
            ..Error::default()
        };
        write(&dir.join("results"), name, &measured(&truth, &error));
        csv += &Sensor::default().csv(&truth, name);
    }
    std::fs::write(dir.join("sensor.csv"), &csv).expect("CSV");
    csv
}

#[test]
fn json_is_as_promised_and_files_are_whole() {
    let dir = tempfile::tempdir().expect("dir");
    session(dir.path());
    let out = agree()
        .current_dir(dir.path())
        .args(["results", "sensor.csv", "--out", "out", "--json", "--c3d"])
        .output()
        .expect("ran");
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let v: Value = serde_json::from_slice(&out.stdout).expect("one object");
    let keys = |v: &Value| {
        v.as_object()
            .expect("object")
            .keys()
            .cloned()
            .collect::<Vec<_>>()
    };
    assert_eq!(keys(&v), ["measures", "swings"]);
    let m = &v["measures"]["thorax_turn"];
    assert_eq!(
        keys(m),
        [
            "n",
            "bias_deg",
            "bias_low",
            "bias_high",
            "limits_low",
            "limits_high",
            "coverage"
        ]
    );
    assert_eq!(m["n"], 2);
    let number = |v: &Value| v.as_f64().expect("number");
    assert!(number(&m["bias_low"]) < -4.0 && -4.0 < number(&m["bias_high"]));
    for name in SAMPLES {
        let s = &v["swings"][name];
        assert_eq!(keys(s), ["shift_s", "shift_low", "shift_high"]);
        assert!((number(&s["shift_s"]) - 0.13).abs() < 0.005);
    }
    let page = std::fs::read_to_string(dir.path().join("out/agreement.html")).expect("page");
    for part in [
        "<svg",
        "role=\"img\"",
        "Wheare",
        "Brown",
        "Bourgain",
        "no clinical measurement",
    ] {
        assert!(page.contains(part), "{part}");
    }
    for outside in ["<script", "http://", "https://", "src="] {
        assert!(
            !page.contains(outside),
            "the page must be self-contained: {outside}"
        );
    }
    let csv = std::fs::read_to_string(dir.path().join("out/readings.csv")).expect("CSV");
    let rows: Vec<&str> = csv.lines().filter(|l| !l.starts_with('#')).collect();
    assert_eq!(rows[0], quarterturn::agreement::export::COLUMNS);
    let cells = rows[0].split(',').count();
    assert!(rows.iter().all(|r| r.split(',').count() == cells));
    assert!(dir.path().join("out/first-lesson.c3d").is_file());
    let full: Value = serde_json::from_slice(
        &std::fs::read(dir.path().join("out/agreement.json")).expect("full"),
    )
    .expect("JSON");
    assert_eq!(full["headline"], v);
}

#[test]
fn nothing_is_overwritten_and_refusals_say_what_to_do() {
    let dir = tempfile::tempdir().expect("dir");
    session(dir.path());
    let run = |args: &[&str]| {
        let out = agree()
            .current_dir(dir.path())
            .args(args)
            .output()
            .expect("ran");
        (
            out.status.code(),
            String::from_utf8_lossy(&out.stderr).into_owned(),
        )
    };
    std::fs::create_dir(dir.path().join("taken")).expect("dir");
    std::fs::write(dir.path().join("taken/mine"), "x").expect("file");
    let (code, text) = run(&["results", "sensor.csv", "--out", "taken"]);
    assert_eq!(code, Some(2));
    assert!(text.contains("never overwritten"), "{text}");
    let (code, text) = run(&["results", "none.csv", "--out", "o1"]);
    assert_eq!(code, Some(2));
    assert!(text.contains("none.csv"), "{text}");
    let (code, text) = run(&["taken", "sensor.csv", "--out", "o2"]);
    assert_eq!(code, Some(1));
    assert!(text.contains("no measured swing"), "{text}");
    let (code, text) = run(&["results", "sensor.csv", "--out", "o3", "--learn", "l.toml"]);
    assert_eq!(code, Some(1));
    assert!(text.contains("no calibration was written"), "{text}");
    assert!(!dir.path().join("l.toml").exists());
    assert!(dir.path().join("o3/agreement.html").is_file());
    assert_eq!(run(&["results", "--out", "o4"]).0, Some(2));
}

#[test]
fn a_swing_without_a_partner_is_left_out_and_the_rest_goes_on() {
    let dir = tempfile::tempdir().expect("dir");
    let csv = session(dir.path());
    std::fs::write(
        dir.path().join("sensor.csv"),
        csv.replace("swing: sixth-lesson", "swing: other"),
    )
    .expect("CSV");
    let out = agree()
        .current_dir(dir.path())
        .args(["results", "sensor.csv", "--out", "out"])
        .output()
        .expect("ran");
    assert_eq!(out.status.code(), Some(3));
    let text = String::from_utf8_lossy(&out.stderr);
    assert!(text.contains("sixth-lesson: left out"), "{text}");
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(
        said.contains("1 swing compared") && said.contains("One swing"),
        "{said}"
    );
}

#[test]
fn a_single_measured_folder_and_an_unnamed_swing_are_taken_together() {
    let dir = tempfile::tempdir().expect("dir");
    let csv = session(dir.path());
    let one = csv
        .split("# swing: sixth")
        .next()
        .expect("first")
        .replace("# swing: first-lesson\n", "");
    std::fs::write(dir.path().join("any.csv"), one).expect("CSV");
    agree()
        .current_dir(dir.path())
        .args(["results/first-lesson", "any.csv", "--out", "out"])
        .assert()
        .code(0);
    assert!(read_swing(&dir.path().join("results/first-lesson/swing.json")).is_ok());
}
