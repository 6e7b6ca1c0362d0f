//! A folder of its own for each case, and what is to be run in it.

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

use crate::program::sample;

/// One kind of bad input. `Err`: why it cannot be made on this machine; printed.
pub struct Case {
    pub name: &'static str,
    pub build: fn(&Room) -> Result<Job, String>,
}

/// A [`Case`] in one line of a table.
pub const fn case(name: &'static str, build: fn(&Room) -> Result<Job, String>) -> Case {
    Case { name, build }
}

/// Arguments and surroundings of one run of `quarterturn measure`.
pub struct Job {
    pub arguments: Vec<OsString>,
    pub variables: Vec<(&'static str, PathBuf)>,
    pub out: PathBuf,
    /// Which sample swing it shows.
    pub swing: &'static str,
    /// Held until the run is over.
    pub _mount: Option<Mount>,
}

/// A small file system of its own, taken away again when dropped.
pub struct Mount(pub PathBuf);

impl Drop for Mount {
    fn drop(&mut self) {
        // A failure leaves an empty memory file system in a temporary folder.
        let _ = std::process::Command::new("umount").arg(&self.0).status();
    }
}

pub struct Room {
    folder: tempfile::TempDir,
}

impl Room {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder"),
        }
    }

    pub fn path(&self, name: impl AsRef<OsStr>) -> PathBuf {
        self.folder.path().join(name.as_ref())
    }

    pub fn write(&self, name: impl AsRef<OsStr>, bytes: &[u8]) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, bytes).expect("written");
        path
    }

    /// Measures `arguments` into a folder of its own.
    pub fn measure(&self, arguments: &[&dyn AsRef<OsStr>]) -> Job {
        Job {
            arguments: arguments.iter().map(|a| a.as_ref().to_owned()).collect(),
            variables: Vec::new(),
            out: self.path("out"),
            swing: "sixth-lesson",
            _mount: None,
        }
    }

    /// Measures a clip of these bytes.
    pub fn clip(&self, name: &str, bytes: &[u8]) -> Result<Job, String> {
        Ok(self.measure(&[&self.write(name, bytes)]))
    }
}

pub fn face_on() -> PathBuf {
    sample("sixth-lesson_face_on.mp4")
}

pub fn down_the_line() -> PathBuf {
    sample("sixth-lesson_down_the_line.mp4")
}

pub fn read(path: &Path) -> Vec<u8> {
    std::fs::read(path).expect("a file")
}
