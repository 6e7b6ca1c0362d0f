//! `quarterturn measure`: the clips of one swing in, a result folder out.

use std::path::{Path, PathBuf};

use clap::Args;

use super::plain::plain;
use super::progress_bars::Bars;
use super::say::{say, say_json};
use super::shared::{FileArgs, PlayerArgs, ReadingArgs};
use super::task::{self, TaskArgs, Told};
use super::{Exit, stop};
use crate::measure::{CLIP_NOT_USED, Measured, OTHER_FOLDER};
use crate::report::first::figures;
use crate::report::{untold, words};
use crate::result::{is_folder_name, swing_name};
use crate::terms::{Event, Role};
use crate::worker::{self, Failure, JobClip, Measurement};

#[derive(Debug, Args)]
pub struct MeasureArgs {
    /// One or two clips of one swing; roles are found from the pictures
    #[arg(value_name = "CLIP", num_args = 0..=2)]
    pub clips: Vec<PathBuf>,
    /// The clip filmed from the front
    #[arg(long, value_name = "CLIP")]
    pub face_on: Option<PathBuf>,
    /// The clip filmed from behind the hands, towards the target
    #[arg(long, value_name = "CLIP")]
    pub down_the_line: Option<PathBuf>,
    /// Folder that the result's folder is made in
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Name of the result's folder
    #[arg(long)]
    pub name: Option<String>,
    /// Put a new result in the place of an older one of the same name
    #[arg(long)]
    pub replace: bool,
    #[command(flatten)]
    pub files: FileArgs,
    /// Part of a clip that holds the swing, seconds of playback ("12.5-18"), or "whole"; once for
    /// each clip: face-on, down-the-line, then the others
    #[arg(long, value_name = "FROM-TO", value_parser = part)]
    pub part: Vec<Part>,
    #[command(flatten)]
    pub reading: ReadingArgs,
    #[command(flatten)]
    pub player: PlayerArgs,
    #[command(flatten)]
    pub task: TaskArgs,
    /// Print one JSON object on standard output, nothing else
    #[arg(long)]
    pub json: bool,
}

/// A part of a clip, or the whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part(Option<(f64, f64)>);

fn part(text: &str) -> Result<Part, String> {
    if text == "whole" {
        return Ok(Part(None));
    }
    let wrong = || "give two times in seconds like 12.5-18, or \"whole\"".to_owned();
    let (from, to) = text.split_once('-').ok_or_else(wrong)?;
    let number = |t: &str| t.trim().parse::<f64>().map_err(|_| wrong());
    let (from, to) = (number(from)?, number(to)?);
    if from >= 0.0 && from < to && to.is_finite() {
        Ok(Part(Some((from, to))))
    } else {
        Err(wrong())
    }
}

/// The clips with the roles and parts that were given.
fn clips(args: &MeasureArgs) -> Result<Vec<JobClip>, String> {
    let named = [
        (&args.face_on, Role::FaceOn),
        (&args.down_the_line, Role::DownTheLine),
    ];
    let paths: Vec<(&PathBuf, Option<Role>)> = named
        .into_iter()
        .filter_map(|(clip, role)| Some((clip.as_ref()?, Some(role))))
        .chain(args.clips.iter().map(|c| (c, None)))
        .collect();
    match paths.as_slice() {
        [] => Err("no clip was given. Give one or two: `quarterturn measure --face-on A.mp4 --down-the-line B.mp4 --out DIR`.".into()),
        [(a, _), (b, _)] if same_file(a, b) => Err(format!("{}: the same clip was given twice. Give the other view, or this one alone.", a.display())),
        [_] | [_, _] => Ok(paths
            .iter()
            .enumerate()
            .map(|(i, (path, role))| JobClip {
                path: path.as_os_str().to_owned(),
                role: *role,
                part: args.part.get(i).and_then(|p| p.0),
            })
            .collect()),
        _ => Err("give one or two clips of one swing; several swings are measured with `quarterturn folder`.".into()),
    }
}

fn same_file(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => a == b,
    }
}

pub fn run(args: &MeasureArgs) -> Exit {
    if let Some(plan) = &args.task.plan {
        let told = Told {
            json: args.json,
            quiet: args.reading.quiet,
        };
        return task::run(plan, &args.task, &args.out, told);
    }
    match measure(args) {
        Ok(None) => Exit::Done,
        Ok(Some(text)) => {
            eprintln!("quarterturn: {}", plain(&text));
            Exit::SomeFailed
        }
        Err(Failure { exit, mut refusal }) => {
            refusal.text = plain(&refusal.text);
            if args.json {
                say!("{}", serde_json::json!(refusal));
            }
            eprintln!("quarterturn: {}", refusal.text);
            exit.typed()
        }
    }
}

/// Measures; the sentence is about a clip that could not be used beside the other.
fn measure(args: &MeasureArgs) -> Result<Option<String>, Failure> {
    let clips = clips(args).map_err(Failure::usage)?;
    let paths: Vec<&Path> = clips.iter().map(|c| Path::new(&c.path)).collect();
    let name = match &args.name {
        Some(name) if !is_folder_name(name) => {
            return Err(Failure::usage(format!(
                "--name {name:?} cannot be a folder's name. Use letters, digits, dashes and dots, no dot at the start."
            )));
        }
        Some(name) => name.clone(),
        None => swing_name(&paths),
    };
    let folder = args.out.join(&name);
    let mut options = args.reading.options()?;
    args.player.fill(&mut options);
    options.name = name;
    let job = Measurement {
        clips,
        out: args.out.clone().into_os_string(),
        replace: args.replace,
        given: args.files.given(options)?,
    };
    let progress = Bars::new(args.reading.quiet || args.json);
    let measured = worker::measure(&job, &progress, &stop::on_ctrl_c())?;
    if args.json {
        say_json(&measured.result)?;
    } else {
        print_summary(&measured, &folder);
        if let Some(other) = &measured.other {
            print_summary(other, &folder.join(OTHER_FOLDER));
        }
    }
    let mut warnings = measured.result.warnings.into_iter();
    Ok(warnings.find(|w| w.code == CLIP_NOT_USED).map(|w| w.text))
}

/// The headline figures, each with its interval.
fn print_summary(measured: &Measured, folder: &Path) {
    say!("{}", folder.join("report.html").display());
    let swing = &measured.result;
    if let Some(told) = untold::doubt(swing) {
        say!("  {told}");
    }
    for first in [Event::Top, Event::Impact]
        .into_iter()
        .filter_map(|e| figures(swing, e))
    {
        for (measure, e) in &first.figures {
            let (at, name) = (first.event.at_words(), measure.words());
            say!("  {at:<11} {name:<41} {}", words::estimate_or_why(e));
        }
    }
    let own_line = |code: &str| code == CLIP_NOT_USED;
    for warning in measured
        .result
        .warnings
        .iter()
        .filter(|w| !own_line(&w.code))
    {
        say!("  note: {}", plain(&warning.text));
    }
    for u in untold::untold(swing) {
        let (names, advice) = (untold::listed(&u.names), untold::advice(u.why, swing));
        say!("  can't tell {names}. {advice}");
    }
}
