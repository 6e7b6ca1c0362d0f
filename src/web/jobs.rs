//! What is known of the measurements of uploaded clips.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use serde::Serialize;
use tokio::sync::Semaphore;

use super::ticket::Ticket;
use crate::batch::lock;
use crate::measure::Nothing;

/// Longest line of progress that is kept, letters.
const LINE_MAX: usize = 300;

/// How far a measurement is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Others come first.
    Waiting,
    Measuring,
    /// Its result is there.
    Done,
    /// Looked at, and there is no result.
    #[serde(untagged)]
    Nothing(Nothing),
}

/// What a watcher is told.
#[derive(Clone, Debug)]
pub struct Job {
    /// What was sent.
    pub ticket: Ticket,
    /// The upload's folder.
    pub folder: PathBuf,
    pub stage: Stage,
    /// The last line of progress, or why there is no result.
    pub line: String,
    /// The upload with which it was or is to be measured as one swing.
    pub claimed_by: Option<String>,
}

impl Job {
    /// Whether a result may still come.
    pub fn open(&self) -> bool {
        matches!(self.stage, Stage::Waiting | Stage::Measuring)
    }
}

/// All measurements of this run.
#[derive(Clone)]
pub struct Jobs {
    all: Arc<Mutex<BTreeMap<String, Job>>>,
    /// Names of results that became part of another one, and of which.
    moved: Arc<Mutex<BTreeMap<String, String>>>,
    pub(super) one_at_a_time: Arc<Semaphore>,
}

impl Default for Jobs {
    fn default() -> Self {
        Self {
            all: Arc::default(),
            moved: Arc::default(),
            one_at_a_time: Arc::new(Semaphore::new(1)),
        }
    }
}

impl Jobs {
    /// All of them, in the order of their numbers.
    pub fn list(&self) -> Vec<Job> {
        lock(&self.all).values().cloned().collect()
    }

    /// The one of an upload.
    pub fn get(&self, id: &str) -> Option<Job> {
        lock(&self.all).get(id).cloned()
    }

    /// True while a measurement of this player or of this name waits or runs.
    pub fn busy(&self, player: &str, name: &str) -> bool {
        let busy =
            |j: &Job| j.open() && (j.ticket.player.trim() == player || j.ticket.name == name);
        lock(&self.all).values().any(busy)
    }

    /// The measurement that may still add to this result.
    pub fn of_result(&self, name: &str) -> Option<Job> {
        let all = lock(&self.all);
        all.values()
            .find(|j| j.open() && j.ticket.name == name)
            .cloned()
    }

    /// Forgets jobs whose result was deleted.
    pub fn forget(&self, keep: impl Fn(&Job) -> bool) {
        lock(&self.all).retain(|_, j| keep(j));
    }

    /// The other name of a result that became part of it.
    pub fn moved_to(&self, name: &str) -> Option<String> {
        lock(&self.moved).get(name).cloned()
    }

    /// A player's new name, where it was uploaded under the old one.
    pub fn rename(&self, from: &str, to: &str) {
        for job in lock(&self.all).values_mut() {
            if job.ticket.player.trim() == from {
                job.ticket.player = to.to_owned();
            }
        }
    }

    pub(super) fn tell(&self, id: &str, stage: Stage, line: &str) {
        if let Some(job) = lock(&self.all).get_mut(id) {
            job.stage = stage;
            job.line = line.chars().take(LINE_MAX).collect();
        }
    }

    pub(super) fn add(&self, ticket: &Ticket, folder: &Path) {
        let job = Job {
            ticket: ticket.clone(),
            folder: folder.to_owned(),
            stage: Stage::Waiting,
            line: "waiting for its turn".into(),
            claimed_by: None,
        };
        lock(&self.all).insert(ticket.id.clone(), job);
    }

