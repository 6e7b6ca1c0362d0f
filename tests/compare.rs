//! `quarterturn compare` through the built binary.

mod common;

use std::path::Path;
use std::process::Command;

use quarterturn::terms::{Event, Measure};

fn compare(a: &Path, b: &Path, out: &Path, more: &[&str]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_quarterturn"))
        .arg("compare")
        .args([a, b])
        .arg("--out")
        .arg(out)
        .args(more)
        .output()
        .expect("the binary runs")
}

#[test]
fn two_swings_are_set_side_by_side_and_nothing_is_overwritten() {
    let kept = std::env::var_os("QUARTERTURN_KEEP_COMPARE").map(std::path::PathBuf::from);
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = kept.as_deref().unwrap_or(temporary.path());
    let (a, b, out) = (
        folder.join("first"),
        folder.join("sixth"),
        folder.join("out"),
    );
    for (path, name, speed) in [
        (&a, "first-lesson", "38 m/s"),
        (&b, "sixth-lesson", "44 m/s"),
    ] {
        let (mut swing, curves, overlays) = common::Truth::load(name).swing(name);
        swing.typed_in.ball_speed = Some(speed.into());
        common::write_parts(path, &swing, &curves, &overlays);
    }
    let end = compare(&a, &b, &out, &["--json"]);
    assert_eq!(
        end.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&end.stderr)
    );
    let told: serde_json::Value = serde_json::from_slice(&end.stdout).expect("one JSON object");
    let file: serde_json::Value =
        serde_json::from_slice(&std::fs::read(out.join("comparison.json")).expect("a file"))
            .expect("JSON");
    assert_eq!(told, file);
    let swings =
        [&a, &b].map(|f| quarterturn::result::read_swing(&f.join("swing.json")).expect("a result"));
    let at = |i: usize, m: Measure| swings[i].at[&Event::Top][&m].deg.expect("given");
    let d = told["differences"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|d| d["event"] == "top" && d["measure"] == "pelvis_turn_from_address")
        .expect("the hips at the top");
    let expected = at(1, Measure::PelvisTurnFromAddress) - at(0, Measure::PelvisTurnFromAddress);
    let got = d["difference"]["deg"].as_f64().expect("a number");
    assert!((got - expected).abs() < 1e-9, "{got} for {expected}");
    let half = got - d["difference"]["low"].as_f64().expect("a number");
    assert!(
        (half - 32.0_f64.sqrt()).abs() < 1e-6,
        "±4° and ±4° make {half}"
    );
    assert_eq!(d["word"], "changed");
    let page = std::fs::read_to_string(out.join("comparison.html")).expect("a page");
    assert!(page.len() < 3_000_000, "{} bytes", page.len());
    assert!(page.contains("38 m/s") && page.contains("44 m/s"));
    assert!(page.contains("first-down_the_line") && page.contains("second-face_on"));

    // The same folder again: refused, and the first page is untouched.
    let again = compare(&a, &b, &out, &[]);
    assert_eq!(again.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&again.stderr).contains("not empty"));
    assert_eq!(
        std::fs::read_to_string(out.join("comparison.html")).expect("a page"),
        page
    );
}

#[test]
fn a_folder_without_a_result_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("out");
    let end = compare(folder.path(), folder.path(), &out, &[]);
    assert_eq!(end.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&end.stderr).contains("swing.json"));
    assert!(!out.exists());
}
