//! The clips of a folder, and what each tells, from the journal where nothing changed.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::error::BatchError;
use super::facts::{ClipFacts, Inspected};
use super::file_mark::FileMark;
use super::journal::Journal;
use super::parallel::{each, lock};
use super::watch::Watch;
use crate::config::Pipeline;
use crate::config::checksum::sha256;
use crate::file_error::At;
use crate::measure::{Nothing, Refusal};
use crate::worker::{self, End, Job, Limits};

const ENDINGS: [&str; 8] = ["mp4", "mov", "m4v", "3gp", "mkv", "webm", "avi", "mts"];

/// All clips below `folder`, sorted. Hidden ones, links, and what lies in `out` are passed over.
pub(super) fn clips(folder: &Path, out: &Path) -> Result<Vec<PathBuf>, BatchError> {
    let out = out.canonicalize().ok();
    let mut found = Vec::new();
    let mut waiting = vec![PathBuf::new()];
    while let Some(below) = waiting.pop() {
        let here = folder.join(&below);
        for entry in std::fs::read_dir(&here).at(&here)? {
            let entry = entry.at(&here)?;
            let name = entry.file_name();
            if name.to_string_lossy().starts_with('.') {
                continue;
            }
            let kind = entry.file_type().at(&here)?;
            let relative = below.join(&name);
            if kind.is_dir() {
                if out.is_none() || entry.path().canonicalize().ok() != out {
                    waiting.push(relative);
                }
            } else if kind.is_file() && has_ending(&relative) {
                found.push(relative);
            }
        }
    }
    found.sort();
    Ok(found)
}

fn has_ending(path: &Path) -> bool {
    path.extension()
        .is_some_and(|e| ENDINGS.contains(&e.to_string_lossy().to_lowercase().as_str()))
}

/// A clip that could not be read, or in which nobody was found: another try may help.
fn worth_another_try(found: &Result<Inspected, Refusal>) -> bool {
    found.as_ref().is_err_and(|r| r.nothing != Nothing::NoSwing)
}

/// How clips are inspected.
pub(super) struct Inspection<'a> {
    pub folder: &'a Path,
    pub pipeline: &'a Pipeline,
    /// What the finding depends on beside the clip: version and pipeline.
    pub program: &'a str,
    pub jobs: usize,
    /// Look again into clips that gave nothing before, save those that hold no swing.
    pub again: bool,
    pub limit: Duration,
}

/// Looks into every clip that is new or changed. `None` when asked to stop.
pub(super) fn facts(
    relative: &[PathBuf],
    how: &Inspection<'_>,
    journal: &Journal,
    watch: &Watch,
    stop: &AtomicBool,
) -> Result<Option<Vec<ClipFacts>>, BatchError> {
    let mut known: Vec<Option<ClipFacts>> = Vec::with_capacity(relative.len());
    let mut open: Vec<(usize, &PathBuf)> = Vec::new();
    for (i, r) in relative.iter().enumerate() {
        let path = how.folder.join(r);
        let kept = match FileMark::of(&path) {
            Ok(mark) => journal
                .clip(r, mark, how.program)?
                .filter(|(_, found)| !how.again || !worth_another_try(found)),
            Err(_) => None,
        };
        if kept.is_none() {
            open.push((i, r));
        }
        known.push(kept.map(|(sha256, found)| ClipFacts {
            relative: r.clone(),
            sha256,
            found,
        }));
    }
    watch.begin("looking into the clips", open.len());
    let known = Mutex::new(known);
    let looked = each(&open, how.jobs, |(i, clip)| -> Result<_, BatchError> {
        if stop.load(Ordering::SeqCst) {
            return Ok(ControlFlow::Break(()));
        }
        watch.current(&clip.to_string_lossy());
        let Some((mark, facts)) = look(clip, how, stop) else {
            return Ok(ControlFlow::Break(()));
        };
        if let Some(mark) = mark {
            journal.keep_clip(mark, how.program, &facts)?;
        }
        if let Some(known) = lock(&known).get_mut(*i) {
            *known = Some(facts);
        }
        watch.advance();
        Ok(ControlFlow::Continue(()))
    });
    watch.end();
    let known = std::mem::take(&mut *lock(&known));
    looked.map(|()| known.into_iter().collect())
}

/// One clip, in a worker. `None` when stopped.
fn look(
    relative: &Path,
    how: &Inspection<'_>,
    stop: &AtomicBool,
) -> Option<(Option<FileMark>, ClipFacts)> {
    let path = how.folder.join(relative);
    let facts = |sha256: String, found| ClipFacts {
        relative: relative.to_owned(),
        sha256,
        found,
    };
    let begun = FileMark::of(&path).and_then(|m| Ok((m, sha256(&path)?)));
    let (mark, sha256) = match begun {
        Ok(x) => x,
        Err(e) => {
            let reason = format!("{}: {e}. Check that the file can be read.", path.display());
            return Some((None, facts(String::new(), Err(Refusal::failed(reason)))));
        }
    };
    let job = Job::Inspect(Box::new(worker::Inspection {
        clip: path.clone().into_os_string(),
        pipeline: how.pipeline.clone(),
        frames: false,
    }));
    let limits = Limits {
        time: how.limit,
        stop_now: stop,
    };
    let found = match worker::run(&job, &path, &limits, |_| {}) {
        End::Done(found) => Ok(found),
        End::Nothing(refusal) => Err(refusal),
        End::Stopped => return None,
    };
    Some((Some(mark), facts(sha256, found)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clips_are_found_below_and_results_are_passed_over() {
        let folder = tempfile::tempdir().expect("a folder");
        let root = folder.path();
        for d in ["a", "out/x", ".hidden"] {
            std::fs::create_dir_all(root.join(d)).expect("made");
        }
        for f in [
            "b.MP4",
            "a/c.mov",
            "out/x/face_on.mp4",
            ".hidden/d.mp4",
            "notes.txt",
            ".e.mp4",
        ] {
            std::fs::write(root.join(f), b"x").expect("written");
        }
        let found = clips(root, &root.join("out")).expect("read");
        assert_eq!(found, [PathBuf::from("a/c.mov"), PathBuf::from("b.MP4")]);
    }
}
