//! `quarterturn set` and `quarterturn progress` through the built binary, and their pages in `show`.

mod common;
#[path = "common/http.rs"]
mod http;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use http::Show;
use quarterturn::agreement::c3d;
use quarterturn::result::{CameraEntry, Curves, Estimate, SwingResult, Why, write_result};
use quarterturn::terms::{Event, Measure};
use serde_json::Value;

const HIPS: Measure = Measure::PelvisTurnFromAddress;
const TOP: Event = Event::Top;

fn quarterturn(args: &[&str], results: &Path, out: &Path) -> Output {
    let (command, more) = args.split_first().expect("a command");
    Command::new(env!("CARGO_BIN_EXE_quarterturn"))
        .arg(command)
        .arg(results)
        .args(more)
        .arg("--out")
        .arg(out)
        .output()
        .expect("the binary runs")
}

fn told(output: &Output) -> Value {
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).expect("one JSON object")
}

/// A folder for the results and one to write to, gone with the test.
fn folders() -> (tempfile::TempDir, PathBuf, PathBuf) {
    let temporary = tempfile::tempdir().expect("a folder");
    let [results, out] = ["results", "out"].map(|f| temporary.path().join(f));
    (temporary, results, out)
}

/// A camera that stands where the others do.
fn camera() -> CameraEntry {
    CameraEntry {
        focal_px: 1000.0,
        focal_from: "file".into(),
        azimuth_off_role: Estimate::new(1.0, -4.0, 6.0),
        pitch: Estimate::new(0.0, -1.0, 1.0),
        roll: Estimate::new(0.0, -1.0, 1.0),
        distance_m: Some(4.0),
        camera_from_world: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    }
}

struct Put<'a> {
    lesson: &'a str,
    label: &'a str,
    /// Added to the hips' turn at the top.
    more_deg: f64,
    ball: Option<&'a str>,
}

fn swing(id: &str, put: &Put, template: &SwingResult) -> SwingResult {
    let mut swing = template.clone();
    swing.name = id.into();
    swing.typed_in.player = Some("Sam Sample".into());
    swing.typed_in.lesson = put.lesson.parse().ok();
    swing.typed_in.label = Some(put.label.into());
    swing.typed_in.ball_speed = put.ball.map(str::to_owned);
    swing.warnings.clear();
    for v in &mut swing.views {
        v.camera = Some(camera());
    }
    let at = swing.at.get_mut(&TOP).expect("the top");
    let e = at.get_mut(&HIPS).expect("the hips");
    let v = e.deg.expect("a number") + put.more_deg;
    *e = Estimate::new(v, v - 8.0, v + 8.0);
    swing
}

/// Five held and five free in one lesson, three held in the lesson before; the first of each with films.
fn lessons(results: &Path, films: bool) -> (SwingResult, Curves) {
    let (template, curves, overlays) = common::Truth::load("sixth-lesson").swing("sixth-lesson");
    let held = [-16.0, -18.0, -15.0, -17.0, -14.0];
    let free = [1.0, -1.0, 2.0, -2.0, 0.0];
    let before = [-8.0, -6.0, -7.0];
    let groups: [(&str, &str, &str, &[f64], &str); 3] = [
        ("held", "2026-05-14", "hips held", &held, "52 m/s"),
        ("free", "2026-05-14", "hips free", &free, "58 m/s"),
        ("before", "2026-04-02", "hips held", &before, ""),
    ];
    for (name, lesson, label, all, ball) in groups {
        for (i, more_deg) in all.iter().enumerate() {
            let id = format!("{name}-{}", i + 1);
            let put = Put {
                lesson,
                label,
                more_deg: *more_deg,
                ball: Some(ball).filter(|b| !b.is_empty()),
            };
            let swing = swing(&id, &put, &template);
            if i == 0 && films {
                common::write_parts(&results.join(&id), &swing, &curves, &overlays);
            } else {
                write_result(&results.join(&id), &swing, &curves).expect("writes");
            }
        }
    }
    (template, curves)
}

fn number<'a>(json: &'a Value, key: &str) -> &'a Value {
    json["numbers"]
        .as_array()
        .expect("numbers")
        .iter()
        .find(|n| n["number"] == key)
        .unwrap_or_else(|| panic!("{key}"))
}

