//! `quarterturn check`: what is installed, what is missing.

use clap::Args;

use super::{Exit, say::say};
use crate::config::files::{Found, Needed};
use crate::config::system::System;
use crate::pose::try_runtime;
use crate::report::{EncodeError, can_write_video};

#[derive(Debug, Args)]
pub struct CheckArgs {}

/// Prints one line for each thing that measuring needs, with what to do where it is missing; fails
/// when any is.
pub fn run(_args: &CheckArgs) -> Exit {
    say!("quarterturn {}", env!("CARGO_PKG_VERSION"));
    let mut missing = false;
    for needed in Needed::ALL {
        let name = needed.words();
        match needed.found() {
            Found::At(path) => {
                let tried = match needed {
                    Needed::Runtime => try_runtime(&path),
                    Needed::Detector | Needed::Landmarks | Needed::Torso => Ok(()),
                };
                match tried {
                    Ok(()) => say!("found    {name}: {}", path.display()),
                    Err(e) => {
                        missing = true;
                        say!("broken   {name}: {e}");
                    }
                }
            }
            Found::Nowhere(looked) => {
                missing = true;
                say!("missing  {name}. Looked in:");
                for folder in looked {
                    say!("           {}", folder.display());
                }
                say!("         {}", needed.advice(System::here()));
            }
        }
    }
    if can_write_video() {
        say!("found    video encoder: libx264 of FFmpeg");
    } else {
        missing = true;
        say!("missing  video encoder. {}", EncodeError::NoEncoder);
    }
    if missing { Exit::Nothing } else { Exit::Done }
}
