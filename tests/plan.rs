//! A plan as tasks and one task measured, through the built program: what an engine of many machines
//! relies on. The forms are those of docs/plan.schema.json.

mod program;

use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::{Duration, Instant};

use program::{quarterturn, sample, stderr};
use serde_json::Value;

fn valid(value: &Value) {
    let schema: Value =
        serde_json::from_str(include_str!("../docs/plan.schema.json")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    let errors: Vec<String> = validator
        .iter_errors(value)
        .map(|e| e.to_string())
        .collect();
    assert!(errors.is_empty(), "{errors:?}\n{value}");
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{e}: {output:?}"))
}

/// A folder of clips, its plan in a file, and a place for what comes of its tasks.
struct Bay {
    folder: tempfile::TempDir,
    plan: Value,
}

impl Bay {
    /// Copies of one sample clip under these names, with this corrections file.
    fn new(names: &[&std::ffi::OsStr], corrections: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let clips = folder.path().join("clips");
        std::fs::create_dir(&clips).expect("made");
        for name in names {
            let clip = sample("first-lesson_face_on.mp4");
            std::fs::copy(clip, clips.join(name)).expect("copied");
        }
        std::fs::write(clips.join("words.mp4"), "not a clip").expect("written");
        std::fs::write(clips.join("quarterturn.txt"), corrections).expect("written");
        let output = quarterturn()
            .args(["folder", "--plan", "--json", "--blur-face"])
            .arg(&clips)
            .arg("--out")
            .arg(folder.path().join("results"))
            .output()
            .expect("runs");
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        let plan = json(&output);
        let bay = Self { folder, plan };
        bay.keep(&bay.plan);
        bay
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn keep(&self, plan: &Value) {
        std::fs::write(self.path("plan.json"), plan.to_string()).expect("written");
    }

    fn command(&self, arguments: &[&str]) -> std::process::Command {
        let mut command = quarterturn();
        command
            .args(["measure", "--json", "--plan"])
            .arg(self.path("plan.json"))
            .arg("--clips")
            .arg(self.path("clips"))
            .arg("--out")
            .arg(self.path("out"))
            .args(arguments);
        command
    }

    /// Exit code, what it printed, what it said.
    fn measure(&self, arguments: &[&str]) -> (Option<i32>, Value, String) {
        let output = self.command(arguments).output().expect("runs");
        let told = serde_json::from_slice(&output.stdout).unwrap_or(Value::Null);
        (output.status.code(), told, stderr(&output))
    }

    fn fingerprint(&self, task: usize) -> &str {
        self.plan["swings"][task]["fingerprint"]
            .as_str()
            .expect("a fingerprint")
    }

    /// What stands in the place for answers.
    fn out(&self) -> Vec<String> {
        let Ok(entries) = std::fs::read_dir(self.path("out")) else {
            return Vec::new();
        };
        let mut names: Vec<String> = entries
            .map(|e| {
                e.expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }
}

fn names<'a>(names: &[&'a str]) -> Vec<&'a std::ffi::OsStr> {
    names.iter().map(|n| std::ffi::OsStr::new(*n)).collect()
}

#[test]
fn a_swing_is_measured_once_under_its_fingerprint() {
    // b is a copy of a: the same work under another name.
    let bay = Bay::new(&names(&["a_face_on.mp4", "b_face_on.mp4"]), "");
    valid(&bay.plan);
    assert_eq!(bay.plan["unreadable"][0]["path"], "words.mp4");
    assert_eq!(bay.fingerprint(0), bay.fingerprint(1));
    let (code, told, said) = bay.measure(&["--task", "0"]);
    assert_eq!(code, Some(0), "{said}");
    valid(&told);
    assert_eq!(told["outcome"], "measured");
    assert_eq!(told["row"]["name"], "a");
    let turn = &told["row"]["top_thorax_turn_from_address_deg"];
    assert!(
        turn.as_str().expect("text").parse::<f64>().is_ok(),
        "{turn}"
    );
    assert_eq!(bay.out(), [bay.fingerprint(0)]);
    let stands = bay.path("out").join(bay.fingerprint(0));
    for file in ["swing.json", "curves.csv", "report.html", "outcome.json"] {
        assert!(stands.join(file).is_file(), "{file}");
    }
    let when = |file: &str| {
        let meta = std::fs::metadata(stands.join(file)).expect("there");
        meta.modified().expect("a time")
    };
    let before = when("swing.json");
    let (code, again, _) = bay.measure(&["--task", bay.fingerprint(1)]);
    assert_eq!((code, &again), (Some(0), &told));
    assert_eq!(when("swing.json"), before, "measured again");
    let options = &bay.plan["given"]["options"]["pipeline"]["report"];
    assert_eq!(options["blur_face"], true);

    // The folder's own run knows the answer for its own, and makes page and table of it.
    std::fs::remove_file(bay.path("clips/b_face_on.mp4")).expect("removed");
    let taken = quarterturn()
        .args(["folder", "--json", "--blur-face"])
        .arg(bay.path("clips"))
        .arg("--out")
        .arg(bay.path("results"))
        .arg("--measured")
        .arg(bay.path("out"))
        .output()
        .expect("runs");
    assert_eq!(json(&taken)["measured"], 1, "{}", stderr(&taken));
    let same = |file: &str| {
        let read = |folder: PathBuf| std::fs::read(folder.join(file)).expect("read");
        assert!(
            read(stands.clone()) == read(bay.path("results/a")),
            "{file}"
        );
    };
    same("swing.json");
    same("report.html");
    assert!(!bay.path("results/a/outcome.json").exists());
    let table = std::fs::read_to_string(bay.path("results/swings.csv")).expect("read");
    let header: Vec<&str> = table.lines().next().expect("a header").split(',').collect();
    let row: Vec<&String> = told["row"].as_object().expect("a row").keys().collect();
    assert_eq!(header, row);
}

#[test]
fn a_clip_that_gives_nothing_is_answered_once_and_for_all() {
    let bay = Bay::new(&names(&["a.mp4"]), "cut: a.mp4 = 0 to 0.2\n");
    let (code, told, said) = bay.measure(&[]);
    assert_eq!(code, Some(1), "{said}");
    valid(&told);
    assert_ne!(told["outcome"], "measured");
    let why = told["error"].as_str().expect("a reason");
    assert!(why.contains("a.mp4"), "{why}");
    assert_eq!(told["row"]["reason"], why);
    assert_eq!(bay.out(), [bay.fingerprint(0)]);
    std::fs::remove_file(bay.path("clips/a.mp4")).expect("removed");
    // Nothing is looked at again: the clip is not even there.
    assert_eq!(bay.measure(&[]), (Some(1), told, said));
}

#[test]
fn what_another_machine_can_do_is_told_apart() {
    let bay = Bay::new(&names(&["a.mp4"]), "cut: a.mp4 = 0 to 0.2\n");
    let again = |what: &str, part: &str, run: (Option<i32>, Value, String)| {
        assert_eq!(run.0, Some(75), "{what}: {run:?}");
        let why = run.1["error"].as_str().expect("a reason");
        assert!(why.contains(part), "{what}: {why}");
        assert!(bay.out().is_empty(), "{what}: {:?}", bay.out());
    };
    let clip = bay.path("clips/a.mp4");
    let bytes = std::fs::read(&clip).expect("read");
    std::fs::write(&clip, &bytes[..bytes.len() / 2]).expect("written");
    again("a copy cut off", "SHA-256", bay.measure(&[]));
    std::fs::remove_file(&clip).expect("removed");
    again("no clip", "Copy the clip there", bay.measure(&[]));
    std::fs::write(&clip, &bytes).expect("written");
    let mut other = bay.plan.clone();
    other["given"]["options"]["every_frame"] = true.into();
    bay.keep(&other);
    again("another option", "plan again", bay.measure(&[]));
    bay.keep(&bay.plan);
    let output = bay
        .command(&[])
        .env("QUARTERTURN_RUNTIME", bay.path("none.so"))
        .output()
        .expect("runs");
    let run = (output.status.code(), json(&output), stderr(&output));
    again("no runtime", "was not found", run);
    // The place for results is a file.
    std::fs::write(bay.path("file"), "").expect("written");
    let mut command = quarterturn();
    command
        .args(["measure", "--json", "--plan"])
        .arg(bay.path("plan.json"))
        .arg("--clips")
        .arg(bay.path("clips"))
        .arg("--out")
        .arg(bay.path("file"));
    let output = command.output().expect("runs");
    assert_eq!(output.status.code(), Some(75), "{}", stderr(&output));
}

#[test]
fn a_plan_that_asks_for_what_is_not_there_is_wrong_usage() {
    let bay = Bay::new(&names(&["a.mp4"]), "cut: a.mp4 = 0 to 0.2\n");
    let wrong = |arguments: &[&str], part: &str| {
        let (code, _, said) = bay.measure(arguments);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(part), "{said}");
    };
    wrong(&["--task", "1"], "holds 1 tasks");
    for said in [
        ["--player", "Student 1"],
        ["--notes", "windy"],
        ["--carry", "142 m"],
        ["--calibration", "c.toml"],
        ["--run-on", "processor"],
    ] {
        wrong(&said, said[0]);
    }
    let mut other = bay.plan.clone();
    other["swings"][0]["clips"][0]["path"] = "../a.mp4".into();
    bay.keep(&other);
    wrong(&[], "leads out of the folder");
    other["schema"] = "quarterturn.plan/9".into();
    bay.keep(&other);
    wrong(&[], "quarterturn.plan/9");
    std::fs::write(bay.path("plan.json"), "[]").expect("written");
    wrong(&[], "not a plan");
    assert!(bay.out().is_empty());
}

