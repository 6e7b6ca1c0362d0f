//! What can go wrong between a clip and what the networks see in it.

use std::path::PathBuf;

use crate::clip::ClipError;
use crate::config::files::Needed;
use crate::config::system::System;

#[derive(Debug, thiserror::Error)]
pub enum PoseError {
    #[error(transparent)]
    Clip(#[from] ClipError),
    #[error("the {what} was not found in {looked}. {advice}")]
    Missing {
        what: &'static str,
        looked: String,
        advice: &'static str,
    },
    #[error("{}: the runtime library does not load ({detail}). {}", path.display(), Needed::Runtime.advice(System::here()))]
    Runtime { path: PathBuf, detail: String },
    #[error("{}: not a model that this program can use ({detail}). Copy the model file from the project's models folder again.", path.display())]
    Model { path: PathBuf, detail: String },
    #[error(
        "a network failed on a frame ({0}). Measure again; if it fails again, run `quarterturn check`."
    )]
    Network(String),
    #[error("{}: nobody was found in the picture. Film the golfer whole, head to feet, in good light, and nearer.", .0.display())]
    Nobody(PathBuf),
    #[error("{}: the golfer is upside down in the picture. Turn the clip by 180° with the phone's own editor and measure it again.", .0.display())]
    UpsideDown(PathBuf),
    #[error("{}: the golfer lies on the side in the picture. Turn the clip by 90° with the phone's own editor and measure it again.", .0.display())]
    Sideways(PathBuf),
    #[error("stopped by the user.")]
    Stopped,
}
