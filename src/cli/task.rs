//! `quarterturn measure --plan`: one task of a plan, for an engine that runs many machines.

use std::path::{Path, PathBuf};

use clap::Args;

use super::plain::plain;
use super::progress_bars::Bars;
use super::say::{failed, say};
use super::{Exit, stop};
use crate::batch::{Answered, TaskPlan, answer_task};
use crate::worker::Failure;

/// What the plan says already, and may not be said twice: options, and groups of them by their struct.
const SAID: [&str; 18] = [
    "clips",
    "face_on",
    "down_the_line",
    "name",
    "replace",
    "part",
    "time_scale",
    "handed",
    "blur_face",
    "pipeline",
    "jobs",
    "run_on",
    "every_frame",
    "stature_cm",
    "ball_speed",
    "carry",
    "FileArgs",
    "LessonArgs",
];

/// Which task of which plan.
#[derive(Debug, Args)]
pub struct TaskArgs {
    /// Measure one task of a plan that `quarterturn folder --plan --json` wrote; what comes of it,
    /// a result or the reason why there is none, stands once in DIR, in a folder named by the
    /// task's fingerprint. Exit codes: 0 and 1 are final; 75 and 130 ask for another try
    #[arg(long, value_name = "PLAN", requires = "clips_dir", conflicts_with_all = SAID)]
    pub plan: Option<PathBuf>,
    /// The task's fingerprint, or its number from 0; not needed where the plan holds one only
    #[arg(long, value_name = "TASK", requires = "plan")]
    pub task: Option<String>,
    /// Folder that the plan's clips are in, under the paths that the plan gives
    #[arg(long = "clips", value_name = "CLIPS_DIR", requires = "plan")]
    pub clips_dir: Option<PathBuf>,
}

/// What is told, and how.
#[derive(Clone, Copy)]
pub struct Told {
    /// One JSON object.
    pub json: bool,
    /// No progress.
    pub quiet: bool,
}

/// Measures the task, or tells what came of it before.
pub fn run(plan: &Path, args: &TaskArgs, out: &Path, told: Told) -> Exit {
    match answered(plan, args, out, told) {
        Ok(Answered { folder, answer }) => {
            if told.json {
                match serde_json::to_string(&answer) {
                    Ok(text) => say!("{text}"),
                    Err(e) => eprintln!("quarterturn: {e}"),
                }
            } else {
                say!("{}", folder.display());
            }
            match answer.refusal() {
                None => Exit::Done,
                Some(refusal) => {
                    eprintln!("quarterturn: {}", plain(&refusal.text));
                    Exit::Nothing
                }
            }
        }
        // What another try can mend is told to the engine, not to a person.
        Err(Failure { exit, refusal }) => {
            failed(told.json, Failure::new(exit, plain(&refusal.text)));
            exit
        }
    }
}

fn answered(path: &Path, args: &TaskArgs, out: &Path, told: Told) -> Result<Answered, Failure> {
    let plan = TaskPlan::read(path).map_err(Failure::usage)?;
    let task = plan
        .pick(path, args.task.as_deref())
        .map_err(Failure::usage)?;
    // Several tasks share a machine. Where the pool stands already, it is as good.
    let _ = rayon::ThreadPoolBuilder::new()
        .num_threads(plan.needs.cores)
        .build_global();
    let clips = args.clips_dir.as_deref().unwrap_or(Path::new("."));
    let progress = Bars::new(told.quiet || told.json);
    answer_task(&plan, task, clips, out, &progress, &stop::on_ctrl_c())
}
