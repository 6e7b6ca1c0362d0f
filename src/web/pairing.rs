//! Two phones, one swing: the second phone's clip is recognised when it comes in. Who comes into
//! question is told by player, label, side and minutes; whether both do show one swing, by measuring
//! them together, which compares the strike's sound and the turning. Where they don't, each is
//! measured alone.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::jobs::{Job, Stage};
use super::state::Shared;
use super::ticket::Ticket;
use super::work::{Clips, inspect, measure};
use crate::result::read_swing;

/// The upload that the other phone sent.
#[derive(Clone, Debug)]
pub struct Partner {
    pub ticket: Ticket,
    /// Where its clip lies.
    pub folder: PathBuf,
}

impl From<Job> for Partner {
    fn from(job: Job) -> Self {
        Self {
            ticket: job.ticket,
            folder: job.folder,
        }
    }
}

fn claimed(app: &Shared, ticket: &Ticket, found: Job) -> Option<Partner> {
    if !app.jobs.claim(&found.ticket.id, &ticket.id) {
        return None;
    }
    let line = "waiting to be measured together with the other phone's clip";
    if found.open() {
        app.jobs.tell(&found.ticket.id, Stage::Waiting, line);
    }
    Some(found.into())
}

/// The partner of an upload that has just come in, where exactly one comes into question. It is then
/// not measured alone first if it still waits.
pub fn claim_the_only_one(app: &Shared, ticket: &Ticket) -> Option<Partner> {
    let within_s = app.options.pipeline.web.pair_within_s;
    let mut found = app.jobs.partners(&ticket.id, within_s);
    if found.len() > 1 {
        return None;
    }
    claimed(app, ticket, found.pop()?)
}

/// The partner when it is the upload's turn: among several the one that was filmed nearest in time
/// by the phones' clocks, or the oldest where they don't tell.
pub async fn choose(app: &Shared, ticket: &Ticket, folder: &Path) -> Option<Partner> {
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
pub async fn together(app: &Shared, ticket: &Ticket, folder: &Path, other: &Partner) -> bool {
    let results = &app.options.results;
    let mut clips = Clips::of(ticket, folder);
    let theirs = Clips::of(&other.ticket, &other.folder);
    clips.clips.extend(theirs.clips);
    let alone = read_swing(&results.join(&other.ticket.name).join("swing.json")).ok();
    // What the second phone left empty is taken from the first.
    clips.typed = clips.typed.or(alone.map_or(theirs.typed, |s| s.typed_in));
    clips.also = Some(other.ticket.id.clone());
    let mut joined = ticket.clone();
    joined.with = Some(other.ticket.id.clone());
    if let Err(e) = joined.write(folder) {
        tracing::warn!("{e}");
    }
    if measure(app, &clips).await.is_ok() && rests_on_two(results, &ticket.name) {
        let mut first = other.ticket.clone();
        settle(results, &mut first, &other.folder, &ticket.name);
        app.jobs.join(&other.ticket.id, &ticket.name);
        app.jobs.tell(
            &ticket.id,
            Stage::Done,
            "measured together with the other phone's clip",
        );
        return true;
    }
    // What one clip of the two gave is measured again as its own.
    let left = results.join(&ticket.name);
    if left.exists()
        && let Err(e) = std::fs::remove_dir_all(&left)
    {
        tracing::warn!("{}: {e}", left.display());
    }
    if let Err(e) = ticket.write(folder) {
        tracing::warn!("{e}");
    }
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

fn rests_on_two(results: &Path, name: &str) -> bool {
    let swing = read_swing(&results.join(name).join("swing.json"));
    swing.is_ok_and(|s| s.views.len() == 2)
}

/// The first upload's own result goes, and the upload belongs to the result of both from now on. In
/// this order: cut off in between, it is done again at the next start.
fn settle(results: &Path, first: &mut Ticket, folder: &Path, name: &str) {
    let alone = results.join(&first.name);
    if first.name != name
        && alone.exists()
        && let Err(e) = std::fs::remove_dir_all(&alone)
    {
        tracing::warn!("{}: {e}", alone.display());
        return;
    }
    first.name = name.to_owned();
    first.nothing = None;
    if let Err(e) = first.write(folder) {
        tracing::warn!("{e}");
    }
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
