//! `quarterturn inspect`: what a clip tells before it is measured. Used by `folder`, in a process
//! of its own for each clip.

use std::path::PathBuf;

use clap::Args;

use super::{Exit, stop};
use crate::batch;
use crate::config::{BuiltIn, Pipeline};

#[derive(Debug, Args)]
pub struct InspectArgs {
    #[arg(value_name = "CLIP")]
    pub clip: PathBuf,
    #[arg(long, value_name = "FILE")]
    pub pipeline: Option<PathBuf>,
}

/// Prints one JSON object, or one with the key `error`.
pub fn run(args: &InspectArgs) -> Exit {
    let cancel = stop::on_ctrl_c();
    let told = Pipeline::load(BuiltIn::TwoView, args.pipeline.as_deref())
        .map_err(|e| e.to_string())
        .and_then(|p| batch::inspect(&args.clip, &p, &cancel))
        .and_then(|found| serde_json::to_string(&found).map_err(|e| e.to_string()));
    match told {
        Ok(text) => {
            println!("{text}");
            Exit::Done
        }
        Err(text) => {
            println!("{}", serde_json::json!({ "error": text }));
            Exit::Nothing
        }
    }
}
