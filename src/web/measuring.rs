//! Measurements of uploaded clips, one at a time, each in a process of its own, so that a decoder
//! that crashes takes nothing with it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::jobs::{Job, Stage};
use super::library::stands;
use super::pairing;
use super::state::Shared;
use super::ticket::Ticket;
use super::work::{measure, measurement};

/// Queues a measurement; returns at once. Where the other phone's clip of the same swing came in
/// shortly before, both are measured as one.
pub fn start(app: &Shared, ticket: Ticket, folder: PathBuf) {
    app.jobs.add(&ticket, &folder);
    let sure = pairing::claim_the_only_one(app, &ticket);
    queue(app, ticket, folder, sure);
}

fn queue(app: &Shared, ticket: Ticket, folder: PathBuf, sure: Option<Job>) {
    let app = app.clone();
    tokio::spawn(async move {
        let Ok(_turn) = app.jobs.one_at_a_time.clone().acquire_owned().await else {
            return;
        };
        // The other phone's clip took it along, or somebody deleted it meanwhile.
        let mine = app.jobs.get(&ticket.id);
        let Some(Job {
            claimed_by: None, ..
        }) = mine
        else {
            return;
        };
        app.jobs.tell(&ticket.id, Stage::Measuring, "starting");
        let partner = match sure {
            Some(partner) => Some(partner),
            None => pairing::choose(&app, &ticket, &folder).await,
        };
        let looked_at = |p: &Job| {
            let job = app.jobs.get(&p.ticket.id);
            job.is_none_or(|j| matches!(j.stage, Stage::Nothing(_)))
        };
        if let Some(partner) = partner.filter(|p| !looked_at(p)) {
            if pairing::together(&app, &ticket, &folder, &partner).await {
                return;
            }
            app.jobs.release(&partner.ticket.id);
            if !app.options.results.join(&partner.ticket.name).exists() {
                queue(&app, partner.ticket.clone(), partner.folder.clone(), None);
            }
        }
        alone(&app, ticket, &folder).await;
    });
}

async fn alone(app: &Shared, ticket: Ticket, folder: &Path) {
    let job = measurement(&app.options, &ticket, folder);
    match measure(app, job, folder, &[&ticket.id]).await {
        Ok(()) => app.jobs.tell(&ticket.id, Stage::Done, "measured"),
        // The numbers stand; pictures or films are missing.
        Err(why) if stands(&app.options.results, &ticket.name) => {
            app.jobs.tell(&ticket.id, Stage::Done, &why.text);
        }
        Err(why) => {
            app.jobs
                .tell(&ticket.id, Stage::Nothing(why.nothing), &why.text);
            let nothing = Some(why);
            Ticket { nothing, ..ticket }.keep(folder);
        }
    }
}

/// Queues again what an earlier run left unmeasured, and keeps in the list what it answered.
pub fn resume(app: &Shared) {
    let mut all: BTreeMap<String, (Ticket, PathBuf)> =
        super::library::folders(&app.options.uploads)
            .into_iter()
            .filter_map(|(_, folder)| Some((Ticket::read(&folder)?, folder)))
            .map(|(ticket, folder)| (ticket.id.clone(), (ticket, folder)))
            .collect();
    pairing::settle_what_was_left(&app.options.results, &mut all);
    let mut open: Vec<(Ticket, PathBuf)> = Vec::new();
    for (ticket, folder) in all.into_values() {
        if let Some(why) = &ticket.nothing {
            app.jobs.add(&ticket, &folder);
            let stage = Stage::Nothing(why.nothing);
            app.jobs.tell(&ticket.id, stage, &why.text);
        } else if !app.options.results.join(&ticket.name).exists() {
            open.push((ticket, folder));
        }
    }
    open.sort_by(|a, b| a.0.arrived_unix_s.total_cmp(&b.0.arrived_unix_s));
    for (ticket, folder) in open {
        start(app, ticket, folder);
    }
}
