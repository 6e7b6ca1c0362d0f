//! `quarterturn folder`: every swing in a folder; run again to go on.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::Ordering;

use clap::Args;

use super::Exit;
use super::say::{failed, say, say_json};
use super::shared::{FileArgs, LessonArgs, ReadingArgs};
use super::stop::at_ctrl_c;
use crate::batch::{
    BatchError, CORRECTIONS_FILE, Outcome, RunOptions, Said, Stops, TaskPlan, plan_folder,
    run_folder,
};
use crate::measure::Nothing;
use crate::result::NamePattern;
use crate::worker::Failure;

#[derive(Debug, Args)]
pub struct FolderArgs {
    /// Folder of clips; folders in it are searched too
    #[arg(value_name = "CLIPS_DIR")]
    pub folder: PathBuf,
    /// Folder that the results are made in; give the same one again to go on
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Print which clips belong together and stop; with --json each swing is a task for
    /// `quarterturn measure --plan`, here or on another machine
    #[arg(long)]
    pub plan: bool,
    /// Try swings again that failed before
    #[arg(long)]
    pub again: bool,
    /// Folder of what `quarterturn measure --plan` made of this folder's plan elsewhere: taken over,
    /// with nothing measured twice
    #[arg(long, value_name = "DIR", conflicts_with = "plan")]
    pub measured: Option<PathBuf>,
    /// How names of folders and files tell whose swing it is and what was tried, for example
    /// "{player}/{lesson} {label}/{skip}"; also {club} and {number}. "_" is read as a space
    #[arg(long, value_name = "PATTERN", value_parser = NamePattern::parse)]
    pub names: Option<NamePattern>,
    #[command(flatten)]
    pub lesson: LessonArgs,
    #[command(flatten)]
    pub files: FileArgs,
    #[command(flatten)]
    pub reading: ReadingArgs,
    /// Print one JSON object on standard output, nothing else
    #[arg(long)]
    pub json: bool,
}

impl FolderArgs {
    fn options(&self) -> Result<RunOptions, Failure> {
        let mut options = self.reading.options()?;
        // Each worker has one core.
        let workers = std::mem::replace(&mut options.jobs, 1);
        let typed = self.lesson.typed_in();
        options.typed_in.notes = typed.notes.clone();
        Ok(RunOptions {
            folder: self.folder.clone(),
            out: self.out.clone(),
            jobs: workers,
            quiet: self.reading.quiet || self.json,
            again: self.again,
            measured: self.measured.clone(),
            given: self.files.given(options)?,
            said: Said {
                names: self.names.clone(),
                of_all: typed.into(),
            },
        })
    }
}

pub fn run(args: &FolderArgs) -> Exit {
    work(args).unwrap_or_else(|told| failed(args.json, told))
}

fn work(args: &FolderArgs) -> Result<Exit, Failure> {
    let stops = on_ctrl_c();
    let options = args.options()?;
    if args.plan {
        told_plan(plan_folder(&options, &stops)?.as_ref(), args)
    } else {
        Ok(told_outcome(&run_folder(&options, &stops)?, args))
    }
}

impl From<BatchError> for Failure {
    fn from(error: BatchError) -> Self {
        match error {
            BatchError::Busy { .. } | BatchError::Corrections { .. } => Self::usage(error),
            _ => Self::nothing(error),
        }
    }
}

/// The first Ctrl-C lets the swings under way finish, the second ends them.
fn on_ctrl_c() -> Arc<Stops> {
    let stops = Arc::new(Stops::default());
    let ours = Arc::clone(&stops);
    at_ctrl_c(move || {
        if ours.soon.swap(true, Ordering::SeqCst) {
            ours.now.store(true, Ordering::SeqCst);
        } else {
            eprintln!("finishing the swings under way; once more to stop at once");
        }
    });
    stops
}

fn told_plan(plan: Option<&TaskPlan>, args: &FolderArgs) -> Result<Exit, Failure> {
    let Some(plan) = plan else {
        return Ok(Exit::Stopped);
    };
    if args.json {
        say_json(plan)?;
    } else {
        print_plan(plan);
    }
    Ok(if plan.swings.is_empty() {
        Exit::Nothing
    } else {
        Exit::Done
    })
}

