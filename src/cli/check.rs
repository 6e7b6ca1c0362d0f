//! `quarterturn check`: what is installed, what is missing.

use clap::Args;

use super::Exit;
use crate::config::files::{self, Found};

#[derive(Debug, Args)]
pub struct CheckArgs {}

/// Prints one line for each file that measuring needs; fails when any is missing.
pub fn run(_args: &CheckArgs) -> Exit {
    println!("quarterturn {}", env!("CARGO_PKG_VERSION"));
    let mut missing = 0;
    for (name, found) in files::needed() {
        match found {
            Found::At(path) => println!("found    {name}: {}", path.display()),
            Found::Nowhere(looked) => {
                missing += 1;
                println!("missing  {name}. Looked in:");
                for folder in looked {
                    println!("           {}", folder.display());
                }
            }
        }
    }
    if missing > 0 {
        println!(
            "Run `bash pipelines/first-run.sh` in the project's folder to fetch what is missing."
        );
        return Exit::Nothing;
    }
    Exit::Done
}
