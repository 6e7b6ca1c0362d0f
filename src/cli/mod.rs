//! The command line: arguments in, exit code out. Each command has a file of its own.

mod agree;
mod args;
mod check;
mod compare;
mod folder;
mod made_with;
mod mark;
mod measure;
mod own_folder;
mod plain;
mod progress_bars;
mod say;
mod sets;
mod shared;
mod shell;
mod show;
mod stop;
mod task;
mod worker;

use std::process::ExitCode;

use clap::Parser;

use crate::worker::Exit;
pub use args::{Arguments, Command};

/// Parses the arguments, runs the command, and turns its end into an exit code.
pub fn run() -> ExitCode {
    let filter = tracing_subscriber::EnvFilter::try_from_env("QUARTERTURN_LOG")
        .unwrap_or_else(|_| "off".into());
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .init();
    let arguments = Arguments::try_parse().unwrap_or_else(|e| {
        if e.use_stderr() && std::env::args_os().len() > 1 {
            eprintln!(
                "Nothing was done: quarterturn did not understand what was typed after its name."
            );
        }
        e.exit()
    });
    let end = match arguments.command {
        Command::Measure(args) => measure::run(&args),
        Command::Folder(args) => folder::run(&args),
        Command::Worker => worker::run(),
        Command::Mark(args) => mark::run(&args),
        Command::Show(args) => show::run(&args),
        Command::Agree(args) => agree::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Completions(args) => shell::completions(&args),
        Command::Manual(args) => shell::manual(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Set(args) => sets::run_set(&args),
        Command::Progress(args) => sets::run_progress(&args),
    };
    ExitCode::from(end)
}
