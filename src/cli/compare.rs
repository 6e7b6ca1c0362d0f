//! `quarterturn compare`: two measured swings side by side.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Exit, say::say};
use crate::config::Pipeline;
use crate::progress::{Cancel, Silent};
use crate::report::Settings;
use crate::report::compare::{Measured, write_comparison};
use crate::report::words;
use crate::terms::Event;

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
    if holds_something(&args.out) {
        eprintln!(
            "{}: the folder is not empty, and nothing is overwritten. Name another one with --out.",
            args.out.display()
        );
        return Exit::Usage;
    }
    let pipeline = match Pipeline::load(args.pipeline.as_deref()) {
        Ok(p) => p,
        Err(e) => {
            eprintln!("{e}");
            return Exit::Usage;
        }
    };
    let settings = Settings::of(&pipeline);
    let cancel = Cancel::default();
    let on_stop = cancel.clone();
    // Without a handler Ctrl-C still ends the program, only less tidily.
    let _ = ctrlc::set_handler(move || on_stop.request());
    let both =
        Measured::read(&args.first).and_then(|a| Measured::read(&args.second).map(|b| (a, b)));
    let (first, second) = match both {
        Ok(both) => both,
        Err(e) => {
            eprintln!("{e}");
            return Exit::Nothing;
        }
    };
    let written = write_comparison(&args.out, &first, &second, settings, &Silent, &cancel);
    let comparison = match written {
        Ok(c) => c,
        Err(crate::report::ReportError::Stopped) => return Exit::Stopped,
        Err(e) => {
            eprintln!("{e}");
            return Exit::Nothing;
        }
    };
    if args.json {
        match serde_json::to_string(&comparison) {
            Ok(text) => say!("{text}"),
            Err(e) => {
                eprintln!("the comparison could not be written as JSON: {e}");
                return Exit::Nothing;
            }
        }
    } else if !args.quiet {
        say!(
            "{} and {}, at the top:",
            comparison.first,
            comparison.second
        );
        for d in comparison
            .differences
            .iter()
            .filter(|d| d.event == Event::Top)
        {
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
    Exit::Done
}

/// True where `path` is there and is not an empty folder.
fn holds_something(path: &Path) -> bool {
    match std::fs::read_dir(path) {
        Ok(mut entries) => entries.next().is_some(),
        Err(_) => path.exists(),
    }
}