#[test]
fn a_set_has_a_page_a_table_and_a_c3d_file_and_nothing_is_overwritten() {
    let kept = std::env::var_os("QUARTERTURN_KEEP_SETS").map(std::path::PathBuf::from);
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = kept.as_deref().unwrap_or(temporary.path());
    let (results, out) = (folder.join("results"), folder.join("set"));
    let (template, _) = lessons(&results, true);
    let args = [
        "set",
        "--player",
        "sam sample",
        "--label",
        "Hips Held",
        "--json",
    ];
    let json = told(&quarterturn(&args, &results, &out));
    assert_eq!(json["set"]["name"], "hips held");
    assert_eq!(json["set"]["lesson"], "2026-05-14", "the newest lesson");
    let hips = number(&json, "top_pelvis_turn_from_address");
    let base = template.at[&TOP][&HIPS].deg.expect("a number");
    let mean = hips["mean"]["value"].as_f64().expect("a mean");
    assert!(
        (mean - (base - 16.0)).abs() < 1e-9,
        "{mean} for {base} - 16"
    );
    let half = hips["mean"]["high"].as_f64().expect("an end") - mean;
    // One swing alone has 8; what is shared stays.
    assert!((4.0..8.0).contains(&half), "{half}");
    let spread = &hips["spread"];
    assert_eq!(
        spread["low"], 0.0,
        "the errors alone scatter as much: {spread}"
    );

    let page = std::fs::read_to_string(out.join("set.html")).expect("a page");
    assert!(page.len() < 4_000_000, "{} bytes", page.len());
    for text in [
        "hips held",
        "2026-05-14",
        "from 5 swings",
        "52 m/s",
        "swing0-face_on",
        "A video estimate is no clinical measurement",
        "held-3",
    ] {
        assert!(page.contains(text), "{text}");
    }
    let csv = std::fs::read_to_string(out.join("set.csv")).expect("a table");
    assert!(csv.lines().all(|l| l.contains(',')) && csv.starts_with("name,value\n"));
    let cell = |name: &str| {
        let line = csv
            .lines()
            .find_map(|l| l.strip_prefix(&format!("{name},")));
        line.unwrap_or_else(|| panic!("{name}")).to_owned()
    };
    assert_eq!(cell("swings"), "5");
    assert_eq!(cell("swing2.name"), "held-2");
    assert_eq!(cell("typed.ball_speed.mean"), "52.0000");
    let written: f64 = cell("mean.top_pelvis_turn_from_address_deg")
        .parse()
        .expect("a number");
    assert!((written - mean).abs() < 1e-3);

    let file = c3d::read(&std::fs::read(out.join("set.c3d")).expect("a file")).expect("C3D");
    assert_eq!(file.tracks.len(), 5 * 4);
    let moments: Vec<(&str, f64)> = file
        .events
        .iter()
        .map(|e| (e.label.as_str(), e.time_s))
        .collect();
    assert_eq!(
        moments,
        [
            ("address", 0.0),
            ("top", 1.0),
            ("impact", 2.0),
            ("finish", 3.0)
        ]
    );
    let turns = file
        .tracks
        .iter()
        .find(|t| t.label == "S1_TURNS_FROM_ADDRESS")
        .expect("a track");
    let at_top = turns.points[50].expect("seen");
    assert!(
        (f64::from(at_top[0]) - base).abs() < 1.0,
        "{at_top:?} for {base}"
    );

    assert_eq!(
        quarterturn(&args, &results, &out).status.code(),
        Some(2),
        "nothing is overwritten"
    );
    let none = quarterturn(
        &["set", "--player", "Nobody"],
        &results,
        &folder.join("none"),
    );
    assert_eq!(none.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&none.stderr).contains("of Nobody"));
    assert!(!folder.join("none").exists());
}

#[test]
fn held_against_free_is_told_as_a_change_and_the_knees_as_none_or_cant_tell() {
    let (_temporary, results, out) = folders();
    lessons(&results, false);
    let args = [
        "set",
        "--player",
        "Sam Sample",
        "--label",
        "hips held",
        "--against",
        "hips free",
        "--json",
    ];
    let json = told(&quarterturn(&args, &results, &out));
    assert_eq!(json["one_session"], true);
    let hips = number(&json, "top_pelvis_turn_from_address");
    let d = hips["difference"]["value"].as_f64().expect("a difference");
    assert!((d + 16.0).abs() < 1e-9, "held less free: {d}");
    assert_eq!(hips["word"], "changed");
    let knee = number(&json, "top_lead_knee_flexion");
    let word = &knee["word"];
    assert!(word["no_change_larger_than"].is_number(), "{word}");
    let words = json["words"].as_str().expect("words");
    assert!(
        words.contains("your hips turned less far by 16°"),
        "{words}"
    );
    assert_eq!(words.matches(". ").count() + 1, 2, "two sentences: {words}");
    let page = std::fs::read_to_string(out.join("sets.html")).expect("a page");
    for text in [
        "52.0 m/s in the mean of 5",
        "58.0 m/s in the mean of 5",
        "does not mean that one makes the other",
        "no change larger than",
    ] {
        assert!(page.contains(text), "{text}");
    }
}

