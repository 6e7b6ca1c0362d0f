//! What is known of the measurements of uploaded clips.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex};

use serde::{Deserialize, Serialize};
use tokio::sync::Semaphore;

use crate::measure::{Nothing, Refusal};
use crate::result::write_by_rename;
use crate::terms::Role;

/// Longest line of progress that is kept, letters.
const LINE_MAX: usize = 300;

/// What an uploaded swing is, kept beside its clips.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ticket {
    pub id: String,
    /// Name of the result's folder.
    pub name: String,
    #[serde(default)]
    pub player: String,
    #[serde(default)]
    pub club: String,
    #[serde(default)]
    pub ball_speed: String,
    #[serde(default)]
    pub carry: String,
    /// Views and their file names inside the upload's folder.
    pub clips: Vec<(Role, String)>,
    /// Why there is no result, once that is known.
    #[serde(default)]
    pub nothing: Option<Refusal>,
    /// The same, as version 0.1 wrote it.
    #[serde(default, skip_serializing)]
    pub failed: Option<String>,
}

const TICKET: &str = "upload.json";

impl Ticket {
    pub fn read(folder: &Path) -> Option<Self> {
        let bytes = std::fs::read(folder.join(TICKET)).ok()?;
        serde_json::from_slice(&bytes).ok()
    }

    /// Why there is no result, where the clips were looked at and gave none.
    pub fn answer(&self) -> Option<Refusal> {
        let older = || Some(Refusal::failed(self.failed.clone()?));
        self.nothing.clone().or_else(older)
    }

    pub fn write(&self, folder: &Path) -> std::io::Result<()> {
        let bytes = serde_json::to_vec_pretty(self).map_err(std::io::Error::other)?;
        write_by_rename(&folder.join(TICKET), &bytes)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    Waiting,
    Measuring,
    Done,
    /// Looked at, and there is no result.
    #[serde(untagged)]
    Nothing(Nothing),
}

/// What a watcher is told.
#[derive(Clone, Debug, Serialize)]
pub struct Job {
    pub id: String,
    pub name: String,
    #[serde(skip)]
    pub player: String,
    pub stage: Stage,
    /// The last line of progress, or why there is no result.
    pub line: String,
}

/// All measurements of this run.
#[derive(Clone)]
pub struct Jobs {
    all: Arc<Mutex<BTreeMap<String, Job>>>,
    pub(super) one_at_a_time: Arc<Semaphore>,
}

impl Default for Jobs {
    fn default() -> Self {
        Self {
            all: Arc::default(),
            one_at_a_time: Arc::new(Semaphore::new(1)),
        }
    }
}

impl Jobs {
    pub fn list(&self) -> Vec<Job> {
        self.all
            .lock()
            .map(|all| all.values().cloned().collect())
            .unwrap_or_default()
    }

    pub fn get(&self, id: &str) -> Option<Job> {
        self.all.lock().ok()?.get(id).cloned()
    }

    /// True while a measurement of this player or of this name waits or runs.
    pub fn busy(&self, player: &str, name: &str) -> bool {
        self.list().iter().any(|j| {
            matches!(j.stage, Stage::Waiting | Stage::Measuring)
                && (j.player.trim() == player || j.name == name)
        })
    }

    /// Forgets jobs whose result was deleted.
    pub fn forget(&self, keep: impl Fn(&Job) -> bool) {
        if let Ok(mut all) = self.all.lock() {
            all.retain(|_, j| keep(j));
        }
    }

    pub(super) fn tell(&self, id: &str, stage: Stage, line: &str) {
        if let Ok(mut all) = self.all.lock()
            && let Some(job) = all.get_mut(id)
        {
            job.stage = stage;
            job.line = line.chars().take(LINE_MAX).collect();
        }
    }

    pub(super) fn add(&self, ticket: &Ticket) {
        if let Ok(mut all) = self.all.lock() {
            all.insert(
                ticket.id.clone(),
                Job {
                    id: ticket.id.clone(),
                    name: ticket.name.clone(),
                    player: ticket.player.clone(),
                    stage: Stage::Waiting,
                    line: "waiting for its turn".into(),
                },
            );
        }
    }
}
