//! What may be typed.

use clap::{Parser, Subcommand};

use super::Exit;
use super::agree::AgreeArgs;
use super::check::CheckArgs;
use super::compare::CompareArgs;
use super::folder::FolderArgs;
use super::mark::MarkArgs;
use super::measure::MeasureArgs;
use super::sets::{ProgressArgs, SetArgs};
use super::shell::{CompletionsArgs, ManualArgs};
use super::show::ShowArgs;

/// How far a golf student's hips and shoulders turned, from one or two phone clips, and how sure
/// that is.
#[derive(Debug, Parser)]
#[command(version, about, after_help = Exit::HELP)]
pub struct Arguments {
    /// What is to be done.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Measure one swing from one or two clips
    Measure(Box<MeasureArgs>),
    /// Measure every swing in a folder; run again to go on
    Folder(Box<FolderArgs>),
    /// One job from standard input, for `folder` and `show`
    #[command(hide = true)]
    Worker,
    /// Annotated stills and video of one clip, nothing else
    Mark(Box<MarkArgs>),
    /// Two measured swings side by side
    Compare(CompareArgs),
    /// Several swings of one player together, or two such sets compared
    Set(SetArgs),
    /// One player's lessons in a row
    Progress(ProgressArgs),
    /// A local page: library, upload from a phone, comparison
    Show(ShowArgs),
    /// Set estimates against a sensor session of the same swings
    Agree(AgreeArgs),
    /// What is installed, what is missing
    Check(CheckArgs),
    /// Print the script that lets a shell complete commands and options
    Completions(CompletionsArgs),
    /// Write the manual pages into a folder
    Manual(ManualArgs),
}
