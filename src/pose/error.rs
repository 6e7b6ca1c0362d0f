//! What can go wrong between a clip and what the networks see in it.

use std::path::PathBuf;

use crate::clip::ClipError;
use crate::config::files::Needed;
use crate::config::system::System;

/// Why the networks read nothing of a clip; one sentence each, with the file and what to do.
#[derive(Debug, thiserror::Error)]
pub enum PoseError {
    /// The clip can't be read.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// A network or the runtime library is not there.
    #[error("the {what} was not found in {looked}. {advice}")]
    Missing {
        /// What is missing.
        what: &'static str,
        /// The folders that were looked in.
        looked: String,
        /// What to do.
        advice: &'static str,
    },
    /// The runtime library does not load.
    #[error("{}: the runtime library does not load ({detail}). {}", path.display(), Needed::Runtime.advice(System::here()))]
    Runtime {
        /// Which file.
        path: PathBuf,
        /// What it said.
        detail: String,
    },
    /// A network can't be read.
    #[error("{}: not a model that this program can use ({detail}). Copy the model file from the project's models folder again.", path.display())]
    Model {
        /// Which file.
        path: PathBuf,
        /// What the runtime said.
        detail: String,
    },
    /// A network gave no answer that can be understood.
    #[error(
        "a network failed on a frame ({0}). Measure again; if it fails again, run `quarterturn check`."
    )]
    Network(String),
    /// Nobody was found in the clip.
    #[error("{}: nobody was found in the picture. Film the golfer whole, head to feet, in good light, and nearer.", .0.display())]
    Nobody(PathBuf),
    /// Who was followed stands on their head, which may be a picture turned wrongly or no person at all.
    #[error("{}: no swing can be read in it: what was taken for the golfer is upside down in the picture. If the clip plays so, turn it by 180° with the phone's own editor and measure it again; if no golfer is in it, there is nothing to measure.", .0.display())]
    UpsideDown(PathBuf),
    /// Who was followed lies, which may be a picture turned wrongly or no person at all.
    #[error("{}: no swing can be read in it: what was taken for the golfer lies on the side in the picture. If the clip plays so, turn it by 90° with the phone's own editor and measure it again; if no golfer is in it, there is nothing to measure.", .0.display())]
    Sideways(PathBuf),
    /// The user stopped it.
    #[error("stopped by the user.")]
    Stopped,
}
