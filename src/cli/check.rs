//! `quarterturn check`: what is installed, what is missing.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;

use super::shared::one_of;
use super::{Exit, made_with, say::say};
use crate::config::checksum::sha256;
use crate::config::files::{Found, Needed};
use crate::config::system::System;
use crate::pose::{ModelFiles, Provider, try_runtime};
use crate::report::{EncodeError, video_encoder};

#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Measured swings, or folders of them: were they made by this version with these networks?
    #[arg(value_name = "RESULTS_DIR")]
    results: Vec<PathBuf>,
    /// Try the networks on this, as measuring would
    #[arg(long, value_name = "WHAT", default_value = Provider::Processor.key(), value_parser = one_of(Provider::ALL, Provider::key))]
    run_on: Provider,
}

/// Prints one line for each thing that measuring needs, with what to do where it is missing; fails
/// when any is. Then what given results were made with.
pub fn run(args: &CheckArgs) -> Exit {
    say!("quarterturn {}", env!("CARGO_PKG_VERSION"));
    let mut missing = false;
    let mut networks = BTreeMap::new();
    for needed in Needed::ALL {
        let name = needed.words();
        match needed.found() {
            Found::At(path) => {
                let tried = match needed {
                    Needed::Runtime => try_runtime(&path).map(|()| None).map_err(|e| e.to_string()),
                    Needed::Detector | Needed::Landmarks | Needed::Torso => sha256(&path)
                        .map(Some)
                        .map_err(|e| format!("{}: {e}", path.display())),
                };
                match tried {
                    Ok(sum) => {
                        say!("found    {name}: {}", path.display());
                        if let Some(sum) = sum {
                            say!("         SHA-256 {sum}");
                            networks.insert(name.to_owned(), sum);
                        }
                    }
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
    // What is missing was said above.
    if let Ok(files) = ModelFiles::find() {
        missing |= !runs(files, args.run_on);
    }
    if let Some(encoder) = video_encoder() {
        say!("found    video encoder: {encoder} of FFmpeg");
    } else {
        missing = true;
        say!("missing  video encoder. {}", EncodeError::NoEncoder);
    }
    let unread = made_with::tell(&args.results, &networks);
    match (missing, unread) {
        (true, _) => Exit::Nothing,
        (false, true) => Exit::SomeFailed,
        (false, false) => Exit::Done,
    }
}

/// Says what the networks can run on and what they do; false where they don't run at all.
fn runs(files: ModelFiles, wanted: Provider) -> bool {
    let offered: Vec<&str> = Provider::ALL
        .into_iter()
        .filter(|p| p.offered(&files))
        .map(Provider::key)
        .collect();
    match files.run_on(wanted) {
        Ok((files, fell_back)) => {
            say!("         networks run on: {}", files.provider.key());
            say!(
                "         this runtime library offers: {}",
                offered.join(", ")
            );
            if let Some(warning) = fell_back {
                say!("         {}", warning.text);
            }
            true
        }
        Err(e) => {
            say!("broken   networks: {e}");
            false
        }
    }
}
