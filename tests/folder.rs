//! `quarterturn folder` through the built program: plan, lock, reasons, and kill -9 at any moment.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_quarterturn"))
}

fn sample(role: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("sample-clips/first-lesson_{role}.mp4"))
}

/// Copies of a sample clip, each with its own content: a comment in a trailing `free` box.
fn fill(folder: &Path, swings: std::ops::Range<usize>) {
    let bytes = std::fs::read(sample("face_on")).expect("the sample");
    for i in swings {
        let mut copy = bytes.clone();
        let text = format!("copy {i:05}");
        copy.extend((8 + text.len() as u32).to_be_bytes());
        copy.extend(b"free");
        copy.extend(text.as_bytes());
        std::fs::write(folder.join(format!("swing{i:04}_face_on.mp4")), copy).expect("written");
    }
}

fn start(clips: &Path, out: &Path) -> Child {
    program()
        .args(["folder", "--json"])
        .arg(clips)
        .arg("--out")
        .arg(out)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("starts")
}

fn json(output: &std::process::Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| {
        panic!(
            "{e}: {} {}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        )
    })
}

fn results(out: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(out) else {
        return Vec::new();
    };
    let mut found: Vec<PathBuf> = entries
        .map(|e| e.expect("an entry").path())
        .filter(|p| p.join("swing.json").is_file())
        .collect();
    found.sort();
    found
}

/// The journal's rows: name, state, how often completed.
fn journal(out: &Path) -> Vec<(String, String, i64)> {
    let db = rusqlite::Connection::open(out.join(".quarterturn/journal.sqlite")).expect("opens");
    let ok: String = db
        .query_row("pragma integrity_check", [], |r| r.get(0))
        .expect("checks");
    assert_eq!(ok, "ok");
    let mut query = db
        .prepare("select name, state, completed from swings order by name")
        .expect("prepares");
    query
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
        .expect("runs")
        .map(|r| r.expect("a row"))
        .collect()
}

/// When a run is killed.
#[derive(Clone, Copy, Debug)]
enum Moment {
    /// So long after its start.
    After(Duration),
    /// Once the journal has a swing under way.
    UnderWay,
    /// So long after a worker's result is whole; it is then checked, marked, flushed to the disk
    /// and put into its place.
    Ready(Duration),
    /// Once another result stands in its place; the journal is told a moment later.
    InPlace,
}

/// True where a worker's whole result lies in the program's own folder.
fn any_ready(out: &Path) -> bool {
    let below = |folder: PathBuf| {
        let entries = std::fs::read_dir(folder).into_iter().flatten();
        entries.flatten().map(|e| e.path())
    };
    // work / worker's number / swing / its name
    below(out.join(".quarterturn/work"))
        .flat_map(below)
        .flat_map(below)
        .any(|made| made.join("swing.json").exists())
}

/// True where the journal has a swing under way. It may be locked, or not be there yet.
fn any_under_way(out: &Path) -> bool {
    let path = out.join(".quarterturn/journal.sqlite");
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    let count = |db: rusqlite::Connection| -> rusqlite::Result<i64> {
        let query = "select count(*) from swings where state = 'under_way'";
        db.query_row(query, [], |r| r.get(0))
    };
    rusqlite::Connection::open_with_flags(path, flags)
        .and_then(count)
        .is_ok_and(|n| n > 0)
}

/// Waits for the moment; false where the run ended before it came.
fn wait_for(moment: Moment, child: &mut Child, out: &Path) -> bool {
    let before = results(out).len();
    let began = Instant::now();
    while child.try_wait().expect("a state").is_none() {
        let come = match moment {
            Moment::After(time) => began.elapsed() >= time,
            Moment::UnderWay => any_under_way(out),
            Moment::Ready(later) => {
                let ready = any_ready(out);
                if ready {
                    std::thread::sleep(later);
                }
                ready
            }
            Moment::InPlace => results(out).len() > before,
        };
        if come {
            return true;
        }
        assert!(
            began.elapsed() < Duration::from_secs(600),
            "never {moment:?}"
        );
        std::thread::sleep(Duration::from_micros(300));
    }
    false
}

