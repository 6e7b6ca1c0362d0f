//! `quarterturn compare`: two measured swings side by side.

use std::path::PathBuf;

use clap::Args;

use super::Exit;
use super::say::{failed, say, say_json};
use super::shared::OutArgs;
use super::stop::on_ctrl_c;
use crate::progress::Silent;
use crate::report::compare::{Difference, write_comparison};
use crate::report::words;
use crate::result::StoredSwing;
use crate::terms::Event;
use crate::worker::Failure;

#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Folder of the first measured swing (with swing.json inside)
    #[arg(value_name = "DIR_1")]
    first: PathBuf,
    /// Folder of the second measured swing
    #[arg(value_name = "DIR_2")]
    second: PathBuf,
    #[command(flatten)]
    out: OutArgs,
}

pub fn run(args: &CompareArgs) -> Exit {
    compare(args).unwrap_or_else(|told| failed(args.out.json, told))
}

fn compare(args: &CompareArgs) -> Result<Exit, Failure> {
    let out = &args.out;
    let pipeline = out.pipeline()?;
    let read = |folder| StoredSwing::read(folder).map_err(Failure::nothing);
    let (first, second) = (read(&args.first)?, read(&args.second)?);
    let cancel = on_ctrl_c();
    let comparison = write_comparison(&out.out, [&first, &second], &pipeline, &Silent, &cancel)?;
    if out.json {
        say_json(&comparison)?;
    } else if !out.quiet {
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
        say!("Page: {}", out.out.join("comparison.html").display());
    }
    Ok(Exit::Done)
}
