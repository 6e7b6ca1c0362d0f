//! `quarterturn check`: what is installed, what is missing.

use clap::Args;

use super::{Exit, say::say};
use crate::config::files::{self, Found};

#[derive(Debug, Args)]
pub struct CheckArgs {}

/// Prints one line for each file that measuring needs; fails when any is missing.
pub fn run(_args: &CheckArgs) -> Exit {
    say!("quarterturn {}", env!("CARGO_PKG_VERSION"));
    let mut missing = 0;
    for (name, found) in files::needed() {
        match found {
            Found::At(path) => say!("found    {name}: {}", path.display()),
            Found::Nowhere(looked) => {
                missing += 1;
                say!("missing  {name}. Looked in:");
                for folder in looked {
                    say!("           {}", folder.display());
                }
            }
        }
    }
    if missing > 0 {
        say!("Run `bash pipelines/first-run.sh` in the project's folder to fetch what is missing.");
        return Exit::Nothing;
    }
    Exit::Done
}
