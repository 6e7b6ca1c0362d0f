//! `quarterturn mark`: annotated stills and video of one clip, no numbers kept.

use std::path::PathBuf;

use clap::Args;

use super::progress_bars::Bars;
use super::say::{failed, say};
use super::shared::{PlayerArgs, ReadingArgs};
use super::{Exit, stop};
use crate::measure::measure_swing;
use crate::pose::ModelFiles;
use crate::report::{Drawing, write_mark};
use crate::result::swing_name;
use crate::worker::{Failure, place};

#[derive(Debug, Args)]
pub struct MarkArgs {
    /// The clip
    #[arg(value_name = "CLIP")]
    pub clip: PathBuf,
    /// Folder that the pictures' folder is made in
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    #[command(flatten)]
    pub reading: ReadingArgs,
    #[command(flatten)]
    pub player: PlayerArgs,
}

pub fn run(args: &MarkArgs) -> Exit {
    let marked = mark(args).map(|()| Exit::Done);
    marked.unwrap_or_else(|told| failed(false, told))
}

fn mark(args: &MarkArgs) -> Result<(), Failure> {
    let name = swing_name(&[&args.clip]);
    let folder = args.out.join(&name);
    if folder.exists() {
        return Err(Failure::usage(format!(
            "{}: exists already, and nothing is overwritten. Give another --out.",
            folder.display()
        )));
    }
    let mut options = args.reading.options()?;
    args.player.fill(&mut options);
    options.name = name;
    options.clips = vec![(args.clip.clone(), None)];
    let files = ModelFiles::find().map_err(Failure::nothing)?;
    place::check(&args.out)?;
    let progress = Bars::new(args.reading.quiet);
    let cancel = stop::on_ctrl_c();
    let measured = measure_swing(&options, &files, &progress, &cancel)?;
    place::put(&args.out, &folder, |part| {
        let drawing = Drawing::of(part, &measured, &options.pipeline, &progress, &cancel);
        Ok(write_mark(&drawing)?)
    })?;
    say!("{}", folder.display());
    Ok(())
}
