//! The built program on the sample clips, against their exact truth.
//!
//! Bounds are loose enough to be honest about one swing (the accuracy table's means are tighter) and
//! tight enough to fail a broken sign, a swapped role, a mirrored left-hander or a wrong clock.

mod program;

use program::truth::Truth;
use program::{estimate, has_warning, measure, mp4, quarterturn, sample, stderr};

const TWO: [(&str, f64); 2] = [("pelvis_turn", 12.0), ("thorax_turn", 12.0)];

fn check_top(swing: &serde_json::Value, truth: &Truth, bounds: &[(&str, f64)]) {
    for (segment, bound) in bounds {
        let (deg, low, high) = estimate(swing, "top", &format!("{segment}_from_address"));
        let true_deg = truth.since_address(segment, "top");
        assert!(
            (deg - true_deg).abs() <= *bound,
            "{segment}: read {deg:.1}, true {true_deg:.1}"
        );
        assert!(low < deg && deg < high);
    }
}

fn check_events(swing: &serde_json::Value, truth: &Truth, first_view: &str) {
    let start = truth.starts_at_s(first_view);
    for (event, key, bound) in [
        ("address", "addr", 0.1),
        ("top", "top", 0.067),
        ("impact", "imp", 0.017),
    ] {
        let s = swing["events"][event]["s"]
            .as_f64()
            .unwrap_or_else(|| panic!("no {event}"))
            + start;
        let true_s = truth.event_s(key);
        assert!(
            (s - true_s).abs() <= bound,
            "{event}: found {s:.3}, true {true_s:.3}"
        );
    }
}

#[test]
fn two_views_tell_the_lessons_apart() {
    let out = tempfile::tempdir().expect("a folder");
    let mut hips = Vec::new();
    for lesson in ["first-lesson", "sixth-lesson"] {
        // Given in the wrong order and without roles: they are found from the pictures.
        let (dtl, face) = (
            sample(&format!("{lesson}_down_the_line.mp4")),
            sample(&format!("{lesson}_face_on.mp4")),
        );
        let (code, swing) = measure(&[&dtl, &face], out.path());
        assert_eq!(code, 0, "{swing}");
        assert_eq!(swing["handedness"], "right");
        assert_eq!(swing["views"][0]["role"], "face_on");
        assert_eq!(swing["views"][1]["role"], "down_the_line");
        let truth = Truth::of(lesson);
        check_top(&swing, &truth, &TWO);
        check_events(&swing, &truth, "face_on");
        let offset = swing["views"][1]["offset_s"].as_f64().expect("an offset");
        let true_offset = truth.starts_at_s("down_the_line") - truth.starts_at_s("face_on");
        assert!(
            (offset - true_offset).abs() < 0.008,
            "offset {offset:.4}, true {true_offset:.4}"
        );
        for role in ["first", "sixth"] {
            assert!(!has_warning(&swing, role));
        }
        hips.push(estimate(&swing, "top", "pelvis_turn_from_address").0);
        let folder = out.path().join(lesson);
        for file in ["swing.json", "curves.csv", "report.html"] {
            assert!(folder.join(file).is_file(), "{file}");
        }
    }
    assert!(
        hips[1] - hips[0] > 15.0,
        "held hips {:.0}, free hips {:.0}",
        hips[0],
        hips[1]
    );
}

#[test]
fn one_view_alone_is_measured_and_said_so() {
    let out = tempfile::tempdir().expect("a folder");
    let truth = Truth::of("sixth-lesson");
    for (role, bound) in [("face_on", 14.0), ("down_the_line", 18.0)] {
        let clip = sample(&format!("sixth-lesson_{role}.mp4"));
        let (code, swing) = measure(&[&clip, &"--name", &role], out.path());
        assert_eq!(code, 0, "{swing}");
        assert_eq!(swing["views"][0]["role"], role);
        assert!(has_warning(&swing, "single_view"));
        check_top(
            &swing,
            &truth,
            &[("pelvis_turn", bound), ("thorax_turn", bound)],
        );
        check_events(&swing, &truth, role);
    }
}

#[test]
fn roles_given_the_wrong_way_round_are_put_right() {
    let out = tempfile::tempdir().expect("a folder");
    let (face, dtl) = (
        sample("sixth-lesson_face_on.mp4"),
        sample("sixth-lesson_down_the_line.mp4"),
    );
    let (code, swing) = measure(&[&"--face-on", &dtl, &"--down-the-line", &face], out.path());
    assert_eq!(code, 0, "{swing}");
    assert!(
        has_warning(&swing, "role_corrected"),
        "{}",
        swing["warnings"]
    );
    check_top(&swing, &Truth::of("sixth-lesson"), &TWO);
}

