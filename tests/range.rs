//! Two phones on the range: each sends its own clip of a swing, and the page finds out that they
//! belong together, through the built binary and a plain socket.

mod common;
#[path = "common/http.rs"]
mod http;

use std::path::Path;
use std::time::Duration;

use http::Show;
use quarterturn::result::read_swing;

const AGREED: [(&str, &str); 3] = [("consent", "yes"), ("consent", "yes"), ("consent", "yes")];
const LONG: Duration = Duration::from_secs(900);

/// Sends one clip of a sample swing as a phone does; the number of the job.
fn send(show: &Show, view: &str, sample: &str, more: &[(&str, &str)]) -> String {
    let clip =
        std::fs::read(common::samples().join(format!("{sample}_{view}.mp4"))).expect("a clip");
    let mut fields = AGREED.to_vec();
    fields.extend([("player", "Ann"), ("lesson", "2026-05-14"), ("view", view)]);
    fields.extend(more);
    let (kind, body) = Show::form(&fields, &[("clip", "VID_1.MOV", &clip)]);
    let sent = show.post("/upload", &kind, &body, Some(&show.own_origin()));
    assert_eq!(sent.status, 303, "{}", sent.body);
    let to = sent
        .header("location")
        .and_then(|l| l.strip_prefix("/job/"));
    to.expect("a job").to_owned()
}

fn folders(results: &Path) -> Vec<String> {
    let mut all: Vec<String> = std::fs::read_dir(results)
        .expect("reads")
        .flatten()
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .filter(|n| !n.starts_with('.'))
        .collect();
    all.sort();
    all
}

#[test]
fn the_second_phones_clip_joins_the_first_ones_and_they_are_one_swing() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let show = Show::start(&results, &[]);
    let first = send(
        &show,
        "face_on",
        "first-lesson",
        &[("label", "hips held"), ("club", "7 iron")],
    );
    let second = send(
        &show,
        "down_the_line",
        "first-lesson",
        &[("own_label", "Hips held ")],
    );
    let state = show.wait_for_job(&second, LONG);
    assert_eq!(state["stage"], "done", "{state}");
    let other = show.wait_for_job(&first, LONG);
    assert_eq!(
        other["result"], state["result"],
        "both phones are led to one swing"
    );
    let there = folders(&results);
    assert_eq!(there.len(), 1, "{there:?}");
    let swing = read_swing(&results.join(&there[0]).join("swing.json")).expect("reads");
    assert_eq!(swing.views.len(), 2);
    let typed = &swing.typed_in;
    assert_eq!(typed.player.as_deref(), Some("Ann"));
    assert_eq!(
        typed.lesson.map(|l| l.to_string()).as_deref(),
        Some("2026-05-14")
    );
    assert_eq!(
        typed.club.as_deref(),
        Some("7 iron"),
        "told by the first phone"
    );
    // A third clip finds no partner: both are taken.
    let third = send(
        &show,
        "down_the_line",
        "sixth-lesson",
        &[("label", "hips held")],
    );
    let state = show.wait_for_job(&third, LONG);
    assert_eq!(state["stage"], "done", "{state}");
    assert_eq!(folders(&results).len(), 2);

    let own = show.own_origin();
    let form = "application/x-www-form-urlencoded";
    let gone = show.post("/player/delete", form, b"player=Ann", Some(&own));
    assert_eq!(gone.status, 303, "{}", gone.body);
    assert!(
        folders(&results).is_empty() && folders(&folder.path().join("results-uploads")).is_empty()
    );
}

#[test]
fn two_clips_of_two_swings_are_measured_each_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let show = Show::start(&results, &[]);
    let first = send(&show, "face_on", "first-lesson", &[("label", "x")]);
    // Nothing swings in half a clip.
    let clip =
        std::fs::read(common::samples().join("sixth-lesson_down_the_line.mp4")).expect("a clip");
    let (kind, body) = Show::form(
        &[AGREED.as_slice(), &[("player", "Ann"), ("label", "x")]].concat(),
        &[("down_the_line", "a.mp4", &clip[..clip.len() / 3])],
    );
    let sent = show.post("/upload", &kind, &body, Some(&show.own_origin()));
    let second = sent
        .header("location")
        .and_then(|l| l.strip_prefix("/job/"))
        .expect("a job")
        .to_owned();
    let broken = show.wait_for_job(&second, LONG);
    assert_ne!(broken["stage"], "done", "{broken}");
    let state = show.wait_for_job(&first, LONG);
    assert_eq!(state["stage"], "done", "{state}");
    let there = folders(&results);
    assert_eq!(there.len(), 1, "{there:?}");
    let swing = read_swing(&results.join(&there[0]).join("swing.json")).expect("reads");
    assert_eq!(swing.views.len(), 1);
    assert!(
        state["result"]
            .as_str()
            .expect("a place")
            .ends_with(&there[0].replace('.', "%2E"))
    );
}

#[test]
fn what_a_phone_forgets_is_said_and_nothing_is_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    let show = Show::start(&results, &[]);
    let own = show.own_origin();
    let clip = std::fs::read(common::samples().join("first-lesson_face_on.mp4")).expect("a clip");
    let post = |fields: &[(&str, &str)], files: &[(&str, &str, &[u8])]| {
        let (kind, body) = Show::form(&[AGREED.as_slice(), fields].concat(), files);
        show.post("/upload", &kind, &body, Some(&own))
    };
    let nowhere = post(&[("player", "Ann")], &[("clip", "a.mp4", &clip)]);
    assert_eq!(nowhere.status, 422);
    assert!(
        nowhere.body.contains("where the phone stood"),
        "{}",
        nowhere.body
    );
    assert_eq!(
        post(&[("view", "above")], &[("clip", "a.mp4", &clip)]).status,
        422
    );
    assert_eq!(
        post(&[("lesson", "2026-02-30")], &[("face_on", "a.mp4", &clip)]).status,
        422
    );
    let twice = post(
        &[("view", "face_on")],
        &[("clip", "a.mp4", &clip), ("clip", "b.mp4", &clip)],
    );
    assert_eq!(twice.status, 400);
    // Who agreed for one player did not agree for another.
    let (kind, body) = Show::form(
        &[
            ("agreed_for", "Bea"),
            ("player", "Bea"),
            ("view", "face_on"),
        ],
        &[("clip", "a.mp4", &clip)],
    );
    assert_eq!(show.post("/upload", &kind, &body, Some(&own)).status, 422);
    assert!(folders(&folder.path().join("results-uploads")).is_empty());
    let form = show
        .get("/upload?player=%22%3E%3Cb%3E&label=%3Ci%3E&view=face_on")
        .body;
    assert!(!form.contains("\"><b>") && !form.contains("<i>"), "escaped");
    assert!(form.contains("capture=\"environment\""));
}
