//! `quarterturn set` and `quarterturn progress`: swings that belong together, and lessons in a row.

use std::path::PathBuf;

use clap::Args;

use super::Exit;
use super::say::{failed, say};
use super::shared::OutArgs;
use super::stop::on_ctrl_c;
use crate::config::Pipeline;
use crate::progress::Silent;
use crate::report::ReportError;
use crate::result::Lesson;
use crate::sets::page::Drawing;
use crate::sets::{
    Course, Row, SetsError, TwoSets, Wanted, json_of_course, json_of_set, json_of_two, read, story,
    write_progress, write_set, write_two,
};
use crate::worker::Failure;

/// Arguments of `quarterturn set`.
#[derive(Debug, Args)]
pub struct SetArgs {
    /// Folder of measured swings
    #[arg(value_name = "RESULTS_DIR")]
    results: PathBuf,
    /// Whose swings
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
    /// Of which lesson (2026-05-14); the newest with such swings when left out
    #[arg(long, value_name = "DATE")]
    lesson: Option<Lesson>,
    /// With which label ("hips held"); all of the lesson when left out
    #[arg(long, value_name = "TEXT")]
    label: Option<String>,
    /// This swing, by its folder's name, and no others; may be given several times
    #[arg(long = "swing", value_name = "NAME", conflicts_with_all = ["player", "lesson", "label"])]
    swings: Vec<String>,
    /// Compare with the same player's swings of this label: these less those
    #[arg(long, value_name = "TEXT", conflicts_with = "swings")]
    against: Option<String>,
    /// The lesson to compare with, where it is another one
    #[arg(long, value_name = "DATE", conflicts_with = "swings")]
    against_lesson: Option<Lesson>,
    #[command(flatten)]
    out: OutArgs,
}

/// Arguments of `quarterturn progress`.
#[derive(Debug, Args)]
pub struct ProgressArgs {
    /// Folder of measured swings
    #[arg(value_name = "RESULTS_DIR")]
    results: PathBuf,
    /// Whose lessons
    #[arg(long, value_name = "NAME")]
    player: String,
    #[command(flatten)]
    out: OutArgs,
}

type Ended = Result<(), Failure>;

fn written(result: Result<(), SetsError>) -> Ended {
    result.map_err(|e| match e {
        SetsError::Report(ReportError::Stopped) => Failure::new(Exit::Stopped, e),
        _ => Failure::nothing(e),
    })
}

/// Checks what is common, and draws.
fn with_drawing(out: &OutArgs, work: impl FnOnce(&Pipeline, &Drawing) -> Ended) -> Exit {
    let drawn = out.pipeline().and_then(|pipeline| {
        let drawing = Drawing {
            pipeline: &pipeline,
            swing_page: None,
            progress: &Silent,
            cancel: &on_ctrl_c(),
        };
        work(&pipeline, &drawing)
    });
    drawn.map_or_else(|told| failed(out.json, told), |()| Exit::Done)
}

fn tell(out: &OutArgs, json: &serde_json::Value, words: &str, page: &str) {
    if out.json {
        say!("{json}");
    } else if !out.quiet {
        say!("{words}");
        say!("Page: {}", out.out.join(page).display());
    }
}

/// Makes the page of a set, or of two.
pub fn run_set(args: &SetArgs) -> Exit {
    with_drawing(&args.out, |pipeline, drawing| {
        let all = read(&args.results);
        let wanted = Wanted {
            player: args.player.clone(),
            lesson: args.lesson,
            label: args.label.clone(),
            swings: args.swings.clone(),
        };
        let set = wanted.choose(&all).map_err(Failure::nothing)?;
        if args.against.is_none() && args.against_lesson.is_none() {
            let rows: Vec<Row> = set.rows(pipeline);
            written(write_set(&args.out.out, &set, &rows, drawing))?;
            tell(
                &args.out,
                &json_of_set(&set, &rows),
                &story::of_set(&set, &rows),
                "set.html",
            );
            return Ok(());
        }
        let other = Wanted {
            lesson: args.against_lesson.or(args.lesson).or(set.lesson()),
            label: args.against.clone().or(wanted.label.clone()),
            ..wanted.clone()
        };
        let other = other.choose(&all).map_err(Failure::nothing)?;
        let two = TwoSets::new(other, set, pipeline);
        written(write_two(&args.out.out, &two, drawing))?;
        tell(
            &args.out,
            &json_of_two(&two),
            &story::of_two(&two),
            "sets.html",
        );
        Ok(())
    })
}

/// Makes the page of a player's lessons.
pub fn run_progress(args: &ProgressArgs) -> Exit {
    with_drawing(&args.out, |pipeline, drawing| {
        let all = read(&args.results);
        let course = Course::of(&args.player, &all, pipeline).ok_or_else(|| {
            Failure::nothing(format!(
                "{}: no measured swing is of {}. Look at the names in the library.",
                args.results.display(),
                args.player
            ))
        })?;
        written(write_progress(&args.out.out, &course, drawing))?;
        let words = format!(
            "{}: {} lessons, {} swings",
            course.player,
            course.lessons(),
            course.swings()
        );
        tell(&args.out, &json_of_course(&course), &words, "progress.html");
        Ok(())
    })
}
