//! A plan that leaves this machine: every swing as a task, with all that measuring it takes
//! besides the clips. Its form is `docs/plan.schema.json`.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::fingerprint::{fingerprint, program};
use super::planned::{Plan, PlannedSwing, Skipped, Unreadable};
use super::task::limit_s;
use crate::file_error::{At, FileError};
use crate::worker::Given;

const SCHEMA: &str = "quarterturn.plan/1";

/// What one task takes of a machine.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Needs {
    /// Cores kept busy.
    pub cores: usize,
    /// Memory to set aside, MB.
    pub memory_mb: u64,
}

/// One swing as a task.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TaskSwing {
    /// What its result is known by: tasks of one fingerprint have the same result.
    pub fingerprint: String,
    /// A worker that takes longer hangs, seconds.
    pub limit_s: f64,
    /// The swing and its clips.
    #[serde(flatten)]
    pub swing: PlannedSwing,
}

/// All of a folder, for any engine and any number of machines.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct TaskPlan {
    /// Name and version of this form.
    pub schema: String,
    /// Only this version of the program measures by it.
    pub tool_version: String,
    /// SHA-256 of each network's file, by its name: only these measure by it.
    pub models: BTreeMap<String, String>,
    /// The same for every task.
    pub needs: Needs,
    /// What was given for every swing alike, whole: no other file is needed.
    pub given: Given,
    pub swings: Vec<TaskSwing>,
    /// Clips that are in no task, and why.
    pub unreadable: Vec<Unreadable>,
    /// Clips left out as the corrections file asks.
    pub skipped: Vec<Skipped>,
    /// Doubts about the plan as a whole, for people.
    pub notes: Vec<String>,
}

/// Why a plan gives no task here.
#[derive(Debug, thiserror::Error)]
pub enum PlanError {
    #[error("{0}. Check the name given with --plan.")]
    Io(#[from] FileError),
    #[error("{}: not a plan that this version reads ({detail}). Write it again with `quarterturn folder --plan --json`.", path.display())]
    Form { path: PathBuf, detail: String },
    #[error("{}: holds {count} tasks and none called {asked}. Give a fingerprint, or a number from 0.", path.display())]
    NoSuchTask {
        path: PathBuf,
        count: usize,
        asked: String,
    },
}

impl TaskPlan {
    /// A folder's plan as tasks for this version with these networks.
    pub(super) fn new(plan: Plan, given: Given, models: BTreeMap<String, String>) -> Self {
        let batch = &given.options.pipeline.batch;
        let program = program(&given, &models);
        Self {
            schema: SCHEMA.to_owned(),
            tool_version: env!("CARGO_PKG_VERSION").to_owned(),
            models,
            needs: Needs {
                cores: given.options.jobs.max(1),
                memory_mb: batch.worker_memory_mb,
            },
            swings: plan
                .swings
                .into_iter()
                .map(|swing| TaskSwing {
                    fingerprint: fingerprint(&swing, &program),
                    limit_s: limit_s(&swing, batch),
                    swing,
                })
                .collect(),
            unreadable: plan.unreadable,
            skipped: plan.skipped,
            notes: plan.notes,
            given,
        }
    }

    /// Reads a plan. Paths that lead out of the folder of clips are refused.
    ///
    /// # Errors
    /// [`PlanError`] when the file can't be read or is no plan of this form.
    pub fn read(path: &Path) -> Result<Self, PlanError> {
        let form = |detail: String| PlanError::Form {
            path: path.to_owned(),
            detail,
        };
        let bytes = std::fs::read(path).at(path)?;
        let plan: Self = serde_json::from_slice(&bytes).map_err(|e| form(e.to_string()))?;
        if plan.schema != SCHEMA {
            return Err(form(format!("schema {:?}, not {SCHEMA:?}", plan.schema)));
        }
        for task in &plan.swings {
            let inside = |p: &Path| p.components().all(|c| matches!(c, Component::Normal(_)));
            if let Some(clip) = task.swing.clips.iter().find(|c| !inside(&c.relative)) {
                let name = clip.relative.display();
                return Err(form(format!("{name} leads out of the folder of clips")));
            }
        }
        Ok(plan)
    }

    /// A task by its fingerprint or its number from 0; the only one where none is named.
    ///
    /// # Errors
    /// [`PlanError::NoSuchTask`].
    pub fn pick(&self, path: &Path, asked: Option<&str>) -> Result<&TaskSwing, PlanError> {
        let found = match asked {
            None if self.swings.len() == 1 => self.swings.first(),
            None => None,
            Some(asked) => self
                .swings
                .iter()
                .find(|t| t.fingerprint == asked)
                .or_else(|| self.swings.get(asked.parse::<usize>().ok()?)),
        };
        found.ok_or_else(|| PlanError::NoSuchTask {
            path: path.to_owned(),
            count: self.swings.len(),
            asked: asked.unwrap_or("nothing").to_owned(),
        })
    }

    /// Whether this program with these networks would give the task's fingerprint.
    pub(super) fn is_for(&self, task: &TaskSwing, models: &BTreeMap<String, String>) -> bool {
        fingerprint(&task.swing, &program(&self.given, models)) == task.fingerprint
    }
}