#[test]
fn lessons_in_a_row_have_a_page_with_a_picture_of_the_top() {
    let (_temporary, results, out) = folders();
    lessons(&results, true);
    let json = told(&quarterturn(
        &["progress", "--player", "Sam Sample", "--json"],
        &results,
        &out,
    ));
    let stages = json["stages"].as_array().expect("stages");
    let titles: Vec<_> = stages.iter().map(|s| (&s["lesson"], &s["label"])).collect();
    assert_eq!(titles.len(), 3, "{titles:?}");
    assert_eq!(stages[0]["lesson"], "2026-04-02");
    let page = std::fs::read_to_string(out.join("progress.html")).expect("a page");
    assert_eq!(page.matches("class=\"top-picture\"").count(), 3);
    assert!(page.contains("2026-04-02 to 2026-05-14"), "first to last");
}

#[test]
fn what_cant_be_told_stays_so_in_a_set() {
    let (temporary, results, _) = folders();
    let (template, curves) = lessons(&results, false);
    let put = Put {
        lesson: "2026-06-01",
        label: "blind",
        more_deg: 0.0,
        ball: None,
    };
    for id in ["x-1", "x-2"] {
        let mut s = swing(id, &put, &template);
        let at = s.at.get_mut(&TOP).expect("the top");
        for (m, e) in at.iter_mut() {
            // The hips of one, the shoulders of both.
            let lost = *m == Measure::ThoraxTurnFromAddress || (*m == HIPS && id == "x-2");
            e.why = lost.then_some(Why::OddPictures);
        }
        write_result(&results.join(id), &s, &curves).expect("writes");
    }
    let args = [
        "set",
        "--player",
        "Sam Sample",
        "--label",
        "blind",
        "--json",
    ];
    let json = told(&quarterturn(&args, &results, &temporary.path().join("a")));
    let mean = |key: &str| number(&json, key)["mean"].clone();
    assert_eq!(
        mean("top_thorax_turn_from_address")["why"],
        "no swing tells it"
    );
    assert!(
        mean("top_pelvis_turn_from_address")["value"].is_number(),
        "the one that tells it"
    );
    assert_eq!(
        number(&json, "top_separation")["spread"]["why"],
        "too few swings"
    );
    let words = json["words"].as_str().expect("words");
    assert!(
        words.contains("shoulders (rib cage) turned can't be told"),
        "{words}"
    );
    // Against a set that tells: nothing is made up.
    let args = [
        "set",
        "--player",
        "Sam Sample",
        "--label",
        "blind",
        "--against",
        "hips held",
        "--against-lesson",
        "2026-05-14",
        "--json",
    ];
    let json = told(&quarterturn(&args, &results, &temporary.path().join("b")));
    assert_eq!(json["one_session"], false);
    assert_eq!(
        number(&json, "top_thorax_turn_from_address")["word"],
        "cant_tell"
    );
}

#[test]
fn the_local_page_shows_sets_two_of_them_and_progress() {
    let (_temporary, results, _) = folders();
    lessons(&results, false);
    let show = Show::start(&results, &[]);
    let page = show.get("/set?player=Sam%20Sample&lesson=2026-05-14&label=hips+held");
    assert_eq!(page.status, 200);
    assert!(page.body.contains("from 5 swings") && page.body.contains("/swing/held-2"));
    assert!(
        page.body.contains("/set.csv?player=Sam%20Sample"),
        "a way to the table"
    );
    let two = show.get("/set/against?player=Sam%20Sample&label=hips%20held&against=hips%20free");
    assert_eq!(two.status, 200);
    assert!(two.body.contains("changed"));
    let some = show.get("/set?swing=held-1&swing=free-1");
    assert!(some.body.contains("2 chosen swings"));
    let row = show.get("/progress?player=Sam%20Sample");
    assert!(row.body.contains("From lesson to lesson"));
    let csv = show.get("/set.csv?player=Sam%20Sample&label=hips%20held");
    assert!(csv.body.starts_with("name,value"));
    assert_eq!(
        csv.header("content-disposition"),
        Some("attachment; filename=\"set.csv\"")
    );
    for path in [
        "/set?player=Nobody",
        "/set?swing=../held-1",
        "/set?lesson=soon",
        "/progress?player=Nobody",
        "/set.csv?player=Nobody",
    ] {
        assert_eq!(show.get(path).status, 404, "{path}");
    }
}
