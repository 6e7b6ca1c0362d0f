//! "Can't tell" and "no swing" through the built binary, on clips made poor by the `ffmpeg` program.

#[path = "common/http.rs"]
mod http;
mod program;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::Duration;

use http::Show;
use program::{quarterturn, sample};
use serde_json::Value;

/// Encodes a clip anew through a picture filter.
fn filtered(from: &Path, filter: &str, to: PathBuf) -> PathBuf {
    let ended = Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-y", "-threads", "1", "-i"])
        .arg(from)
        .args(["-an", "-vf", filter, "-c:v", "libx264", "-preset"])
        .args(["ultrafast", "-crf", "18"])
        .arg(&to)
        .output()
        .unwrap_or_else(|e| panic!("ffmpeg does not run ({e}); install the package ffmpeg"));
    let said = String::from_utf8_lossy(&ended.stderr);
    assert!(ended.status.success(), "{filter}: {said}");
    to
}

/// A golfer of some 100 pixels, blurred and shown large.
const POOR: &str = "scale=68:120,gblur=sigma=1,scale=540:960";
/// The first 0.4 s, in which the golfer stands, over and over.
const STANDING: &str = "trim=end=0.4,loop=loop=4:size=24,setpts=N/60/TB";

fn run(arguments: &[&dyn AsRef<std::ffi::OsStr>]) -> Output {
    let mut command = quarterturn();
    for a in arguments {
        command.arg(a.as_ref());
    }
    command.output().expect("the program runs")
}

fn json(bytes: &[u8]) -> Value {
    serde_json::from_slice(bytes)
        .unwrap_or_else(|e| panic!("one JSON object ({e}): {}", String::from_utf8_lossy(bytes)))
}

/// Every angle of a result: moment, measure, number.
fn angles(swing: &Value) -> Vec<(String, String, Value)> {
    let at = swing["at"].as_object().expect("moments");
    at.iter()
        .flat_map(|(event, measures)| {
            let all = measures.as_object().expect("measures").iter();
            all.map(move |(m, e)| (event.clone(), m.clone(), e.clone()))
        })
        .collect()
}

/// A number that can't be told is in swing.json with its value, interval and reason, and nowhere else.
#[test]
fn a_number_too_wide_to_use_is_written_as_cant_tell_everywhere() {
    let folder = tempfile::tempdir().expect("a folder");
    let clip = filtered(
        &sample("sixth-lesson_down_the_line.mp4"),
        POOR,
        folder.path().join("poor_down_the_line.mp4"),
    );
    let out = folder.path().join("out");
    let ended = run(&[&"measure", &clip, &"--out", &out, &"--quiet"]);
    let said = String::from_utf8_lossy(&ended.stdout);
    assert_eq!(ended.status.code(), Some(0), "{ended:?}");
    let folder = out.join("poor");
    let swing = json(&std::fs::read(folder.join("swing.json")).expect("a result"));
    assert_eq!(swing["schema"], "quarterturn.swing/2");
    let page = std::fs::read_to_string(folder.join("report.html")).expect("a page");
    let angles = angles(&swing);
    let untold: Vec<_> = angles
        .iter()
        .filter(|(_, _, e)| e["usable"] == false && !e["deg"].is_null())
        .collect();
    assert!(!untold.is_empty(), "nothing in it is too wide: {said}");
    for (event, measure, e) in &angles {
        let mark = format!("data-event=\"{event}\" data-measure=\"{measure}\"");
        if e["usable"] == true {
            let deg = e["deg"].as_f64().expect("a value");
            assert!(page.contains(&format!("value=\"{deg}\" {mark}")), "{mark}");
        } else {
            let why = e["why"].as_str().expect("a reason");
            let shown =
                format!("value=\"\" {mark} data-low=\"\" data-high=\"\" data-why=\"{why}\"");
            assert!(page.contains(&shown), "{shown}");
        }
    }
    for (event, measure, e) in &untold {
        assert!(e["high"].as_f64() > e["low"].as_f64(), "{event} {measure}");
        let why = e["why"].as_str().expect("a reason");
        let advice = format!("data-untold=\"{why}\"");
        assert!(page.contains(&advice), "what to film better: {why}");
    }
    assert!(said.contains("can't tell"), "{said}");
    // The terminal's own lines hold no number that can't be told.
    let hips = &swing["at"]["top"]["pelvis_turn_from_address"];
    let line = said.lines().find(|l| l.contains("at the top  Hip turn"));
    let told = !line.expect("a line").contains("can't tell");
    assert_eq!(told, hips["usable"] == true, "{said}");
    let curves = std::fs::read_to_string(folder.join("curves.csv")).expect("curves");
    let mut rows = csv::Reader::from_reader(curves.as_bytes());
    let head = rows.headers().expect("a head").clone();
    let column = head.iter().position(|h| h == "lead_knee_flexion_why");
    let column = column.expect("a column of reasons");
    let reasons: Vec<_> = rows
        .records()
        .map(|r| r.expect("a row")[column].to_owned())
        .collect();
    assert!(reasons.iter().all(|r| !r.is_empty()), "{reasons:?}");
}