fn print_plan(plan: &TaskPlan) {
    for swing in plan.swings.iter().map(|t| &t.swing) {
        let t = &swing.told;
        let day = t.lesson.map(|l| l.to_string());
        let told: String = [&t.player, &day, &t.label, &t.club]
            .into_iter()
            .flatten()
            .map(|text| format!(", {text}"))
            .collect();
        say!(
            "{}{told}: {}, {}",
            swing.name,
            swing.kind.words(),
            swing.why
        );
        for clip in &swing.clips {
            let role = clip.role.map_or("role from the pictures", |r| r.words());
            let part = clip
                .part
                .map_or_else(String::new, |(f, t)| format!(", {f:.1} to {t:.1} s"));
            say!("    {} ({role}{part})", clip.relative.display());
        }
    }
    for skipped in &plan.skipped {
        say!("skipped as asked: {}", skipped.path.display());
    }
    for clip in &plan.unreadable {
        say!("left out: {}", clip.refusal.text);
    }
    for note in &plan.notes {
        say!("note: {note}");
    }
    say!(
        "{} swings. To correct this, write a file {CORRECTIONS_FILE} in the folder of clips, with lines like",
        plan.swings.len()
    );
    say!("    pair: A.mp4 + B.mov        alone: A.mp4        skip: A.mp4");
    say!("    face-on: A.mp4             down-the-line: B.mov");
    say!("    player: A.mp4 = NAME       lesson: A.mp4 = 2026-05-14");
    say!("    label: A.mp4 = hips held   club: A.mp4 = 7 iron");
    say!("    cut: A.mp4 = 12.5 to 18");
}

fn told_outcome(outcome: &Outcome, args: &FolderArgs) -> Exit {
    if args.json {
        let list = |kind| -> Vec<_> {
            outcome
                .of(kind)
                .map(|(name, reason)| serde_json::json!({ "name": name, "reason": reason }))
                .collect()
        };
        say!(
            "{}",
            serde_json::json!({
                "measured": outcome.measured,
                "measured_before": outcome.before,
                "no_swing": list(Nothing::NoSwing),
                "nobody_found": list(Nothing::NobodyFound),
                "failed": list(Nothing::Failed),
                "stopped": outcome.stopped,
                "ended_early": outcome.ended_early,
                "seconds": outcome.seconds,
                "index": args.out.join("index.html").to_string_lossy(),
            })
        );
    } else {
        for kind in Nothing::ALL {
            for (name, reason) in outcome.of(kind) {
                say!("{}: {name}: {reason}", kind.words());
            }
        }
        if !outcome.stopped || outcome.measured + outcome.before > 0 {
            say!("{}", args.out.join("index.html").display());
        }
        say!("{}", last_line(outcome));
    }
    if let Some(why) = &outcome.ended_early {
        eprintln!("quarterturn: {why}");
    }
    let some = outcome.measured + outcome.before > 0;
    if outcome.stopped {
        Exit::Stopped
    } else if !some {
        Exit::Nothing
    } else if outcome.nothing.iter().all(|n| no_failure(n.1.nothing))
        && outcome.ended_early.is_none()
    {
        Exit::Done
    } else {
        Exit::SomeFailed
    }
}

/// A clip without a swing was answered. One in which nobody was found may hold a golfer whom the
/// program missed: that is for the coach to look at.
fn no_failure(nothing: Nothing) -> bool {
    nothing == Nothing::NoSwing
}

/// How the run ended, in one line.
fn last_line(outcome: &Outcome) -> String {
    let mut told = format!(
        "{} measured now, {} before",
        outcome.measured, outcome.before
    );
    for kind in Nothing::ALL {
        let n = outcome.of(kind).count();
        let words = match kind {
            Nothing::NoSwing => "no swing in",
            Nothing::NobodyFound => "nobody found in",
            Nothing::Failed => "failed:",
        };
        if n > 0 {
            told += &format!(", {words} {n}");
        }
    }
    told + &format!(", {} s", outcome.seconds)
}
