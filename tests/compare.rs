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

/// Swings of one named player, filmed from one place, share the errors that last; others don't.
#[test]
fn swings_of_one_player_and_place_are_told_apart_more_sharply() {
    use quarterturn::config::{Factor, Pipeline};
    use quarterturn::report::compare::compare;
    use quarterturn::result::{CameraEntry, Estimate};
    use quarterturn::terms::ViewMode;

    let mut pipeline = Pipeline::default();
    pipeline.learned.differences = vec![Factor {
        mode: ViewMode::TwoView,
        measure: Measure::PelvisTurnFromAddress,
        event: None,
        scale: 0.5,
        n: 24,
    }];
    let load = |name: &str, player: Option<&str>| {
        let (mut swing, ..) = common::Truth::load(name).swing(name);
        swing.typed_in.player = player.map(str::to_owned);
        for view in &mut swing.views {
            let angle = Estimate::new(1.0, -3.0, 5.0);
            view.camera = Some(CameraEntry {
                focal_px: 1000.0,
                focal_from: "given".into(),
                azimuth_off_role: angle,
                pitch: angle,
                roll: angle,
                distance_m: Some(4.0),
                camera_from_world: Default::default(),
            });
        }
        swing
    };
    let half = |a: &_, b: &_, m: Measure| {
        let told = compare(a, b, &pipeline);
        let d = told
            .differences
            .iter()
            .find(|d| d.event == Event::Top && d.measure == m);
        let (deg, low, _) = d
            .expect("the top")
            .difference
            .parts()
            .expect("a difference");
        (deg - low, told.rule)
    };
    let wide = 32.0_f64.sqrt();
    let hips = Measure::PelvisTurnFromAddress;
    let first = load("first-lesson", Some("A Student"));
    let mut second = load("sixth-lesson", Some("a student "));
    let (sharp, rule) = half(&first, &second, hips);
    assert!((sharp - wide / 2.0).abs() < 1e-6, "{sharp}: {rule}");
    assert!(
        rule.contains("same place") && rule.contains("Clothes"),
        "{rule}"
    );
    // What was not learnt stays wide.
    assert!((half(&first, &second, Measure::ThoraxTurnFromAddress).0 - wide).abs() < 1e-6);
    for player in [None, Some("Another")] {
        let (same, rule) = half(&first, &load("sixth-lesson", player), hips);
        assert!((same - wide).abs() < 1e-6, "{player:?}");
        assert!(rule.contains("independent"), "{rule}");
    }
    for change in 0..3 {
        let mut moved = second.clone();
        match change {
            0 => moved.views[0].fps = 30.0,
            1 => moved.views[1].width += 100,
            _ => {
                let camera = moved.views[0].camera.as_mut().expect("a camera");
                camera.distance_m = camera.distance_m.map(|d| 2.0 * d);
            }
        }
        assert!(
            (half(&first, &moved, hips).0 - wide).abs() < 1e-6,
            "{change}"
        );
    }
    second.views.truncate(1);
    assert!((half(&first, &second, hips).0 - wide).abs() < 1e-6);
}
