//! What came of a task: `outcome.json`, beside its result or instead of one. Its form is in
//! `docs/plan.schema.json`.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::measure::{Nothing, Refusal};

/// Its name.
pub(super) const FILE: &str = "outcome.json";
pub(super) const SCHEMA: &str = "quarterturn.outcome/1";

/// What came of a task: `outcome.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TaskAnswer {
    /// Name and version of this form.
    pub schema: String,
    pub fingerprint: String,
    pub tool_version: String,
    /// How long it took, seconds.
    pub seconds: f64,
    /// `measured`, or which kind of nothing.
    pub outcome: String,
    /// Why there is no result, where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
    /// The swing's line of `swings.csv`, by column.
    pub row: serde_json::Map<String, serde_json::Value>,
}

impl TaskAnswer {
    /// Why there is no result; `None` where there is one.
    pub fn refusal(&self) -> Option<Refusal> {
        Some(Refusal {
            nothing: Nothing::from_key(&self.outcome)?,
            text: self.error.clone().unwrap_or_default(),
        })
    }
}

/// What stands in a task's folder, if anything whole does.
pub(super) fn read(folder: &Path) -> Option<TaskAnswer> {
    let bytes = std::fs::read(folder.join(FILE)).ok()?;
    serde_json::from_slice(&bytes).ok()
}