/// Results that stand though the journal still has them under way. A copy is looked at, so that
/// the next run itself must mend what the kill left.
fn untold(out: &Path) -> usize {
    let copy = tempfile::tempdir().expect("a folder");
    let own = copy.path().join(".quarterturn");
    std::fs::create_dir(&own).expect("made");
    for name in ["journal.sqlite", "journal.sqlite-wal"] {
        let from = out.join(".quarterturn").join(name);
        if from.exists() {
            std::fs::copy(from, own.join(name)).expect("copied");
        }
    }
    if !own.join("journal.sqlite").exists() {
        return 0;
    }
    let stand = |name: &str| out.join(name).join("swing.json").is_file();
    journal(copy.path())
        .iter()
        .filter(|(name, state, _)| state == "under_way" && stand(name))
        .count()
}

/// What kills met.
#[derive(Default)]
struct Met {
    /// Runs that ended before their moment came.
    missed: usize,
    /// Kills between a result's renaming into place and its mark in the journal.
    between: usize,
}

/// Kills a run at these moments, starts it again each time, and lets the last one finish. With
/// `each`, a run that ends before its moment gets more swings and is tried again.
fn killed(mut swings: usize, moments: impl Iterator<Item = Moment>, each: bool) -> Met {
    let folder = tempfile::tempdir().expect("a folder");
    let (clips, out) = (folder.path().join("clips"), folder.path().join("out"));
    std::fs::create_dir(&clips).expect("made");
    fill(&clips, 0..swings);
    let mut stood: Vec<(PathBuf, std::time::SystemTime)> = Vec::new();
    let mut met = Met::default();
    for (kill, moment) in moments.enumerate() {
        let mut child = start(&clips, &out);
        let mut came = wait_for(moment, &mut child, &out);
        for _ in 0..8 {
            if came || !each {
                break;
            }
            child.wait().expect("ended");
            fill(&clips, swings..swings + 2);
            swings += 2;
            child = start(&clips, &out);
            came = wait_for(moment, &mut child, &out);
        }
        met.missed += usize::from(!came);
        child.kill().expect("killed");
        child.wait().expect("ended");
        let now = results(&out);
        let untold = untold(&out);
        met.between += usize::from(untold > 0);
        eprintln!(
            "kill {}, {moment:?}: {} results stand, {untold} of them untold",
            kill + 1,
            now.len()
        );
        // What stood before still stands, untouched.
        for (path, written) in &stood {
            let again = std::fs::metadata(path.join("swing.json")).and_then(|m| m.modified());
            assert_eq!(again.expect("still there"), *written, "{}", path.display());
        }
        stood = now
            .into_iter()
            .map(|p| {
                let written = std::fs::metadata(p.join("swing.json"))
                    .and_then(|m| m.modified())
                    .expect("a time");
                (p, written)
            })
            .collect();
    }
    let output = start(&clips, &out).wait_with_output().expect("ends");
    assert_eq!(output.status.code(), Some(0), "{}", json(&output));
    let told = json(&output);
    let count = |key: &str| told[key].as_u64().expect("a number") as usize;
    assert_eq!(count("measured") + count("measured_before"), swings);
    for (path, written) in &stood {
        let again = std::fs::metadata(path.join("swing.json")).and_then(|m| m.modified());
        assert_eq!(again.expect("still there"), *written, "measured twice");
    }
    assert_eq!(results(&out).len(), swings);
    let rows = journal(&out);
    assert_eq!(rows.len(), swings);
    assert!(
        rows.iter().all(|(_, state, n)| state == "done" && *n == 1),
        "{rows:?}"
    );
    let table = std::fs::read_to_string(out.join("swings.csv")).expect("a table");
    assert_eq!(table.lines().count(), swings + 1);
    let names: std::collections::BTreeSet<String> = std::fs::read_dir(&out)
        .expect("read")
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .filter(|n| n.starts_with(".part-"))
        .collect();
    assert!(names.is_empty(), "left over: {names:?}");
    met
}

