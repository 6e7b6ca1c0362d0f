//! `quarterturn inspect`: what a clip tells before it is measured. Used by `folder`, in a process
//! of its own for each clip.

use std::path::PathBuf;

use clap::Args;

use super::{Exit, stop};
use crate::batch;
use crate::clip::FrameReader;
use crate::config::Pipeline;
use crate::measure::Refusal;

#[derive(Debug, Args)]
pub struct InspectArgs {
    #[arg(value_name = "CLIP")]
    pub clip: PathBuf,
    #[arg(long, value_name = "FILE")]
    pub pipeline: Option<PathBuf>,
    /// Decode every picture too, and tell how many there are
    #[arg(long)]
    pub frames: bool,
}

/// How many pictures can be decoded.
fn frames(args: &InspectArgs, pipeline: &Pipeline) -> Result<usize, String> {
    let mut reader = FrameReader::open(&args.clip, &pipeline.clip).map_err(|e| e.to_string())?;
    reader.try_fold(0, |n, frame| match frame {
        Ok(_) => Ok(n + 1),
        Err(e) => Err(e.to_string()),
    })
}

/// Prints one JSON object, or one with the key `error`.
pub fn run(args: &InspectArgs) -> Exit {
    let cancel = stop::on_ctrl_c();
    let told = Pipeline::load(args.pipeline.as_deref())
        .map_err(|e| Refusal::failed(e.to_string()))
        .and_then(|p| {
            let found = batch::inspect(&args.clip, &p, &cancel)?;
            let mut told =
                serde_json::to_value(&found).map_err(|e| Refusal::failed(e.to_string()))?;
            if let (true, Some(told)) = (args.frames, told.as_object_mut()) {
                let frames = frames(args, &p).map_err(Refusal::failed)?;
                told.insert("frames".into(), frames.into());
            }
            Ok(told.to_string())
        });
    match told {
        Ok(text) => {
            println!("{text}");
            Exit::Done
        }
        Err(refusal) => {
            println!("{}", serde_json::json!(refusal));
            Exit::Nothing
        }
    }
}
