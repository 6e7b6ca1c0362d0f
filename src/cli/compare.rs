//! `quarterturn compare`: two measured swings side by side.

use std::path::PathBuf;

use clap::Args;

use super::shared::holds_something;
use super::stop::on_ctrl_c;
use super::{Exit, say::say};
use crate::config::Pipeline;
use crate::progress::Silent;
use crate::report::compare::{Difference, Measured, write_comparison};
use crate::report::{ReportError, Settings, words};
use crate::terms::Event;
use crate::worker::report_failed;

#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Folder of the first measured swing (with swing.json inside)
    #[arg(value_name = "DIR_1")]
    first: PathBuf,
    /// Folder of the second measured swing
    #[arg(value_name = "DIR_2")]
    second: PathBuf,
    /// Folder to write comparison.html and comparison.json into; must be empty or not there yet
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Pipeline file laid over the built-in values
    #[arg(long, value_name = "FILE")]
    pipeline: Option<PathBuf>,
    /// One JSON object on standard output, nothing else
    #[arg(long)]
    json: bool,
    /// No words on standard output
    #[arg(long, short)]
    quiet: bool,
}

pub fn run(args: &CompareArgs) -> Exit {
    compare(args).unwrap_or_else(|(exit, text)| {
        eprintln!("{text}");
        exit
    })
}

fn compare(args: &CompareArgs) -> Result<Exit, (Exit, String)> {
    if holds_something(&args.out) {
        let text = format!(
            "{}: the folder is not empty, and nothing is overwritten. Name another one with --out.",
            args.out.display()
        );
        return Err((Exit::Usage, text));
    }
    let pipeline =
        Pipeline::load(args.pipeline.as_deref()).map_err(|e| (Exit::Usage, e.to_string()))?;
    let read = |folder| Measured::read(folder).map_err(|e| (Exit::Nothing, e.to_string()));
    let (first, second) = (read(&args.first)?, read(&args.second)?);
    let settings = Settings::of(&pipeline);
    let cancel = on_ctrl_c();
    let comparison = write_comparison(&args.out, &first, &second, settings, &Silent, &cancel)
        .map_err(report_failed)?;
    if args.json {
        let text = serde_json::to_string(&comparison)
            .map_err(|e| (Exit::Nothing, ReportError::Json(e).to_string()))?;
        say!("{text}");
    } else if !args.quiet {
        say!(
            "{} and {}, at the top:",
            comparison.first,
            comparison.second
        );
        let top = |d: &&Difference| d.event == Event::Top;
        for d in comparison.differences.iter().filter(top) {
            say!(
                "  {}: {}, {} to {}",
                d.measure.words(),
                d.word.text(),
                words::estimate_or_why(&d.first),
                words::estimate_or_why(&d.second)
            );
        }
        say!("Page: {}", args.out.join("comparison.html").display());
    }
    Ok(Exit::Done)
}
