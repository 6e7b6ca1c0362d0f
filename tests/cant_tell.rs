//! "Can't tell" and "no swing" through the built binary, on clips made poor by the `ffmpeg` program.

mod program;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

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

/// A golfer small, dim and blurred in a picture full of noise.
const POOR: &str = "scale=108:192,gblur=sigma=1.6,scale=540:960,eq=brightness=-0.35:contrast=0.5,noise=alls=40:allf=t";
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
    }
    assert!(
        said.contains("can't tell") && page.contains("can't tell"),
        "{said}"
    );
    assert!(
        page.contains("data-untold=\"one_view\""),
        "what to film better"
    );
    let curves = std::fs::read_to_string(folder.join("curves.csv")).expect("curves");
    assert!(curves.contains("thorax_turn_from_address_why") && curves.contains("one_view"));
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
