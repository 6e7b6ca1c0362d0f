//! One swing's way: a worker measures it, its result is checked and renamed into place.

use std::fs::File;
use std::path::Path;
use std::time::{Duration, Instant};

use super::answer;
use super::error::BatchError;
use super::journal::Journal;
use super::marks::{mark, tell};
use super::planned::PlannedSwing;
use super::stops::Stops;
use super::watch::Watch;
use crate::config::BatchConfig;
use crate::file_error::At;
use crate::measure::Refusal;
use crate::result::read_swing;
use crate::worker::{self, End, Given, Job, JobClip, Limits, Measurement};

/// A swing with its place in the journal.
pub(super) struct Task {
    pub swing: PlannedSwing,
    pub identity: String,
    pub fingerprint: String,
    /// Of what was said of it.
    pub told_mark: String,
}

/// What every worker thread needs.
pub(super) struct TaskRunner<'a> {
    pub out: &'a Path,
    pub folder: &'a Path,
    /// Where other machines' answers stand.
    pub measured: Option<&'a Path>,
    pub given: &'a Given,
    pub config: &'a BatchConfig,
    pub watch: &'a Watch,
    pub journal: &'a Journal,
    pub work: &'a Path,
    pub stops: &'a Stops,
}

impl TaskRunner<'_> {
    /// `Ok(None)`: stopped. `Ok(Some(Err))`: there is no result, and why.
    pub fn measure(&self, task: &Task) -> Result<Option<Result<(), Refusal>>, BatchError> {
        self.check_space()?;
        let swing = &task.swing;
        self.watch.current(&swing.name);
        self.journal
            .begin(&task.identity, &swing.name, &task.fingerprint)?;
        let began = Instant::now();
        let place = self.work.join(&task.identity);
        let end = self
            .taken_over(task, &place)
            .unwrap_or_else(|| self.by_a_worker(swing, &place));
        let refusal = match end {
            // It stays under way in the journal, and is measured by the next run.
            End::Stopped => return Ok(None),
            End::Done(()) => match self.put_in_place(task, &place) {
                Ok(()) => {
                    let took = began.elapsed().as_secs_f64();
                    self.journal.done(&task.identity, Some(took))?;
                    return Ok(Some(Ok(())));
                }
                Err(reason) => Refusal::failed(reason),
            },
            End::Nothing(refusal) => refusal,
        };
        // A full disk is no fault of the clip's: it is measured when there is room again.
        self.check_space()?;
        self.journal.nothing(&task.identity, &refusal)?;
        Ok(Some(Err(refusal)))
    }

    fn by_a_worker(&self, swing: &PlannedSwing, place: &Path) -> End<()> {
        let about = self
            .folder
            .join(swing.clips.first().map_or(Path::new(""), |c| &c.relative));
        let limits = Limits {
            time: seconds(limit_s(swing, self.config)),
            stop_now: &self.stops.now,
        };
        let job = measurement(swing, self.given, self.folder, place);
        worker::run(&Job::Measure(Box::new(job)), &about, &limits, |_| {})
    }

    /// What another machine made of the swing, copied to where a worker would have made it.
    fn taken_over(&self, task: &Task, place: &Path) -> Option<End<()>> {
        let from = self.measured?.join(&task.fingerprint);
        let answer = answer::read(&from)?;
        if let Some(refusal) = answer.refusal() {
            return Some(End::Nothing(refusal));
        }
        // The same clips under another name have the same fingerprint.
        let name = &task.swing.name;
        read_swing(&from.join("swing.json"))
            .ok()
            .filter(|r| r.name == *name)?;
        let made = place.join(name);
        let taken = copy(&from, &made).at(&made).map_err(BatchError::from);
        // What is said of the swing here counts.
        if let Err(error) = taken.and_then(|()| tell(&made, &task.swing, &task.fingerprint)) {
            tracing::debug!(%error, "not taken over");
            let _ = std::fs::remove_dir_all(place);
            return None;
        }
        Some(End::Done(()))
    }

    fn check_space(&self) -> Result<(), BatchError> {
        let free = fs4::available_space(self.out).at(self.out)?;
        let free_mb = free >> 20;
        if free_mb < self.config.min_free_mb {
            return Err(BatchError::DiskFull {
                path: self.out.to_owned(),
                free_mb,
                needed_mb: self.config.min_free_mb,
            });
        }
        Ok(())
    }

    /// Checks the worker's result, marks it, and renames it into its place.
    fn put_in_place(&self, task: &Task, place: &Path) -> Result<(), String> {
        let name = &task.swing.name;
        let made = place.join(name);
        read_swing(&made.join("swing.json")).map_err(|e| e.to_string())?;
        let goal = self.out.join(name);
        let move_in = || -> std::io::Result<()> {
            mark(&made, &task.fingerprint, &task.told_mark)?;
            flush(&made)?;
            if goal.exists() {
                // An older result of the same swing: its clip or the program changed.
                let old = place.join("older");
                std::fs::rename(&goal, &old)?;
            }
            std::fs::rename(&made, &goal)?;
            flush_folder(self.out)
        };
        move_in().map_err(|e| {
            format!(
                "{}: {e}. Check that the folder can be written and that there is room.",
                goal.display()
            )
        })?;
        // The result stands; what is left here is empty or the older one.
        let _ = std::fs::remove_dir_all(place);
        Ok(())
    }
}

/// The longest that a swing's worker may take, seconds.
pub(super) fn limit_s(swing: &PlannedSwing, config: &BatchConfig) -> f64 {
    config.worker_base_s + config.worker_per_clip_s * swing.length_s
}

/// A planned swing as a worker's job: its clips below `folder`, its result's folder made in `out`.
pub(super) fn measurement(
    swing: &PlannedSwing,
    given: &Given,
    folder: &Path,
    out: &Path,
) -> Measurement {
    let mut given = given.clone();
    given.options.name = swing.name.clone();
    swing.told.fill(&mut given.options.typed_in);
    let mut clips: Vec<JobClip> = swing
        .clips
        .iter()
        .map(|c| JobClip {
            path: folder.join(&c.relative).into_os_string(),
            role: c.role,
            part: c.part,
        })
        .collect();
    clips.sort_by_key(|c| (c.role.is_none(), c.role));
    Measurement {
        clips,
        out: out.as_os_str().to_owned(),
        replace: false,
        given,
    }
}

pub(super) fn seconds(s: f64) -> Duration {
    Duration::try_from_secs_f64(s).unwrap_or(Duration::from_secs(3600))
}

/// A result's files, less what only an engine needs.
fn copy(from: &Path, to: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(to)?;
    for entry in std::fs::read_dir(from)? {
        let entry = entry?;
        let goal = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy(&entry.path(), &goal)?;
        } else if entry.file_name() != answer::FILE {
            std::fs::copy(entry.path(), goal)?;
        }
    }
    Ok(())
}

/// Every file of a folder, and the folder, onto the disk.
pub(super) fn flush(folder: &Path) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            flush(&entry.path())?;
        } else {
            File::open(entry.path())?.sync_all()?;
        }
    }
    flush_folder(folder)
}

pub(super) fn flush_folder(folder: &Path) -> std::io::Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}