#[test]
fn a_mirrored_swing_is_a_left_handers_with_the_same_numbers() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut clips = Vec::new();
    for role in ["face_on", "down_the_line"] {
        let bytes = std::fs::read(sample(&format!("sixth-lesson_{role}.mp4"))).expect("a clip");
        let path = folder.path().join(format!("mirror_{role}.mp4"));
        std::fs::write(&path, mp4::with_matrix(bytes, -1, 0, 0, 1)).expect("written");
        clips.push(path);
    }
    let (code, swing) = measure(&[&clips[0], &clips[1]], &folder.path().join("out"));
    assert_eq!(code, 0, "{swing}");
    assert_eq!(swing["handedness"], "left");
    check_top(&swing, &Truth::of("sixth-lesson"), &TWO);
    check_events(&swing, &Truth::of("sixth-lesson"), "face_on");
}

#[test]
fn a_clock_that_makes_the_swing_slow_is_taken_at_its_word_and_the_swing_called_slow() {
    let out = tempfile::tempdir().expect("a folder");
    let clip = sample("sixth-lesson_face_on.mp4");
    let (code, swing) = measure(
        &[&clip, &"--time-scale", &"0.4", &"--every-frame"],
        out.path(),
    );
    assert_eq!(code, 0, "{swing}");
    assert!(
        has_warning(&swing, "slow_swing") && swing["real_time"]["known"] == true,
        "{}",
        swing["warnings"]
    );
}

#[test]
fn slow_motion_without_a_word_in_its_file_is_measured_on_its_own_time_and_doubted() {
    let folder = tempfile::tempdir().expect("a folder");
    let bytes = std::fs::read(sample("sixth-lesson_face_on.mp4")).expect("a clip");
    let slow = folder.path().join("slow_face_on.mp4");
    std::fs::write(&slow, mp4::stretched(bytes, 8)).expect("written");
    let (code, swing) = measure(&[&slow], &folder.path().join("out"));
    assert_eq!(code, 0, "{swing}");
    let warnings = swing["warnings"].to_string();
    assert!(
        has_warning(&swing, "odd_downswing") && warnings.contains("--time-scale 8"),
        "{warnings}"
    );
    assert_eq!(swing["real_time"]["known"], false, "{swing}");
    // The phone keeps the sound's own speed, so impact comes from the hands here. Nothing is
    // rescaled: the downswing lasts as long as it plays.
    let at = |event: &str| swing["events"][event]["s"].as_f64().expect("an event");
    let down = (at("impact") - at("top")) / 8.0;
    assert!(
        (down - 0.27).abs() < 0.07,
        "a downswing of 8 x 0.27 s was read as 8 x {down:.3} s"
    );
    check_top(
        &swing,
        &Truth::of("sixth-lesson"),
        &[("pelvis_turn", 14.0), ("thorax_turn", 14.0)],
    );
}

#[test]
fn results_are_never_overwritten_silently() {
    let out = tempfile::tempdir().expect("a folder");
    let kept = out.path().join("sixth-lesson");
    std::fs::create_dir_all(&kept).expect("a folder");
    std::fs::write(kept.join("mine.txt"), "mine").expect("written");
    let output = quarterturn()
        .arg("measure")
        .arg(sample("sixth-lesson_face_on.mp4"))
        .arg("--out")
        .arg(out.path())
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        stderr(&output).contains("exists already"),
        "{}",
        stderr(&output)
    );
    assert_eq!(
        std::fs::read_to_string(kept.join("mine.txt")).expect("still there"),
        "mine"
    );
}

#[test]
fn bad_clips_get_one_sentence_with_their_name_and_leave_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let make = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        path
    };
    let whole = std::fs::read(sample("first-lesson_face_on.mp4")).expect("a clip");
    let cases = [
        (folder.path().join("not-there.mp4"), "Check the name"),
        (make("empty.mp4", b""), "the file is empty"),
        (
            make("text.mp4", b"this is no video at all, just words in a file"),
            "not a video",
        ),
        (make("cut.mp4", &whole[..whole.len() / 50]), "not a video"),
    ];
    for (clip, words) in cases {
        let out = folder.path().join("out");
        let output = quarterturn()
            .arg("measure")
            .arg(&clip)
            .arg("--out")
            .arg(&out)
            .output()
            .expect("runs");
        let text = stderr(&output);
        assert_eq!(output.status.code(), Some(1), "{text}");
        let name = clip.file_name().expect("a name").to_string_lossy();
        assert!(text.contains(&*name) && text.contains(words), "{text}");
        assert_eq!(
            text.trim()
                .lines()
                .filter(|l| l.contains("quarterturn:"))
                .count(),
            1,
            "{text}"
        );
        let left = std::fs::read_dir(&out).map_or(0, std::iter::Iterator::count);
        assert_eq!(left, 0, "nothing may be left for {name}");
    }
}
