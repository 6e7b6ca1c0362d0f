//! `show` without a folder, which is what a double click does: results go into the user's own
//! documents, the browser opens, and a second click finds the page that is open already.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

use super::say::say;
use crate::config::documents::documents;

/// The folder of one who never named one.
pub struct OwnFolder {
    pub results: PathBuf,
    /// Holds the address of the open page, for this user's eyes alone: it carries the page's key.
    address: PathBuf,
    /// Locked for as long as the page is open; the system lets go of it however the program ends.
    _lock: File,
}

pub enum Start {
    Here(OwnFolder),
    /// The page is open already, at this address.
    Open(String),
}

/// Makes the folder, or finds out that another run serves it.
pub fn start() -> Result<Start, String> {
    let folder = documents()
        .ok_or("the system names no home folder. Name a folder for the results: quarterturn show FOLDER.")?
        .join("quarterturn");
    let trouble = |e: std::io::Error| {
        format!(
            "{}: {e}. Check that your documents folder can be written and has room, or name another folder: quarterturn show FOLDER.",
            folder.display()
        )
    };
    let results = folder.join("results");
    std::fs::create_dir_all(&results).map_err(trouble)?;
    let address = folder.join(".page");
    let lock = private(&folder.join(".page.lock")).map_err(trouble)?;
    match lock.try_lock() {
        Ok(()) => Ok(Start::Here(OwnFolder {
            results,
            address,
            _lock: lock,
        })),
        Err(TryLockError::WouldBlock) => Ok(Start::Open(
            std::fs::read_to_string(&address).map_err(trouble)?,
        )),
        Err(TryLockError::Error(e)) => Err(trouble(e)),
    }
}

fn private(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    options.open(path)
}

impl OwnFolder {
    /// What a person is told and shown once the page is there.
    pub fn opened(&self, here: &str, browser: bool) {
        say!("Results are kept in {}", self.results.display());
        say!("Leave this window open while you work; closing it ends quarterturn.");
        let noted = private(&self.address).and_then(|mut f| f.write_all(here.as_bytes()));
        if let Err(e) = noted {
            // Only a second start misses it.
            tracing::warn!("{}: {e}", self.address.display());
        }
        if browser {
            open_browser(here);
        }
    }
}

pub fn open_browser(address: &str) {
    if open::that_detached(address).is_err() {
        say!("No browser could be opened. Type the first address above into one.");
    }
}

/// Lets a window that a double click opened stand until what went wrong was read.
pub fn wait_for_reader() {
    if std::io::stdin().is_terminal() && std::io::stderr().is_terminal() {
        eprintln!("Press Enter to close this window.");
        // Whatever was typed, or nobody there: either ends it.
        let _ = std::io::stdin().lock().read_line(&mut String::new());
    }
}