fn at_random(kills: usize, span_s: std::ops::Range<f64>) -> impl Iterator<Item = Moment> {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(20);
    (0..kills)
        .map(move |_| Moment::After(Duration::from_secs_f64(random.random_range(span_s.clone()))))
}

#[test]
fn killed_before_and_after_a_result_stands_every_swing_is_measured_once() {
    let ready = Moment::Ready(Duration::ZERO);
    let moments = [Moment::UnderWay, ready, Moment::InPlace];
    let met = killed(4, moments.into_iter(), true);
    assert_eq!(
        met.missed, 0,
        "runs ended before their kill, however much there was to do"
    );
}

fn number(name: &str, usual: usize) -> usize {
    std::env::var(name).map_or(usual, |n| n.parse().expect("a number"))
}

/// The whole bar. Takes as long as measuring 200 swings; `FOLDER_TEST_SWINGS` makes it shorter.
#[test]
#[ignore = "takes many minutes"]
fn two_hundred_swings_killed_twenty_times_are_each_measured_once() {
    killed(
        number("FOLDER_TEST_SWINGS", 200),
        at_random(20, 1.0..25.0),
        false,
    );
}

/// Kills spread over all that happens to a swing; half of them as a result comes to stand.
/// `FOLDER_TEST_KILLS` makes it shorter.
#[test]
#[ignore = "takes many minutes"]
fn swings_killed_at_every_step_are_each_measured_once() {
    let kills = number("FOLDER_TEST_KILLS", 200);
    let moments = at_random(kills, 0.5..30.0)
        .enumerate()
        .map(|(i, after)| match i % 4 {
            0 => after,
            1 => Moment::Ready(Duration::from_millis(i as u64 % 40)),
            _ => Moment::InPlace,
        });
    // A result comes to stand at every second kill at least, sometimes two.
    let met = killed(kills + 4, moments, false);
    eprintln!(
        "{kills} kills, {} came too late, {} fell between a result's place and the journal",
        met.missed, met.between
    );
    assert!(kills < 20 || met.between > 0, "none fell between");
}

#[test]
fn the_plan_pairs_names_and_tells_what_is_left_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let clips = folder.path().join("clips");
    std::fs::create_dir(&clips).expect("made");
    for role in ["face_on", "down_the_line"] {
        std::fs::copy(sample(role), clips.join(format!("anna_1_{role}.mp4"))).expect("copied");
    }
    std::fs::copy(sample("face_on"), clips.join("b.mp4")).expect("copied");
    std::fs::copy(sample("face_on"), clips.join("c.mp4")).expect("copied");
    std::fs::write(clips.join("words.mp4"), "not a clip").expect("written");
    std::fs::write(
        clips.join("quarterturn.txt"),
        "skip: c.mp4\nplayer: b.mp4 = Student 2\n",
    )
    .expect("written");
    let output = program()
        .args(["folder", "--plan", "--json"])
        .arg(&clips)
        .arg("--out")
        .arg(folder.path().join("out"))
        .output()
        .expect("runs");
    assert_eq!(output.status.code(), Some(0));
    let plan = json(&output);
    let swings = plan["swings"].as_array().expect("swings");
    assert_eq!(swings.len(), 2, "{plan}");
    assert_eq!(swings[0]["name"], "anna_1");
    assert_eq!(swings[0]["clips"].as_array().expect("clips").len(), 2);
    assert_eq!(swings[0]["kind"], "ball");
    assert_eq!(swings[1]["player"], "Student 2");
    assert_eq!(plan["skipped"][0]["path"], "c.mp4");
    let why = plan["unreadable"][0]["error"].as_str().expect("a reason");
    assert!(why.contains("words.mp4"), "{why}");
}

