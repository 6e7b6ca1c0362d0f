//! What the integration tests share: the built binary, the sample clips and their truth.
#![allow(dead_code, reason = "each test file uses its own part")]

pub mod bomb;
pub mod mp4;
pub mod truth;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

pub fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-clips")
        .join(name)
}

/// The built program.
pub fn quarterturn() -> Command {
    Command::new(env!("CARGO_BIN_EXE_quarterturn"))
}

/// Runs `quarterturn measure ARGS --out DIR --json` and returns its exit code and JSON.
pub fn measure(args: &[&dyn AsRef<std::ffi::OsStr>], out: &Path) -> (i32, serde_json::Value) {
    let mut command = quarterturn();
    command.arg("measure");
    for a in args {
        command.arg(a.as_ref());
    }
    let output = command
        .arg("--out")
        .arg(out)
        .arg("--json")
        .output()
        .expect("the program runs");
    let code = output.status.code().expect("an exit code");
    let json = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|e| panic!("one JSON object on standard output ({e}): {output:?}"));
    (code, json)
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// `at.EVENT.MEASURE` of a result: value and interval, degrees.
pub fn estimate(swing: &serde_json::Value, event: &str, measure: &str) -> (f64, f64, f64) {
    let e = &swing["at"][event][measure];
    let get = |k: &str| {
        e[k].as_f64()
            .unwrap_or_else(|| panic!("{measure} at {event}: no {k}: {e}"))
    };
    (get("deg"), get("low"), get("high"))
}

pub fn has_warning(swing: &serde_json::Value, code: &str) -> bool {
    swing["warnings"]
        .as_array()
        .is_some_and(|w| w.iter().any(|w| w["code"] == code))
}
