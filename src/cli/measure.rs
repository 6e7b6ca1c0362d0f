//! `quarterturn measure`: the clips of one swing in, a result folder out.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::plain::plain;
use super::progress_bars::Bars;
use super::say::say;
use super::{Exit, place, stop};
use crate::agreement::Calibration;
use crate::clip::ClipError;
use crate::config::Pipeline;
use crate::measure::{CLIP_NOT_USED, MeasureError, Measured, Options, Refusal, measure_swing};
use crate::pose::{ModelFiles, PoseError};
use crate::report::first::figures;
use crate::report::{References, ReportError, Settings, untold, words, write_report};
use crate::result::{TypedIn, judge, swing_name, write_result};
use crate::terms::{Event, Handedness, Role};

#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Hand {
    Right,
    Left,
}

impl From<Hand> for Handedness {
    fn from(hand: Hand) -> Self {
        match hand {
            Hand::Right => Self::Right,
            Hand::Left => Self::Left,
        }
    }
}

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
    /// File of reference ranges in place of the built-in ones
    #[arg(long, value_name = "FILE")]
    pub ranges: Option<PathBuf>,
    /// A studio calibration written by `quarterturn agree --learn`
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
    /// Part of a clip that holds the swing, seconds of playback ("12.5-18"), or "whole"; once for
    /// each clip: face-on, down-the-line, then the others
    #[arg(long, value_name = "FROM-TO", value_parser = part)]
    pub part: Vec<Part>,
    #[command(flatten)]
    pub common: CommonArgs,
    /// Print one JSON object on standard output, nothing else
    #[arg(long)]
    pub json: bool,
    /// Progress on standard error though --json is given
    #[arg(long, hide = true)]
    pub lines: bool,
}

/// A part of a clip, or the whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part(Option<(f64, f64)>);

/// Options that several commands share.
#[derive(Clone, Debug, Args)]
pub struct CommonArgs {
    /// Playback seconds for each real second (8 for 240 fps shown at 30); read from the file when it tells
    #[arg(long, value_name = "N", value_parser = positive)]
    pub time_scale: Option<f64>,
    /// Handedness of the player; found from the pictures when not given
    #[arg(long)]
    pub handed: Option<Hand>,
    /// Stature of the player, cm: gives sway in centimetres and a better scale
    #[arg(long, value_name = "CM", value_parser = stature)]
    pub stature_cm: Option<f64>,
    /// Ball speed with its unit, as typed ("52 m/s"); kept, never computed with
    #[arg(long, value_name = "TEXT")]
    pub ball_speed: Option<String>,
    /// Carry with its unit, as typed ("142 m")
    #[arg(long, value_name = "TEXT")]
    pub carry: Option<String>,
    /// Player's name, kept in the result
    #[arg(long)]
    pub player: Option<String>,
    /// Club, kept in the result
    #[arg(long)]
    pub club: Option<String>,
    /// Make the golfer's head unrecognisable in every picture and video written
    #[arg(long)]
    pub blur_face: bool,
    /// A pipeline file whose values replace the built-in ones
    #[arg(long, value_name = "FILE")]
    pub pipeline: Option<PathBuf>,
    /// Threads for the networks
    #[arg(long, value_name = "N", default_value_t = default_jobs(), value_parser = clap::value_parser!(u16).range(1..=256))]
    pub jobs: u16,
    /// Read every frame, also while nothing moves
    #[arg(long)]
    pub every_frame: bool,
    /// No progress on standard error
    #[arg(long)]
    pub quiet: bool,
}

pub(super) fn default_jobs() -> u16 {
    std::thread::available_parallelism().map_or(1, |n| n.get().min(256) as u16)
}

pub(super) fn positive(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(v) if v.is_finite() && (0.01..=100.0).contains(&v) => Ok(v),
        _ => Err("give a number between 0.01 and 100".into()),
    }
}

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

fn stature(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(v) if (80.0..=250.0).contains(&v) => Ok(v),
        _ => Err("give centimetres between 80 and 250".into()),
    }
}

impl CommonArgs {
    pub fn options(
        &self,
        name: String,
        clips: Vec<(PathBuf, Option<Role>)>,
        pipeline: &Pipeline,
    ) -> Options {
        Options {
            name,
            clips,
            parts: Vec::new(),
            handed: self.handed.map(Into::into),
            time_scale: self.time_scale,
            stature_cm: self.stature_cm,
            typed_in: TypedIn {
                player: self.player.clone(),
                club: self.club.clone(),
                stature_cm: self.stature_cm,
                ball_speed: self.ball_speed.clone(),
                carry: self.carry.clone(),
            },
            pipeline: pipeline.clone(),
            every_frame: self.every_frame,
            jobs: usize::from(self.jobs),
            uncalibrated: false,
        }
    }
}

