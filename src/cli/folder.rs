//! `quarterturn folder`: every swing in a folder; run again to go on.

use std::ffi::OsString;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::Ordering;

use clap::Args;

use super::Exit;
use super::measure::{Hand, default_jobs, positive};
use crate::batch::{
    BatchError, CORRECTIONS_FILE, Outcome, Plan, RunOptions, Stops, plan_folder, run_folder,
};
use crate::measure::Nothing;

#[derive(Debug, Args)]
pub struct FolderArgs {
    /// Folder of clips; folders in it are searched too
    #[arg(value_name = "CLIPS_DIR")]
    pub folder: PathBuf,
    /// Folder that the results are made in; give the same one again to go on
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Print which clips belong together and stop
    #[arg(long)]
    pub plan: bool,
    /// Try swings again that failed before
    #[arg(long)]
    pub again: bool,
    /// Playback seconds for each real second, for all clips
    #[arg(long, value_name = "N", value_parser = positive)]
    pub time_scale: Option<f64>,
    /// Handedness of all players; found from the pictures when not given
    #[arg(long)]
    pub handed: Option<Hand>,
    /// Make the golfer's head unrecognisable in every picture and video written
    #[arg(long)]
    pub blur_face: bool,
    /// A pipeline file whose values replace the built-in ones
    #[arg(long, value_name = "FILE")]
    pub pipeline: Option<PathBuf>,
    /// A file of reference ranges that replaces the built-in one
    #[arg(long, value_name = "FILE")]
    pub ranges: Option<PathBuf>,
    /// A studio calibration written by `quarterturn agree --learn`
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
    /// Swings measured at the same time, each on one core
    #[arg(long, value_name = "N", default_value_t = default_jobs(), value_parser = clap::value_parser!(u16).range(1..=256))]
    pub jobs: u16,
    /// Read every frame, also while nothing moves
    #[arg(long)]
    pub every_frame: bool,
    /// No progress on standard error
    #[arg(long)]
    pub quiet: bool,
    /// Print one JSON object on standard output, nothing else
    #[arg(long)]
    pub json: bool,
}

impl FolderArgs {
    fn options(&self) -> RunOptions {
        let mut pass_on: Vec<OsString> = Vec::new();
        if let Some(n) = self.time_scale {
            pass_on.extend(["--time-scale".into(), n.to_string().into()]);
        }
        match self.handed {
            Some(Hand::Right) => pass_on.extend(["--handed".into(), "right".into()]),
            Some(Hand::Left) => pass_on.extend(["--handed".into(), "left".into()]),
            None => {}
        }
        if let Some(file) = &self.ranges {
            pass_on.extend(["--ranges".into(), file.into()]);
        }
        if let Some(file) = &self.calibration {
            pass_on.extend(["--calibration".into(), file.into()]);
        }
        if self.blur_face {
            pass_on.push("--blur-face".into());
        }
        if self.every_frame {
            pass_on.push("--every-frame".into());
        }
        RunOptions {
            folder: self.folder.clone(),
            out: self.out.clone(),
            jobs: usize::from(self.jobs),
            quiet: self.quiet || self.json,
            again: self.again,
            pipeline: self.pipeline.clone(),
            pass_on,
            pass_on_files: self
                .ranges
                .iter()
                .chain(&self.calibration)
                .cloned()
                .collect(),
        }
    }
}

pub fn run(args: &FolderArgs) -> Exit {
    let stops = on_ctrl_c();
    let ended = if args.plan {
        plan_folder(&args.options(), &stops).map(|p| told_plan(p.as_ref(), args))
    } else {
        run_folder(&args.options(), &stops).map(|o| told_outcome(&o, args))
    };
    ended.unwrap_or_else(|e| {
        if args.json {
            println!("{}", serde_json::json!({ "error": e.to_string() }));
        }
        eprintln!("quarterturn: {e}");
        match e {
            BatchError::Busy { .. } | BatchError::Corrections { .. } | BatchError::Config(_) => {
                Exit::Usage
            }
            _ => Exit::Nothing,
        }
    })
}

/// The first Ctrl-C lets the swings under way finish, the second ends them.
fn on_ctrl_c() -> Arc<Stops> {
    let stops = Arc::new(Stops::default());
    let ours = Arc::clone(&stops);
    let set = ctrlc::set_handler(move || {
        if ours.soon.swap(true, Ordering::SeqCst) {
            ours.now.store(true, Ordering::SeqCst);
        } else {
            eprintln!("finishing the swings under way; once more to stop at once");
        }
    });
    if let Err(error) = set {
        tracing::debug!(%error, "no Ctrl-C handler");
    }
    stops
}

fn told_plan(plan: Option<&Plan>, args: &FolderArgs) -> Exit {
    let Some(plan) = plan else {
        return Exit::Stopped;
    };
    if args.json {
        println!("{}", serde_json::json!(plan));
    } else {
        print_plan(plan);
    }
    if plan.swings.is_empty() {
        Exit::Nothing
    } else {
        Exit::Done
    }
}

fn print_plan(plan: &Plan) {
    for swing in &plan.swings {
        let player = swing
            .player
            .as_ref()
            .map_or_else(String::new, |p| format!(", {p}"));
        println!(
            "{}{player}: {}, {}",
            swing.name,
            swing.kind.words(),
            swing.why
        );
        for clip in &swing.clips {
            let role = clip.role.map_or("role from the pictures", |r| r.words());
            let part = clip
                .part
                .map_or_else(String::new, |(f, t)| format!(", {f:.1} to {t:.1} s"));
            println!("    {} ({role}{part})", clip.relative.display());
        }
    }
    for path in &plan.skipped {
        println!("skipped as asked: {}", path.display());
    }
    for (_, refusal) in &plan.unreadable {
        println!("left out: {}", refusal.text);
    }
    for note in &plan.notes {
        println!("note: {note}");
    }
    println!(
        "{} swings. To correct this, write a file {CORRECTIONS_FILE} in the folder of clips, with lines like",
        plan.swings.len()
    );
    println!("    pair: A.mp4 + B.mov        alone: A.mp4        skip: A.mp4");
    println!("    face-on: A.mp4             down-the-line: B.mov");
    println!("    player: A.mp4 = NAME       cut: A.mp4 = 12.5 to 18");
}

fn told_outcome(outcome: &Outcome, args: &FolderArgs) -> Exit {
    if args.json {
        let list = |kind| -> Vec<_> {
            outcome
                .of(kind)
                .map(|(name, reason)| serde_json::json!({ "name": name, "reason": reason }))
                .collect()
        };
        println!(
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
                println!("{}: {name}: {reason}", kind.words());
            }
        }
        if !outcome.stopped || outcome.measured + outcome.before > 0 {
            println!("{}", args.out.join("index.html").display());
        }
        println!("{}", last_line(outcome));
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