    /// Uploads that may show the same swing from the other side, the oldest first.
    pub(super) fn partners(&self, id: &str, within_s: f64) -> Vec<Job> {
        let all = lock(&self.all);
        let Some(mine) = all.get(id) else {
            return Vec::new();
        };
        let mut found: Vec<Job> = all
            .values()
            .filter(|j| j.claimed_by.is_none() && !matches!(j.stage, Stage::Nothing(_)))
            .filter(|j| mine.ticket.may_show_what(&j.ticket, within_s))
            .filter(|j| {
                !all.values()
                    .any(|o| o.claimed_by.as_ref() == Some(&j.ticket.id))
            })
            .cloned()
            .collect();
        found.sort_by(|a, b| a.ticket.arrived_unix_s.total_cmp(&b.ticket.arrived_unix_s));
        found
    }

    /// Takes an upload along with another one, unless somebody has it; `true` where it was free.
    pub(super) fn claim(&self, id: &str, by: &str) -> bool {
        match lock(&self.all).get_mut(id) {
            Some(job) if job.claimed_by.is_none() => {
                job.claimed_by = Some(by.to_owned());
                true
            }
            _ => false,
        }
    }

    /// Gives a claimed upload back: the two do not show one swing.
    pub(super) fn release(&self, id: &str) {
        if let Some(job) = lock(&self.all).get_mut(id) {
            job.claimed_by = None;
        }
    }

    /// An upload's result is now part of another one's.
    pub(super) fn join(&self, id: &str, name: &str) {
        if let Some(job) = lock(&self.all).get_mut(id) {
            let old = std::mem::replace(&mut job.ticket.name, name.to_owned());
            job.stage = Stage::Done;
            job.line = "measured together with the other phone's clip".into();
            if old != name {
                lock(&self.moved).insert(old, name.to_owned());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::Role;

    fn ticket(id: &str, role: Role, arrived: f64) -> Ticket {
        Ticket {
            id: id.into(),
            name: format!("ann-{id}"),
            player: "Ann".into(),
            label: "hips held".into(),
            clips: vec![(role, "clip.mp4".into())],
            arrived_unix_s: arrived,
            ..Ticket::default()
        }
    }

    #[test]
    fn a_clip_of_the_other_side_is_a_partner_once() {
        let jobs = Jobs::default();
        let there = Path::new("up");
        jobs.add(&ticket("a", Role::FaceOn, 1000.0), there);
        jobs.add(&ticket("b", Role::DownTheLine, 1100.0), there);
        let ids = |id: &str| -> Vec<String> {
            let found = jobs.partners(id, 300.0);
            found.into_iter().map(|j| j.ticket.id).collect()
        };
        assert_eq!(ids("b"), ["a"]);
        assert!(ids("a").is_empty(), "the first one waits for nobody");
        assert!(jobs.claim("a", "b") && !jobs.claim("a", "c"));
        assert!(ids("b").is_empty());
        jobs.release("a");
        assert_eq!(ids("b"), ["a"]);
        jobs.join("a", "ann-b");
        assert_eq!(jobs.moved_to("ann-a").as_deref(), Some("ann-b"));
        assert_eq!(jobs.get("a").expect("there").ticket.name, "ann-b");
    }

    #[test]
    fn another_player_label_side_or_hour_is_no_partner() {
        let mine = ticket("b", Role::DownTheLine, 1100.0);
        let other = |change: fn(&mut Ticket)| {
            let mut t = ticket("a", Role::FaceOn, 1000.0);
            change(&mut t);
            mine.may_show_what(&t, 300.0)
        };
        assert!(other(|_| {}));
        assert!(
            other(|t| t.player = " ann ".into()),
            "as phones write names"
        );
        assert!(!other(|t| t.player = "Bea".into()));
        assert!(!other(|t| t.label = "hips free".into()));
        assert!(!other(
            |t| t.clips = vec![(Role::DownTheLine, "c.mp4".into())]
        ));
        assert!(!other(|t| t
            .clips
            .push((Role::DownTheLine, "c.mp4".into()))));
        assert!(!other(|t| t.arrived_unix_s = 700.0));
        assert!(!other(|t| t.arrived_unix_s = 0.0), "of an earlier version");
    }
}