/// The clips with the roles that were given.
fn clips(args: &MeasureArgs) -> Result<Vec<(PathBuf, Option<Role>)>, String> {
    let mut clips: Vec<(PathBuf, Option<Role>)> = Vec::new();
    clips.extend(args.face_on.iter().map(|c| (c.clone(), Some(Role::FaceOn))));
    clips.extend(
        args.down_the_line
            .iter()
            .map(|c| (c.clone(), Some(Role::DownTheLine))),
    );
    clips.extend(args.clips.iter().map(|c| (c.clone(), None)));
    match clips.as_slice() {
        [] => Err("no clip was given. Give one or two: `quarterturn measure --face-on A.mp4 --down-the-line B.mp4 --out DIR`.".into()),
        [a, b] if same_file(&a.0, &b.0) => Err(format!("{}: the same clip was given twice. Give the other view, or this one alone.", a.0.display())),
        [_] | [_, _] => Ok(clips),
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
    match measure(args) {
        Ok(None) => Exit::Done,
        Ok(Some(text)) => {
            eprintln!("quarterturn: {}", plain(&text));
            Exit::SomeFailed
        }
        Err((exit, mut refusal)) => {
            refusal.text = plain(&refusal.text);
            if args.json {
                say!("{}", serde_json::json!(refusal));
            }
            eprintln!("quarterturn: {}", refusal.text);
            exit
        }
    }
}

/// Measures; the sentence is about a clip that could not be used beside the other.
fn measure(args: &MeasureArgs) -> Result<Option<String>, (Exit, Refusal)> {
    let usage = |text: String| (Exit::Usage, Refusal::failed(text));
    let failed = |(exit, text): (Exit, String)| (exit, Refusal::failed(text));
    let clips = clips(args).map_err(usage)?;
    let paths: Vec<&Path> = clips.iter().map(|c| c.0.as_path()).collect();
    let name = match &args.name {
        Some(name) if swing_name(&[Path::new(&format!("{name}.x"))]) != *name => {
            return Err(usage(format!(
                "--name {name:?} cannot be a folder's name. Use letters, digits, dashes and dots."
            )));
        }
        Some(name) => name.clone(),
        None => swing_name(&paths),
    };
    let folder = args.out.join(&name);
    if folder.exists() && !args.replace {
        return Err(usage(format!(
            "{}: exists already. Give another --out or --name, or --replace to put the new result in its place.",
            folder.display()
        )));
    }
    // Read before measuring, so that a wrong file costs no time.
    let references = References::load(args.ranges.as_deref()).map_err(|e| usage(e.to_string()))?;
    let mut pipeline =
        Pipeline::load(args.common.pipeline.as_deref()).map_err(|e| usage(e.to_string()))?;
    pipeline.report.blur_face |= args.common.blur_face;
    let calibration = args
        .calibration
        .as_deref()
        .map(Calibration::read)
        .transpose()
        .map_err(|e| usage(e.to_string()))?;
    let files = ModelFiles::find().map_err(|e| (Exit::Nothing, Refusal::from(&e)))?;
    place::check(&args.out).map_err(failed)?;
    let mut options = args.common.options(name, clips, &pipeline);
    options.parts = args.part.iter().map(|p| p.0).collect();
    let progress = Bars::new(args.common.quiet || (args.json && !args.lines));
    let cancel = stop::on_ctrl_c();
    let mut measured = measure_swing(&options, &files, &progress, &cancel)
        .map_err(|e| (exit_of(&e), Refusal::from(&e)))?;
    if let Some(calibration) = &calibration {
        calibration.apply(&mut measured.result, &mut measured.curves);
        // Intervals were re-scaled.
        judge(&mut measured.result, &mut measured.curves, &pipeline.usable);
    }
    place::put(&args.out, &folder, |part| {
        write_result(part, &measured.result, &measured.curves)
            .map_err(|e| (Exit::Nothing, e.to_string()))?;
        write_report(
            part,
            &measured.result,
            &measured.curves,
            &measured.overlays,
            &references,
            Settings::of(&pipeline),
            &progress,
            &cancel,
        )
        .map_err(report_failed)
    })
    .map_err(failed)?;
    if args.json {
        match serde_json::to_string(&measured.result) {
            Ok(text) => say!("{text}"),
            Err(e) => return Err((Exit::Nothing, Refusal::failed(e.to_string()))),
        }
    } else {
        print_summary(&measured, &folder);
    }
    let mut warnings = measured.result.warnings.into_iter();
    Ok(warnings.find(|w| w.code == CLIP_NOT_USED).map(|w| w.text))
}

pub fn exit_of(error: &MeasureError) -> Exit {
    match error {
        MeasureError::Stopped | MeasureError::Pose(PoseError::Stopped) => Exit::Stopped,
        MeasureError::Clips(_) => Exit::Usage,
        MeasureError::Pose(PoseError::Clip(ClipError::Io { .. })) => Exit::Nothing,
        _ => Exit::Nothing,
    }
}

/// How a report that failed ends the program.
pub fn report_failed(error: ReportError) -> (Exit, String) {
    let exit = match error {
        ReportError::Stopped => Exit::Stopped,
        _ => Exit::Nothing,
    };
    (exit, error.to_string())
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
