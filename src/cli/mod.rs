//! The command line: arguments in, exit code out. Each command has a file of its own.

mod args;
mod check;
mod exit;

use std::process::ExitCode;

use clap::Parser;

pub use args::{Arguments, Command};
pub use exit::Exit;

/// Parses the arguments, runs the command, and turns its end into an exit code.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    let end = match arguments.command {
        Command::Check(args) => check::run(&args),
    };
    ExitCode::from(end)
}
