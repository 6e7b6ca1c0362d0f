//! `quarterturn completions` and `quarterturn manual`: the command line told to a shell and as
//! manual pages, both made from the same definition that parses it.

use std::path::{Path, PathBuf};

use clap::{Args, Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;

use super::{Arguments, Exit, say::say};
use crate::file_error::{At, FileError};
use crate::result::write_by_rename;

#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell to print for
    #[arg(value_enum)]
    pub shell: Shell,
}

#[derive(Debug, Args)]
pub struct ManualArgs {
    /// Folder for the pages; made when it is not there
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

/// Prints the script that makes a shell complete commands and options.
pub fn completions(args: &CompletionsArgs) -> Exit {
    let mut command = Arguments::command();
    let name = command.get_name().to_owned();
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut command, name, &mut script);
    say!("{}", String::from_utf8_lossy(&script).trim_end());
    Exit::Done
}

/// Writes one page for the program and one for each command.
pub fn manual(args: &ManualArgs) -> Exit {
    match write_pages(&args.folder) {
        Ok(()) => {
            say!("{}", args.folder.display());
            Exit::Done
        }
        Err(e) => {
            eprintln!(
                "quarterturn: {}: {}. Check that the folder can be written and that there is room.",
                e.path.display(),
                e.source.kind()
            );
            Exit::Nothing
        }
    }
}

fn write_pages(folder: &Path) -> Result<(), FileError> {
    std::fs::create_dir_all(folder).at(folder)?;
    let mut program = Arguments::command().disable_help_subcommand(true);
    // Commands learn their full name ("quarterturn measure") and the shared options.
    program.build();
    let commands = program.get_subcommands().filter(|c| !c.is_hide_set());
    let mut pages: Vec<(String, Command)> = commands
        .map(|c| {
            (
                format!("{}-{}", program.get_name(), c.get_name()),
                c.clone(),
            )
        })
        .collect();
    pages.push((program.get_name().to_owned(), program.clone()));
    for (name, command) in pages {
        let path = folder.join(format!("{name}.1"));
        let mut page = Vec::new();
        Man::new(command).title(name).render(&mut page).at(&path)?;
        write_by_rename(&path, &page)?;
    }
    Ok(())
}
