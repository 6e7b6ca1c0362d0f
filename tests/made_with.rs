//! `quarterturn check RESULTS`: what results were made with, for those of every version of the file
//! (`tests/old_results` holds one of each, as the program of its day wrote it).

mod program;

use std::path::Path;

use program::{quarterturn, stderr};
use serde_json::Value;

const VERSION_1: &str = include_str!("old_results/version_1_swing.json");
const VERSION_2: &str = include_str!("old_results/version_2_swing.json");
const CURVES_1: &str = include_str!("old_results/version_1_curves.csv");

/// A folder with one measured swing in it.
fn result(swing: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let inside = folder.path().join("lesson");
    std::fs::create_dir(&inside).expect("a folder");
    std::fs::write(inside.join("swing.json"), swing).expect("writes");
    std::fs::write(inside.join("curves.csv"), CURVES_1).expect("writes");
    folder
}

/// What `check` says of a folder, and how it ends.
fn check(folder: &Path) -> (Option<i32>, String) {
    let output = quarterturn()
        .arg("check")
        .arg(folder)
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    (output.status.code(), said)
}

/// The line on the only swing.
fn line(folder: &Path) -> String {
    let (code, said) = check(folder);
    assert_eq!(code, Some(0), "{said}");
    let line = said.lines().find(|l| l.contains("lesson:"));
    line.unwrap_or_else(|| panic!("not told of: {said}"))
        .to_owned()
}

#[test]
fn a_result_that_says_nothing_of_its_networks_is_told_so() {
    let line = line(result(VERSION_1).path());
    assert!(line.starts_with("other "), "{line}");
    assert!(line.contains("did not write down its networks"), "{line}");
}

#[test]
fn a_result_of_other_networks_is_told_of_with_their_checksums() {
    let mut swing: Value = serde_json::from_str(VERSION_2).expect("JSON");
    swing["models"]["landmark network"] = "a".repeat(64).into();
    let line = line(result(&swing.to_string()).path());
    assert!(line.starts_with("other "), "{line}");
    let sum = format!("another landmark network (SHA-256 {})", "a".repeat(64));
    assert!(line.contains(&sum), "{line}");
}

#[test]
fn this_versions_networks_are_known_from_others() {
    let (_, said) = check(result(VERSION_1).path());
    let sums: Vec<&str> = said
        .lines()
        .filter_map(|l| l.trim().strip_prefix("SHA-256 "))
        .collect();
    assert_eq!(sums.len(), 3, "{said}");
    let mut swing: Value = serde_json::from_str(VERSION_1).expect("JSON");
    swing["tool_version"] = env!("CARGO_PKG_VERSION").into();
    let names = ["person detector", "landmark network", "torso network"];
    for (name, sum) in names.iter().zip(&sums) {
        swing["models"][name] = (*sum).into();
    }
    let same = line(result(&swing.to_string()).path());
    assert!(same.starts_with("same "), "{same}");
    swing["models"]["torso network"] = "0".repeat(64).into();
    swing["tool_version"] = "0.0.1".into();
    let other = line(result(&swing.to_string()).path());
    assert!(other.contains("made by quarterturn 0.0.1"), "{other}");
    assert!(other.contains("with another torso network"), "{other}");
    assert!(!other.contains("another person detector"), "{other}");
}

#[test]
fn a_result_of_an_older_version_is_compared_with_itself() {
    let folder = result(VERSION_1);
    let swing = folder.path().join("lesson");
    let output = quarterturn()
        .arg("compare")
        .args([&swing, &swing])
        .arg("--out")
        .arg(folder.path().join("compared"))
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", stderr(&output));
}

#[test]
fn a_folder_without_a_swing_and_a_damaged_result_are_named() {
    let empty = tempfile::tempdir().expect("a folder");
    let (code, said) = check(empty.path());
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("no measured swing"), "{said}");
    let (code, said) = check(result("{}").path());
    assert_eq!(code, Some(3), "{said}");
    assert!(
        said.contains("unread ") && said.contains("lesson"),
        "{said}"
    );
}
