//! Options that several commands share.

use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};

use crate::agreement::Calibration;
use crate::config::Pipeline;
use crate::measure::Options;
use crate::pose::Provider;
use crate::report::References;
use crate::result::{Lesson, TypedIn};
use crate::terms::Handedness;
use crate::worker::{Failure, Given};

/// How clips are read and what is drawn.
#[derive(Clone, Debug, Args)]
pub struct ReadingArgs {
    /// Playback seconds for each real second (8 for 240 fps shown at 30); read from the file when it tells
    #[arg(long, value_name = "N", value_parser = positive)]
    pub time_scale: Option<f64>,
    /// Handedness of the player; found from the pictures when not given
    #[arg(long, value_parser = one_of(Handedness::ALL, Handedness::key))]
    pub handed: Option<Handedness>,
    /// Make the golfer's head unrecognisable in every picture and video written
    #[arg(long)]
    pub blur_face: bool,
    /// A pipeline file whose values replace the built-in ones
    #[arg(long, value_name = "FILE")]
    pub pipeline: Option<PathBuf>,
    /// Threads for the networks; for a folder, swings measured at the same time, each on one core
    #[arg(long, value_name = "N", default_value_t = default_jobs(), value_parser = clap::value_parser!(u16).range(1..=256))]
    pub jobs: u16,
    /// What the networks run on; where it is missing or reads otherwise, the processor, and the result says so
    #[arg(long, value_name = "WHAT", default_value = Provider::Processor.key(), value_parser = one_of(Provider::ALL, Provider::key))]
    pub run_on: Provider,
    /// Read every frame, also while nothing moves
    #[arg(long)]
    pub every_frame: bool,
    /// No progress on standard error
    #[arg(long)]
    pub quiet: bool,
}

/// Whose swing it is, and what was tried.
#[derive(Clone, Debug, Args)]
pub struct LessonArgs {
    /// Player's name, kept in the result
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// Day of the lesson (2026-05-14); the day of filming when not given, where the clip tells it
    #[arg(long, value_name = "DATE")]
    pub lesson: Option<Lesson>,
    /// What was tried, in a word or two ("hips held"); swings of one label make a set
    #[arg(long, value_name = "TEXT")]
    pub label: Option<String>,
    /// Club, kept in the result
    #[arg(long, value_name = "TEXT")]
    pub club: Option<String>,
    /// Anything else worth keeping with the swing
    #[arg(long, value_name = "TEXT")]
    pub notes: Option<String>,
}

/// What is told of one player and swing.
#[derive(Clone, Debug, Args)]
pub struct PlayerArgs {
    #[command(flatten)]
    pub lesson: LessonArgs,
    /// Stature of the player, cm: gives sway in centimetres and a better scale
    #[arg(long, value_name = "CM", value_parser = stature)]
    pub stature_cm: Option<f64>,
    /// Ball speed with its unit, as typed ("52 m/s"); kept, never computed with
    #[arg(long, value_name = "TEXT")]
    pub ball_speed: Option<String>,
    /// Carry with its unit, as typed ("142 m")
    #[arg(long, value_name = "TEXT")]
    pub carry: Option<String>,
}

/// Files that numbers are set beside or corrected by.
#[derive(Clone, Debug, Args)]
pub struct FileArgs {
    /// File of reference ranges in place of the built-in ones
    #[arg(long, value_name = "FILE")]
    pub ranges: Option<PathBuf>,
    /// A studio calibration written by `quarterturn agree --learn`
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
}

/// Where a page made of measured swings goes, and what is told.
#[derive(Debug, Args)]
pub struct OutArgs {
    /// Folder to write the page and its files into; must be empty or not there yet
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Pipeline file laid over the built-in values
    #[arg(long, value_name = "FILE")]
    pub pipeline: Option<PathBuf>,
    /// One JSON object on standard output, nothing else
    #[arg(long)]
    pub json: bool,
    /// No words on standard output
    #[arg(long, short)]
    pub quiet: bool,
}

/// True where `path` is there and is not an empty folder.
pub fn holds_something(path: &Path) -> bool {
    match std::fs::read_dir(path) {
        Ok(mut entries) => entries.next().is_some(),
        Err(_) => path.exists(),
    }
}

/// Parses one of the words that `key` gives to each of `all`.
pub fn one_of<T: Copy + Send + Sync + 'static, const N: usize>(
    all: [T; N],
    key: fn(T) -> &'static str,
) -> impl TypedValueParser<Value = T> {
    PossibleValuesParser::new(all.map(key)).try_map(move |typed| {
        let named = all.into_iter().find(|v| key(*v) == typed);
        named.ok_or("not one of the words")
    })
}

fn default_jobs() -> u16 {
    std::thread::available_parallelism().map_or(1, |n| n.get().min(256) as u16)
}

fn positive(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(v) if v.is_finite() && (0.01..=100.0).contains(&v) => Ok(v),
        _ => Err("give a number between 0.01 and 100".into()),
    }
}

fn stature(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(v) if (80.0..=250.0).contains(&v) => Ok(v),
        _ => Err("give centimetres between 80 and 250".into()),
    }
}

impl ReadingArgs {
    /// What these options say of a measurement; the pipeline's file is read and checked.
    pub fn options(&self) -> Result<Options, Failure> {
        let mut pipeline = Pipeline::load(self.pipeline.as_deref())?;
        pipeline.report.blur_face |= self.blur_face;
        Ok(Options {
            handed: self.handed,
            time_scale: self.time_scale,
            pipeline,
            run_on: self.run_on,
            every_frame: self.every_frame,
            jobs: usize::from(self.jobs),
            ..Options::default()
        })
    }
}

impl OutArgs {
    /// The pipeline, where there is room for the page.
    pub fn pipeline(&self) -> Result<Pipeline, Failure> {
        if holds_something(&self.out) {
            let text = format!(
                "{}: the folder is not empty, and nothing is overwritten. Name another one with --out.",
                self.out.display()
            );
            return Err(Failure::usage(text));
        }
        Ok(Pipeline::load(self.pipeline.as_deref())?)
    }
}

impl LessonArgs {
    /// What was typed.
    pub fn typed_in(&self) -> TypedIn {
        TypedIn {
            player: self.player.clone(),
            lesson: self.lesson,
            label: self.label.clone(),
            club: self.club.clone(),
            notes: self.notes.clone(),
            ..TypedIn::default()
        }
        .tidied()
    }
}

impl PlayerArgs {
    /// Adds what was typed.
    pub fn fill(&self, options: &mut Options) {
        options.stature_cm = self.stature_cm;
        options.typed_in = TypedIn {
            stature_cm: self.stature_cm,
            ball_speed: self.ball_speed.clone(),
            carry: self.carry.clone(),
            ..self.lesson.typed_in()
        };
    }
}

impl FileArgs {
    /// The options with what the files hold. Read before measuring, so that a wrong file costs no time.
    pub fn given(&self, options: Options) -> Result<Given, Failure> {
        let calibration = self.calibration.as_deref().map(Calibration::read);
        Ok(Given {
            options,
            references: References::load(self.ranges.as_deref()).map_err(Failure::usage)?,
            calibration: calibration.transpose().map_err(Failure::usage)?,
        })
    }
}
