//! Damaged copies of the sample clips: whatever the decoder makes of them, a run ends in time, with
//! a result or a sentence, and takes no other clip down.

#[path = "program/mod.rs"]
mod program;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;

use program::{quarterturn, sample};
use quarterturn::config::Pipeline;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wait_timeout::ChildExt;

/// A clip of 2.7 s is decoded in half a second and measured in half a minute.
const INSPECT_LIMIT: Duration = Duration::from_secs(60);
const MEASURE_LIMIT: Duration = Duration::from_secs(300);

/// Where the index of a clip lies: its `moov` box, from and to.
fn index(bytes: &[u8]) -> (usize, usize) {
    let mut at = 0;
    while at + 8 <= bytes.len() {
        let size = u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes")) as usize;
        if &bytes[at + 4..at + 8] == b"moov" {
            return (at, at + size);
        }
        at += size.max(8);
    }
    panic!("the sample clip has no index")
}

/// Copy `i`: one to 256 bytes changed, in every other copy all of them in the index.
fn damaged(clip: &[u8], i: u64) -> Vec<u8> {
    let mut random = ChaCha8Rng::seed_from_u64(i);
    let (from, to) = if i.is_multiple_of(2) {
        index(clip)
    } else {
        (0, clip.len())
    };
    let mut copy = clip.to_vec();
    for _ in 0..1_u32 << random.random_range(0..9) {
        let at = random.random_range(from..to);
        copy[at] ^= random.random_range(1..=255_u8);
    }
    copy
}

/// What a run printed. `Err`: it panicked, hung, was killed by a signal, or gave no reason.
fn run(
    arguments: &[&dyn AsRef<std::ffi::OsStr>],
    told: &str,
    limit: Duration,
) -> Result<i32, String> {
    let mut child = quarterturn()
        .args(arguments.iter().map(|a| a.as_ref()))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    let mut pipe = child.stdin.take().expect("a pipe");
    // One that takes nothing from it may have ended already.
    let _ = pipe.write_all(told.as_bytes());
    // Less is printed than a pipe holds, so nobody need read meanwhile.
    let Some(status) = child.wait_timeout(limit).expect("waits") else {
        child.kill().expect("killed");
        child.wait().expect("ended");
        return Err(format!("not over after {limit:?}"));
    };
    let output = child.wait_with_output().expect("read");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    if said.contains("panicked") {
        return Err(said);
    }
    match status.code() {
        Some(0) if told.starts_with("{\"Err\":") => Ok(1),
        Some(0) => Ok(0),
        Some(1) if told.contains("\"error\":\"") => Ok(1),
        code => Err(format!("ended with {code:?}: {said}{told}")),
    }
}

/// Decodes sound and pictures of every copy, and measures every `measured`th.
fn all_survived(copies: u64, measured: u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let clips: Vec<Vec<u8>> = ["first-lesson", "sixth-lesson"]
        .iter()
        .flat_map(|s| ["face_on", "down_the_line"].map(|r| sample(&format!("{s}_{r}.mp4"))))
        .map(|p| std::fs::read(p).expect("a sample clip"))
        .collect();
    let pipeline = serde_json::to_value(Pipeline::default()).expect("JSON");
    let mut wrong = Vec::new();
    let mut read = 0;
    for i in 0..copies {
        let clip = &clips[(i / 2) as usize % clips.len()];
        let path = folder.path().join(format!("copy{i}.mp4"));
        std::fs::write(&path, damaged(clip, i)).expect("written");
        let job = serde_json::json!({"Inspect": {
            "clip": path.as_os_str(), "pipeline": pipeline, "frames": true
        }});
        match run(&[&"worker"], &format!("{job}\n"), INSPECT_LIMIT) {
            Ok(code) => read += u64::from(code == 0),
            Err(why) => wrong.push(format!("inspect copy {i}: {why}")),
        }
        if i % measured == 0 {
            let out = folder.path().join(format!("out{i}"));
            let ended = run(
                &[
                    &"measure", &path, &"--out", &out, &"--json", &"--jobs", &"1",
                ],
                "",
                MEASURE_LIMIT,
            );
            wrong.extend(ended.err().map(|why| format!("measure copy {i}: {why}")));
        }
        std::fs::remove_file(&path).expect("removed");
    }
    eprintln!("{copies} damaged copies, {read} of them still readable");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn forty_damaged_clips_are_survived() {
    all_survived(40, 40);
}

/// `DAMAGED_TEST_CLIPS` makes it shorter.
#[test]
#[ignore = "takes many minutes"]
fn a_thousand_damaged_clips_are_survived() {
    let copies = std::env::var("DAMAGED_TEST_CLIPS").map_or(1000, |n| n.parse().expect("a number"));
    all_survived(copies, 25);
}

/// Damaged clips beside good ones in a folder: the good ones are measured.
#[test]
#[ignore = "measures whole clips"]
fn damaged_clips_in_a_folder_take_no_other_down() {
    let folder = tempfile::tempdir().expect("a folder");
    let (clips, out) = (folder.path().join("clips"), folder.path().join("out"));
    std::fs::create_dir(&clips).expect("made");
    let good = std::fs::read(sample("sixth-lesson_face_on.mp4")).expect("a sample clip");
    std::fs::write(clips.join("good_face_on.mp4"), &good).expect("written");
    for i in 0..10 {
        let path: PathBuf = clips.join(format!("bad{i}_face_on.mp4"));
        std::fs::write(path, damaged(&good, 5_000 + i)).expect("written");
    }
    let ended = quarterturn()
        .args(["folder", "--json"])
        .arg(&clips)
        .arg("--out")
        .arg(&out)
        .output()
        .expect("runs");
    assert!(
        matches!(ended.status.code(), Some(0 | 3)),
        "{}",
        String::from_utf8_lossy(&ended.stdout)
    );
    let found = |name: &str| Path::new(&out).join(name).join("swing.json").is_file();
    assert!(found("good"), "{}", String::from_utf8_lossy(&ended.stdout));
}
