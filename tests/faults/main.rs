//! The fault matrix: docs/faults.md says what the built program must do with every kind of bad
//! input; each row is made here, run, and compared with its row.

mod check;
mod encode;
mod files;
mod names;
mod parts;
mod people;
mod pictures;
mod places;
#[path = "../program/mod.rs"]
mod program;
mod roles;
mod room;
mod sounds;
mod table;

use std::collections::BTreeSet;

use check::check;
use room::{Case, Room};
use table::{Row, Set};

const GROUPS: [&[Case]; 8] = [
    files::CASES,
    pictures::CASES,
    sounds::CASES,
    people::CASES,
    roles::CASES,
    names::CASES,
    places::CASES,
    parts::CASES,
];

/// Runs the cases of a group that belong to a set, and tells all that went wrong at once.
fn run(cases: &[Case], set: Set) {
    let rows = table::rows();
    let mut wrong = Vec::new();
    let mut ran = 0;
    for case in cases {
        let row = table::find(&rows, case.name);
        if row.set != set {
            continue;
        }
        ran += 1;
        let room = Room::new();
        match (case.build)(&room) {
            Ok(job) => wrong.extend(check(&job, row).err()),
            Err(why) => eprintln!("skipped: {}: {why}", case.name),
        }
    }
    assert!(ran > 0, "no row of this group is in the set {set:?}");
    assert!(
        wrong.is_empty(),
        "{} of {ran} rows:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn the_table_and_the_cases_are_the_same() {
    let rows = table::rows();
    let told: BTreeSet<&str> = rows.iter().map(|r: &Row| r.name.as_str()).collect();
    let made: BTreeSet<&str> = GROUPS
        .iter()
        .flat_map(|g| g.iter())
        .map(|c| c.name)
        .collect();
    assert_eq!(
        told.len(),
        rows.len(),
        "a name stands twice in docs/faults.md"
    );
    let only = |a: &BTreeSet<&str>, b: &BTreeSet<&str>| format!("{:?}", a.difference(b));
    assert_eq!(
        told,
        made,
        "only in docs/faults.md: {}; only in the tests: {}",
        only(&told, &made),
        only(&made, &told)
    );
}

macro_rules! quick {
    ($($name:ident: $cases:expr;)*) => { $(#[test] fn $name() { run($cases, Set::Quick); })* };
}

macro_rules! long {
    ($($name:ident: $cases:expr;)*) => {
        $(#[test] #[ignore = "measures whole clips: bash tests/run.sh --long"] fn $name() { run($cases, Set::Long); })*
    };
}

quick! {
    files_that_cannot_be_read: files::CASES;
    odd_pictures: pictures::CASES;
    odd_sound: sounds::CASES;
    odd_scenes: people::CASES;
    wrong_words_about_clips: roles::CASES;
    odd_names: names::CASES;
    places_that_cannot_be_written: places::CASES;
    missing_and_wrong_parts: parts::CASES;
}

long! {
    files_that_break_off: files::CASES;
    more_odd_pictures: pictures::CASES;
    more_odd_sound: sounds::CASES;
    more_odd_scenes: people::CASES;
    more_wrong_words: roles::CASES;
    more_odd_names: names::CASES;
}
