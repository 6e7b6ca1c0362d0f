//! One task of a plan, measured here: what comes of it stands once under its fingerprint, a result
//! or the reason why there is none, and is not worked out again.

use std::path::{Path, PathBuf};
use std::time::Instant;

use super::answer::{self, TaskAnswer};
use super::fingerprint::told_mark;
use super::marks::mark;
use super::summary::{self, MEASURED};
use super::task::{flush, flush_folder, measurement};
use super::tasks::{TaskPlan, TaskSwing};
use crate::config::checksum::sha256;
use crate::pose::ModelFiles;
use crate::progress::{Cancel, Progress};
use crate::result::{part_folder, read_swing};
use crate::worker::{self, Exit, Failure};

/// A task that is answered: its folder, and what came of it.
pub struct Answered {
    /// Named by the fingerprint.
    pub folder: PathBuf,
    /// What stands in it.
    pub answer: TaskAnswer,
}

/// Measures a task with its clips below `clips`, and puts what comes of it into `out`. One that
/// stands there already is left as it is, also where two machines measure the same.
///
/// # Errors
/// The task is not answered, and why: [`Exit::Again`] where another try or another machine can do
/// it, [`Exit::Stopped`] where it was stopped.
pub fn answer_task(
    plan: &TaskPlan,
    task: &TaskSwing,
    clips: &Path,
    out: &Path,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<Answered, Failure> {
    let folder = out.join(&task.fingerprint);
    if let Some(answer) = answer::read(&folder) {
        return Ok(Answered { folder, answer });
    }
    let models = ModelFiles::find()
        .and_then(|f| f.checksums())
        .map_err(Failure::again)?;
    if !plan.is_for(task, &models) {
        return Err(Failure::again(format!(
            "the plan was made by quarterturn {} with its own networks, and this machine has {} or other networks. Install the same release here, or plan again.",
            plan.tool_version,
            env!("CARGO_PKG_VERSION")
        )));
    }
    check_clips(task, clips).map_err(Failure::again)?;
    let trouble = |e: std::io::Error| {
        Failure::again(format!(
            "{}: {e}. Check that the folder can be written and that there is room.",
            out.display()
        ))
    };
    std::fs::create_dir_all(out).map_err(trouble)?;
    let work = part_folder(out).map_err(trouble)?;
    let began = Instant::now();
    let job = measurement(&task.swing, &plan.given, clips, work.path());
    let made = work.path().join(&job.given.options.name);
    let refusal = match worker::measure(&job, progress, cancel) {
        Ok(_) => None,
        Err(failure) if matches!(failure.exit, Exit::Again | Exit::Stopped) => {
            return Err(match cancel.requested() {
                true => Failure::new(Exit::Stopped, "stopped."),
                false => failure,
            });
        }
        Err(failure) => Some(failure.refusal),
    };
    let result = match &refusal {
        None => Some(read_swing(&made.join("swing.json")).map_err(Failure::again)?),
        Some(_) => {
            std::fs::create_dir_all(&made).map_err(trouble)?;
            None
        }
    };
    let answer = TaskAnswer {
        schema: answer::SCHEMA.to_owned(),
        fingerprint: task.fingerprint.clone(),
        tool_version: plan.tool_version.clone(),
        seconds: began.elapsed().as_secs_f64(),
        row: summary::cells_of(&task.swing, result.as_ref(), refusal.as_ref()),
        outcome: refusal
            .as_ref()
            .map_or(MEASURED, |r| r.nothing.key())
            .to_owned(),
        error: refusal.map(|r| r.text),
    };
    put(&made, &folder, &answer, &told_mark(&task.swing)).map_err(trouble)?;
    // Where another machine was faster, its answer is the one that counts.
    let answer = answer::read(&folder)
        .ok_or_else(|| Failure::again(format!("{}: did not come to stand.", folder.display())))?;
    Ok(Answered { folder, answer })
}

/// Puts the answer in place by renaming; one that stands there stays.
fn put(made: &Path, folder: &Path, answer: &TaskAnswer, told: &str) -> std::io::Result<()> {
    std::fs::write(made.join(answer::FILE), serde_json::to_vec(answer)?)?;
    mark(made, &answer.fingerprint, told)?;
    flush(made)?;
    match std::fs::rename(made, folder) {
        Err(_) if answer::read(folder).is_some() => Ok(()),
        Err(e) => Err(e),
        Ok(()) => folder.parent().map_or(Ok(()), flush_folder),
    }
}

/// The clips are those of the plan: a copy that was cut off is told from a bad clip.
fn check_clips(task: &TaskSwing, clips: &Path) -> Result<(), String> {
    for clip in &task.swing.clips {
        let path = clips.join(&clip.relative);
        let shown = path.display();
        let sum = sha256(&path).map_err(|e| {
            format!("{shown}: {e}. Copy the clip there, or name its folder with --clips.")
        })?;
        if sum != clip.sha256 {
            return Err(format!(
                "{shown}: not the clip that was planned (its SHA-256 differs). Copy it again, or plan again."
            ));
        }
    }
    Ok(())
}
