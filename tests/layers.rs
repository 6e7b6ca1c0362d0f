//! The rooms of src keep their order: none uses one that stands below it in DEVELOPERS.md, and
//! no two files of one room use each other in a circle.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The rooms in the order of the table in DEVELOPERS.md: `| `name` | …`.
fn rooms() -> Vec<String> {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).expect("readable");
    text.lines()
        .skip_while(|l| !l.starts_with("| room |"))
        .take_while(|l| l.starts_with('|'))
        .filter_map(|l| Some(l.strip_prefix("| `")?.split_once('`')?.0.to_owned()))
        .collect()
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            all.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            all.push(path);
        }
    }
    all.sort();
    all
}

/// The code without its comments, which may point anywhere.
fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).expect("readable");
    let kept = text.lines().filter(|l| !l.trim_start().starts_with("//"));
    kept.collect::<Vec<_>>().join("\n")
}

/// Names that follow `prefix` in the code: `crate::` gives rooms.
fn named(code: &str, prefix: &str) -> BTreeSet<String> {
    code.match_indices(prefix)
        .filter(|(at, _)| {
            // `quarterturn_crate::` is another word, `super::super::` another place.
            let before = code.get(..*at).and_then(|c| c.chars().last());
            !before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':')
        })
        .map(|(at, _)| {
            let rest = code.get(at + prefix.len()..).unwrap_or_default();
            rest.chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect()
        })
        .collect()
}

/// The room that a source file belongs to; none for `lib.rs` and `main.rs`.
fn room_of(path: &Path) -> Option<String> {
    let below = path.strip_prefix(root().join("src")).expect("in src");
    let first = below.iter().next()?.to_string_lossy().into_owned();
    let room = first.trim_end_matches(".rs").to_owned();
    (room != "lib" && room != "main").then_some(room)
}

#[test]
fn every_room_is_in_the_table_once() {
    let listed = rooms();
    let unique: BTreeSet<&String> = listed.iter().collect();
    assert_eq!(unique.len(), listed.len(), "{listed:?}");
    let there: BTreeSet<String> = sources(&root().join("src"))
        .iter()
        .filter_map(|p| room_of(p))
        .collect();
    assert_eq!(there.iter().collect::<BTreeSet<_>>(), unique);
}

#[test]
fn no_room_uses_one_below_it() {
    let rooms = rooms();
    let place = |room: &str| rooms.iter().position(|r| r == room);
    let mut wrong = Vec::new();
    for path in sources(&root().join("src")) {
        let Some(own) = room_of(&path) else { continue };
        let at = place(&own).expect("in the table");
        let used = named(&code(&path), "crate::");
        for used in used.iter().filter(|u| place(u).is_some_and(|p| p > at)) {
            wrong.push(format!("{own} uses {used}: {}", path.display()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Files of one folder and the siblings that each uses by `super::`.
fn siblings(folder: &Path) -> BTreeMap<String, BTreeSet<String>> {
    let mut uses = BTreeMap::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let Some(name) = path.file_stem().map(|s| s.to_string_lossy().into_owned()) else {
            continue;
        };
        if path.extension().is_some_and(|e| e == "rs") && name != "mod" {
            uses.insert(name, named(&code(&path), "super::"));
        }
    }
    let known: BTreeSet<String> = uses.keys().cloned().collect();
    for used in uses.values_mut() {
        used.retain(|u| known.contains(u));
    }
    uses
}

#[test]
fn no_two_files_of_a_room_use_each_other() {
    let folders: BTreeSet<PathBuf> = sources(&root().join("src"))
        .iter()
        .filter_map(|p| Some(p.parent()?.to_owned()))
        .filter(|f| *f != root().join("src"))
        .collect();
    let mut circles = Vec::new();
    for folder in &folders {
        let mut left = siblings(folder);
        // Whoever uses no one that is left can go; what stays in the end goes round.
        loop {
            let free: Vec<String> = left
                .iter()
                .filter(|(name, used)| used.iter().all(|u| u == *name || !left.contains_key(u)))
                .map(|(name, _)| name.clone())
                .collect();
            if free.is_empty() {
                break;
            }
            for name in free {
                left.remove(&name);
            }
        }
        if !left.is_empty() {
            circles.push(format!("{}: {left:?}", folder.display()));
        }
    }
    assert!(circles.is_empty(), "{}", circles.join("\n"));
}

/// Paths below the repository's folders that a text names.
fn paths_named(text: &str) -> BTreeSet<String> {
    const FOLDERS: [&str; 7] = [
        "docs/",
        "examples/",
        "fuzz/",
        "models/",
        "pipelines/",
        "src/",
        "tests/",
    ];
    text.split(|c: char| !(c.is_ascii_alphanumeric() || "_./-".contains(c)))
        .filter(|word| FOLDERS.iter().any(|f| word.starts_with(f)))
        .map(|word| word.trim_end_matches(['.', '/', '-']).to_owned())
        .collect()
}

#[test]
fn what_the_documents_name_is_there() {
    let mut texts = vec![root().join("README.md"), root().join("DEVELOPERS.md")];
    for entry in std::fs::read_dir(root().join("docs")).expect("a folder") {
        let path = entry.expect("an entry").path();
        texts.extend(path.extension().is_some_and(|e| e == "md").then_some(path));
    }
    texts.sort();
    // What scripts make is named and not kept.
    let made = std::fs::read_to_string(root().join(".gitignore")).expect("readable");
    let made: Vec<&str> = made.lines().map(|l| l.trim_matches('/')).collect();
    let mut missing = Vec::new();
    for path in texts {
        let text = std::fs::read_to_string(&path).expect("readable");
        let there = |n: &&String| made.contains(&n.as_str()) || root().join(n).exists();
        for named in paths_named(&text).iter().filter(|n| !there(n)) {
            missing.push(format!("{} names {named}", path.display()));
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
    let found =
        paths_named("See `src/terms/unit.rs`, docs/measures.md. Not http://a/src/b or mysrc/c.");
    assert_eq!(found.len(), 2, "{found:?}");
}
