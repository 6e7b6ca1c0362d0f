//! Two phones, one swing: the second phone's clip is recognised when it comes in. Who comes into
//! question is told by player, label, side and minutes; whether both do show one swing, by measuring
//! them together, which compares the strike's sound and the turning. Where they don't, each is
//! measured alone.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::jobs::{Job, Stage};
use super::state::Shared;
use super::ticket::Ticket;
use super::work::{clips_of, inspect, measure, measurement};
use crate::result::read_swing;

fn claimed(app: &Shared, ticket: &Ticket, found: Job) -> Option<Job> {
    if !app.jobs.claim(&found.ticket.id, &ticket.id) {
        return None;
    }
    let line = "waiting to be measured together with the other phone's clip";
    if found.open() {
        app.jobs.tell(&found.ticket.id, Stage::Waiting, line);
    }
    Some(found)
}

/// The partner of an upload that has just come in, where exactly one comes into question. It is then
/// not measured alone first if it still waits.
pub fn claim_the_only_one(app: &Shared, ticket: &Ticket) -> Option<Job> {
    let within_s = app.options.pipeline.web.pair_within_s;
    let mut found = app.jobs.partners(&ticket.id, within_s);
    if found.len() > 1 {
        return None;
    }
    claimed(app, ticket, found.pop()?)
}

/// The partner when it is the upload's turn: among several the one that was filmed nearest in time
/// by the phones' clocks, or the oldest where they don't tell.
pub async fn choose(app: &Shared, ticket: &Ticket, folder: &Path) -> Option<Job> {
    let within_s = app.options.pipeline.web.pair_within_s;
    let found = app.jobs.partners(&ticket.id, within_s);
    if found.len() < 2 {
        return claimed(app, ticket, found.into_iter().next()?);
    }
    let mine = filmed_s(app, ticket, folder).await;
    let mut best: Option<(f64, Job)> = None;
    for job in found {
        let theirs = filmed_s(app, &job.ticket, &job.folder).await;
        let apart = mine
            .zip(theirs)
            .map_or(f64::INFINITY, |(a, b)| (a - b).abs());
        if best.as_ref().is_none_or(|b| apart < b.0) {
            best = Some((apart, job));
        }
    }
    claimed(app, ticket, best?.1)
}

async fn filmed_s(app: &Shared, ticket: &Ticket, folder: &Path) -> Option<f64> {
    let (_, file) = ticket.clips.first()?;
    inspect(app, folder.join(file)).await?.info.created_unix_s
}

/// Measures two uploads as one swing; `true` where they are one. The result carries the second
/// upload's name and takes the place of what the first one gave alone.
pub async fn together(app: &Shared, ticket: &Ticket, folder: &Path, other: &Job) -> bool {
    let results = &app.options.results;
    let mut job = measurement(&app.options, ticket, folder);
    job.clips.extend(clips_of(&other.ticket, &other.folder));
    let alone = read_swing(&results.join(&other.ticket.name).join("swing.json")).ok();
    // What the second phone left empty is taken from the first.
    let theirs = alone.map_or_else(|| other.ticket.typed_in(), |s| s.typed_in);
    let typed = &mut job.given.options.typed_in;
    *typed = std::mem::take(typed).or(theirs);
    let mut joined = ticket.clone();
    joined.with = Some(other.ticket.id.clone());
    joined.keep(folder);
    let told = [&ticket.id, &other.ticket.id];
    if measure(app, job, folder, &told).await.is_ok() && rests_on_two(results, &ticket.name) {
        let mut first = other.ticket.clone();
        settle(results, &mut first, &other.folder, &ticket.name);
        app.jobs.join(&other.ticket.id, &ticket.name);
        let line = "measured together with the other phone's clip";
        app.jobs.tell(&ticket.id, Stage::Done, line);
        return true;
    }
    // What one clip of the two gave is measured again as its own.
    gone(&results.join(&ticket.name));
    ticket.keep(folder);
    let there = results.join(&other.ticket.name).exists();
    let (stage, line) = if there {
        (Stage::Done, "measured")
    } else {
        (
            Stage::Waiting,
            "the other phone's clip shows another swing; waiting for its turn",
        )
    };
    app.jobs.tell(&other.ticket.id, stage, line);
    false
}

/// Removes a result; whether it is gone.
fn gone(folder: &Path) -> bool {
    match std::fs::remove_dir_all(folder) {
        Err(e) if folder.exists() => {
            tracing::warn!("{}: {e}", folder.display());
            false
        }
        _ => true,
    }
}

fn rests_on_two(results: &Path, name: &str) -> bool {
    let swing = read_swing(&results.join(name).join("swing.json"));
    swing.is_ok_and(|s| s.views.len() == 2)
}

/// The first upload's own result goes, and the upload belongs to the result of both from now on. In
/// this order: cut off in between, it is done again at the next start.
fn settle(results: &Path, first: &mut Ticket, folder: &Path, name: &str) {
    if first.name != name && !gone(&results.join(&first.name)) {
        return;
    }
    first.name = name.to_owned();
    first.nothing = None;
    first.keep(folder);
}

/// Ends what an earlier run was cut off in.
pub fn settle_what_was_left(results: &Path, all: &mut BTreeMap<String, (Ticket, PathBuf)>) {
    let pairs: Vec<(String, String)> = all
        .values()
        .filter_map(|(t, _)| Some((t.with.clone()?, t.name.clone())))
        .collect();
    for (first, name) in pairs {
        if let Some((ticket, folder)) = all.get_mut(&first)
            && ticket.name != name
            && rests_on_two(results, &name)
        {
            settle(results, ticket, folder, &name);
        }
    }
}