#[cfg(unix)]
#[test]
fn a_name_in_no_encoding_is_found_again() {
    use std::os::unix::ffi::OsStrExt;
    let name = std::ffi::OsStr::from_bytes(b"a\xff b.mp4");
    let bay = Bay::new(&[name], "");
    valid(&bay.plan);
    let written = &bay.plan["swings"][0]["clips"][0]["path"]["base64"];
    assert_eq!(written, "Yf8gYi5tcDQ=");
    // Found under its own bytes: what is amiss is its content.
    std::fs::write(bay.path("clips").join(Path::new(name)), "x").expect("written");
    let (code, told, _) = bay.measure(&[]);
    assert_eq!(code, Some(75));
    let why = told["error"].as_str().expect("a reason");
    assert!(why.contains("SHA-256"), "{why}");
}

#[cfg(unix)]
#[test]
fn a_task_that_is_stopped_asks_for_another_try() {
    let bay = Bay::new(&names(&["a_face_on.mp4"]), "");
    let child = bay
        .command(&[])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    let began = Instant::now();
    while bay.out().is_empty() {
        assert!(began.elapsed() < Duration::from_secs(120), "never began");
        std::thread::sleep(Duration::from_millis(20));
    }
    let ended = std::process::Command::new("kill")
        .args(["-TERM", &child.id().to_string()])
        .status()
        .expect("kill runs");
    assert!(ended.success());
    let output = child.wait_with_output().expect("ends");
    assert_eq!(output.status.code(), Some(130), "{}", stderr(&output));
    assert!(bay.out().is_empty(), "{:?}", bay.out());
}