#[test]
fn names_of_folders_and_files_tell_whose_swing_it_is_and_what_was_tried() {
    let folder = tempfile::tempdir().expect("a folder");
    let clips = folder.path().join("clips");
    let lesson = clips.join("Student 7/2026-05-14 hips held");
    std::fs::create_dir_all(&lesson).expect("made");
    for role in ["face_on", "down_the_line"] {
        std::fs::copy(sample(role), lesson.join(format!("IMG_1_{role}.mp4"))).expect("copied");
    }
    let plan = |pattern: &str| {
        program()
            .args([
                "folder", "--plan", "--json", "--club", "7 iron", "--names", pattern,
            ])
            .arg(&clips)
            .arg("--out")
            .arg(folder.path().join("out"))
            .output()
            .expect("runs")
    };
    let output = plan("{player}/{lesson} {label}/{skip}");
    assert_eq!(output.status.code(), Some(0));
    let told = json(&output);
    let swing = &told["swings"][0];
    assert_eq!(swing["player"], "Student 7");
    assert_eq!(swing["lesson"], "2026-05-14");
    assert_eq!(swing["label"], "hips held");
    assert_eq!(swing["club"], "7 iron");
    assert_eq!(plan("{who}").status.code(), Some(2));
}

#[test]
fn a_second_run_on_the_same_folder_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let (clips, out) = (folder.path().join("clips"), folder.path().join("out"));
    std::fs::create_dir(&clips).expect("made");
    fill(&clips, 0..2);
    let mut first = start(&clips, &out);
    let began = Instant::now();
    while !out.join(".quarterturn/journal.sqlite").exists() {
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "the first run never began"
        );
        std::thread::sleep(Duration::from_millis(20));
    }
    let second = program()
        .args(["folder", "--plan", "--json"])
        .arg(&clips)
        .arg("--out")
        .arg(&out)
        .output()
        .expect("runs");
    first.kill().expect("killed");
    first.wait().expect("ended");
    assert_eq!(second.status.code(), Some(2));
    let told = json(&second);
    assert!(
        told["error"]
            .as_str()
            .expect("a sentence")
            .contains("another run"),
        "{told}"
    );
}

#[test]
fn an_empty_folder_and_a_wrong_correction_are_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let clips = folder.path().join("clips");
    std::fs::create_dir(&clips).expect("made");
    let run = || {
        program()
            .args(["folder", "--json"])
            .arg(&clips)
            .arg("--out")
            .arg(folder.path().join("out"))
            .output()
            .expect("runs")
    };
    let empty = run();
    assert_eq!(empty.status.code(), Some(1));
    assert!(
        json(&empty)["error"]
            .as_str()
            .expect("told")
            .contains("no clips")
    );
    fill(&clips, 0..1);
    std::fs::write(clips.join("quarterturn.txt"), "pear: a.mp4\n").expect("written");
    let wrong = run();
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        json(&wrong)["error"]
            .as_str()
            .expect("told")
            .contains("line 1")
    );
}

/// A clip whose worker fails is written down, the others go on, and nothing is done twice.
#[test]
fn a_broken_clip_costs_only_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let (clips, out) = (folder.path().join("clips"), folder.path().join("out"));
    std::fs::create_dir(&clips).expect("made");
    fill(&clips, 0..1);
    let whole = std::fs::read(sample("face_on")).expect("the sample");
    std::fs::write(clips.join("broken.mp4"), &whole[..whole.len() / 8]).expect("written");
    for (measured, before) in [(1, 0), (0, 1)] {
        let output = start(&clips, &out).wait_with_output().expect("ends");
        assert_eq!(output.status.code(), Some(3), "{}", json(&output));
        let told = json(&output);
        assert_eq!(told["measured"], measured, "{told}");
        assert_eq!(told["measured_before"], before, "{told}");
        assert_eq!(
            told["failed"].as_array().expect("reasons").len(),
            1,
            "{told}"
        );
    }
}