#[test]
fn a_good_pair_can_be_told_whole_at_the_top() {
    let out = tempfile::tempdir().expect("a folder");
    let (face, dtl) = (
        sample("sixth-lesson_face_on.mp4"),
        sample("sixth-lesson_down_the_line.mp4"),
    );
    let ended = run(&[&"measure", &face, &dtl, &"--out", &out.path(), &"--json"]);
    let swing = json(&ended.stdout);
    for measure in ["pelvis_turn_from_address", "thorax_turn_from_address"] {
        for event in ["top", "impact"] {
            assert_eq!(
                swing["at"][event][measure]["usable"], true,
                "{measure} {event}"
            );
        }
    }
    assert_eq!(swing["real_time"]["known"], true);
    assert_eq!(swing["tempo"]["ratio"]["usable"], true);
}

#[test]
fn a_clip_without_a_swing_is_an_answer_and_no_failure() {
    let folder = tempfile::tempdir().expect("a folder");
    let clips = folder.path().join("clips");
    std::fs::create_dir(&clips).expect("made");
    let standing = filtered(
        &sample("sixth-lesson_face_on.mp4"),
        STANDING,
        clips.join("standing.mp4"),
    );
    let out = folder.path().join("one");
    let ended = run(&[&"measure", &standing, &"--out", &out, &"--json"]);
    assert_eq!(ended.status.code(), Some(1));
    let told = json(&ended.stdout);
    assert_eq!(told["outcome"], "no_swing", "{told}");
    let text = told["error"].as_str().expect("a sentence");
    assert!(text.contains("there is no swing in this clip"), "{text}");

    std::fs::copy(
        sample("first-lesson_face_on.mp4"),
        clips.join("swing_face_on.mp4"),
    )
    .expect("copied");
    let out = folder.path().join("all");
    for (measured, before) in [(1, 0), (0, 1)] {
        let ended = run(&[&"folder", &clips, &"--out", &out, &"--json", &"--again"]);
        let told = json(&ended.stdout);
        assert_eq!(ended.status.code(), Some(0), "{told}");
        assert_eq!(told["measured"], measured, "{told}");
        assert_eq!(told["measured_before"], before, "{told}");
        assert_eq!(told["failed"], serde_json::json!([]), "{told}");
        assert_eq!(told["no_swing"][0]["name"], "standing", "{told}");
        // A second look would take some seconds.
        let quick = told["seconds"].as_u64().expect("seconds") < 3;
        assert!(measured == 1 || quick, "{told}");
    }
    let ended = run(&[&"folder", &clips, &"--out", &out, &"--quiet"]);
    let said = String::from_utf8_lossy(&ended.stdout);
    let last = said.lines().last().expect("a last line");
    assert!(last.contains("1 before, no swing in 1"), "{said}");
    let page = std::fs::read_to_string(out.join("index.html")).expect("a page");
    assert!(page.contains("No swing in these clips") && !page.contains("Not measured"));
    let table = std::fs::read_to_string(out.join("swings.csv")).expect("a table");
    let line = table.lines().find(|l| l.starts_with("standing"));
    assert!(line.expect("a row").contains(",no_swing,"), "{table}");
}

#[test]
fn a_clip_without_a_person_is_told_apart() {
    let folder = tempfile::tempdir().expect("a folder");
    let empty = filtered(
        &sample("sixth-lesson_face_on.mp4"),
        "drawbox=color=gray:t=fill",
        folder.path().join("empty.mp4"),
    );
    let out = folder.path().join("out");
    let ended = run(&[&"measure", &empty, &"--out", &out, &"--json"]);
    assert_eq!(ended.status.code(), Some(1));
    assert_eq!(json(&ended.stdout)["outcome"], "nobody_found");
}

/// The local page lists a clip without a swing by itself, also after a new start, and never looks at
/// it again.
#[test]
fn the_local_page_tells_a_clip_without_a_swing_from_a_failure() {
    let folder = tempfile::tempdir().expect("a folder");
    let results = folder.path().join("results");
    std::fs::create_dir(&results).expect("made");
    let standing = filtered(
        &sample("sixth-lesson_face_on.mp4"),
        STANDING,
        folder.path().join("standing.mp4"),
    );
    let show = Show::start(&results, &[]);
    let clip = std::fs::read(&standing).expect("a clip");
    let fields = [("consent", "yes"); 3];
    let (kind, body) = Show::form(&fields, &[("face_on", "standing.mp4", &clip)]);
    let sent = show.post("/upload", &kind, &body, Some(&show.own_origin()));
    assert_eq!(sent.status, 303, "{}", sent.body);
    let job = sent
        .header("location")
        .and_then(|l| l.strip_prefix("/job/"));
    let state = show.wait_for_job(job.expect("a job"), Duration::from_secs(300));
    assert_eq!(state["stage"], "no_swing", "{state}");
    assert_eq!(state["words"], "no swing", "{state}");
    let listed = |page: &str| {
        let list = page.split("Clips without a result").nth(1);
        list.is_some_and(|l| l.contains("there is no swing in this clip"))
    };
    assert!(listed(&show.get("/").body));
    drop(show);
    let show = Show::start(&results, &[]);
    let page = show.get("/").body;
    assert!(listed(&page) && !page.contains("Being measured"), "{page}");
}
