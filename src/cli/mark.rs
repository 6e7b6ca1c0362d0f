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
use crate::worker::{exit_of, place, report_failed};

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

fn mark(args: &MarkArgs) -> Result<(), (Exit, String)> {
    let name = swing_name(&[&args.clip]);
    let folder = args.out.join(&name);
    if folder.exists() {
        return Err((
            Exit::Usage,
            format!(
                "{}: exists already, and nothing is overwritten. Give another --out.",
                folder.display()
            ),
        ));
    }
    let usage = |text| (Exit::Usage, text);
    let mut options = args.reading.options().map_err(usage)?;
    args.player.fill(&mut options);
    options.name = name;
    options.clips = vec![(args.clip.clone(), None)];
    let files = ModelFiles::find().map_err(|e| (Exit::Nothing, e.to_string()))?;
    place::check(&args.out)?;
    let progress = Bars::new(args.reading.quiet);
    let cancel = stop::on_ctrl_c();
    let measured = measure_swing(&options, &files, &progress, &cancel)
        .map_err(|e| (exit_of(&e), e.to_string()))?;
    place::put(&args.out, &folder, |part| {
        let drawing = Drawing::of(part, &measured, &options.pipeline, &progress, &cancel);
        write_mark(&drawing).map_err(report_failed)
    })?;
    say!("{}", folder.display());
    Ok(())
}
