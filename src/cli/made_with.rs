//! Whether results were made by this version with these networks: numbers of two networks don't
//! compare to the degree.

use std::collections::BTreeMap;
use std::path::PathBuf;

use super::say::say;
use crate::result::{SwingResult, read_swing, swing_folders};

/// One line for each swing in the folders; true where one could not be read.
pub fn tell(given: &[PathBuf], here: &BTreeMap<String, String>) -> bool {
    let (mut unread, mut other) = (false, false);
    for folder in given {
        // What can't be read holds none.
        let swings = swing_folders(folder).unwrap_or_default();
        if swings.is_empty() {
            unread = true;
            say!(
                "unread   {}: no measured swing (a folder with swing.json) is here. Name a folder that `quarterturn measure` or `quarterturn folder` wrote.",
                folder.display()
            );
        }
        for swing in swings {
            let name = swing.display();
            match read_swing(&swing.join("swing.json")) {
                Ok(result) => match differences(&result, here).as_slice() {
                    [] => say!("same     {name}: made by this version with these networks"),
                    found => {
                        other = true;
                        say!("other    {name}: {}", found.join("; "));
                    }
                },
                Err(e) => {
                    unread = true;
                    say!("unread   {e}");
                }
            }
        }
    }
    if other {
        say!(
            "         To set swings beside each other to the degree, measure them all with one version."
        );
    }
    unread
}

/// What is not as it is here, in words.
fn differences(result: &SwingResult, here: &BTreeMap<String, String>) -> Vec<String> {
    let mut found = Vec::new();
    if result.tool_version != env!("CARGO_PKG_VERSION") {
        found.push(format!("made by quarterturn {}", result.tool_version));
    }
    if result.models.is_empty() {
        found.push("made by a version that did not write down its networks".to_owned());
    }
    for (name, sum) in &result.models {
        match here.get(name) {
            Some(own) if own == sum => {}
            Some(_) => found.push(format!("made with another {name} (SHA-256 {sum})")),
            None => found.push(format!("made with a {name}, which is not here")),
        }
    }
    found
}
