//! The night's work: plan, worker processes, journal, summary.

use std::collections::BTreeMap;
use std::fs::{File, TryLockError};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::Ordering;
use std::time::Instant;

use super::corrections::Corrections;
use super::error::BatchError;
use super::fingerprint::{fingerprint, identity, program, told_mark};
use super::gather::{self, Inspection};
use super::journal::{Entry, Journal, State};
use super::marks::{result_stands, tell};
use super::names::numbered;
use super::parallel::{each, lock};
use super::plan::{Said, make_plan};
use super::planned::{Plan, Unreadable};
use super::stops::Stops;
use super::summary;
use super::task::{Task, TaskRunner, seconds};
use super::tasks::TaskPlan;
use super::watch::Watch;
use crate::config::BatchConfig;
use crate::file_error::At;
use crate::measure::{Nothing, Refusal};
use crate::pose::ModelFiles;
use crate::worker::Given;

/// What the program keeps for itself, in the folder of results.
const OWN_FOLDER: &str = ".quarterturn";

#[derive(Clone, Debug)]
pub struct RunOptions {
    pub folder: PathBuf,
    pub out: PathBuf,
    /// Worker processes.
    pub jobs: usize,
    pub quiet: bool,
    /// Try failed swings again, though nothing changed.
    pub again: bool,
    /// Answers of `measure --plan` to this folder's tasks, to be taken over.
    pub measured: Option<PathBuf>,
    /// For every swing alike.
    pub given: Given,
    /// How names are read, and what is said of every swing.
    pub said: Said,
}

/// How a run ended.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Outcome {
    /// Measured in this run.
    pub measured: usize,
    /// Measured before, nothing changed.
    pub before: usize,
    /// Swings and clips with a reason instead of a result, and the reasons.
    pub nothing: Vec<(String, Refusal)>,
    pub stopped: bool,
    /// Why the run ended early.
    pub ended_early: Option<String>,
    pub seconds: u64,
}

impl Outcome {
    /// Swings and clips that gave this kind of nothing, with the sentence that tells it.
    pub fn of(&self, nothing: Nothing) -> impl Iterator<Item = (&str, &str)> {
        self.nothing
            .iter()
            .filter(move |(_, r)| r.nothing == nothing)
            .map(|(name, r)| (name.as_str(), r.text.as_str()))
    }
}

/// A folder under way: lock, journal and plan.
struct BatchSession<'a> {
    options: &'a RunOptions,
    config: BatchConfig,
    journal: Journal,
    watch: Watch,
    networks: BTreeMap<String, String>,
    program: String,
    own: PathBuf,
    _lock: File,
}

impl<'a> BatchSession<'a> {
    fn open(options: &'a RunOptions) -> Result<Self, BatchError> {
        if !options.folder.is_dir() {
            return Ok(Err(std::io::ErrorKind::NotFound.into()).at(&options.folder)?);
        }
        let own = options.out.join(OWN_FOLDER);
        std::fs::create_dir_all(&own).at(&own)?;
        let lock_path = own.join("lock");
        let lock = File::create(&lock_path).at(&lock_path)?;
        match lock.try_lock() {
            Err(TryLockError::WouldBlock) => {
                let path = options.out.clone();
                return Err(BatchError::Busy { path });
            }
            Err(TryLockError::Error(e)) => return Ok(Err(e).at(&lock_path)?),
            Ok(()) => {}
        }
        let journal = Journal::open(&own.join("journal.sqlite"))?;
        // A missing network would fail every swing alike: told once, before anything begins.
        let networks = ModelFiles::find()?.checksums()?;
        Ok(Self {
            options,
            config: options.given.options.pipeline.batch.clone(),
            journal,
            watch: Watch::new(options.quiet),
            program: program(&options.given, &networks),
            networks,
            own,
            _lock: lock,
        })
    }

    /// `None` when asked to stop before the plan was ready.
    fn plan(&self, stops: &Stops) -> Result<Option<Plan>, BatchError> {
        let options = self.options;
        let relative = gather::clips(&options.folder, &options.out)?;
        if relative.is_empty() {
            return Err(BatchError::NoClips {
                path: options.folder.clone(),
            });
        }
        let corrections = Corrections::read(&options.folder)?;
        let how = Inspection {
            folder: &options.folder,
            pipeline: &options.given.options.pipeline,
            program: &self.program,
            jobs: options.jobs,
            again: options.again,
            limit: seconds(self.config.worker_base_s + 15.0 * 60.0),
        };
        let stop = if stops.now.load(Ordering::SeqCst) {
            &stops.now
        } else {
            &stops.soon
        };
        let facts = gather::facts(&relative, &how, &self.journal, &self.watch, stop)?;
        let Some(facts) = facts else { return Ok(None) };
        let mut plan = make_plan(&facts, &corrections, &options.said, &self.config);
        settle_names(&mut plan, &self.journal.swings()?, &options.out);
        Ok(Some(plan))
    }
}

/// Makes the plan and stops: every swing as a task that any machine can do. `None` when asked to
/// stop before it was ready.
///
/// # Errors
/// [`BatchError`] when the folder can't be read, the journal can't be used or a network is missing.
pub fn plan_folder(options: &RunOptions, stops: &Stops) -> Result<Option<TaskPlan>, BatchError> {
    let session = BatchSession::open(options)?;
    let Some(plan) = session.plan(stops)? else {
        return Ok(None);
    };
    let (given, networks) = (options.given.clone(), session.networks);
    Ok(Some(TaskPlan::new(plan, given, networks)))
}

/// Measures every swing of the folder that is not measured yet, and writes the summary.
///
/// # Errors
/// [`BatchError`] when the folder can't be read, another run has it, the journal can't be used or
/// the disk is full before anything began. What goes wrong with one clip is in the [`Outcome`].
pub fn run_folder(options: &RunOptions, stops: &Stops) -> Result<Outcome, BatchError> {
    let began = Instant::now();
    let session = BatchSession::open(options)?;
    let Some(plan) = session.plan(stops)? else {
        return Ok(Outcome {
            stopped: true,
            ..Outcome::default()
        });
    };
    for note in &plan.notes {
        session.watch.say(note);
    }
    let work = session.own.join("work");
    if work.exists() {
        std::fs::remove_dir_all(&work).at(&work)?;
    }
    // Workers of a run that was killed may still be ending in theirs.
    let work = work.join(std::process::id().to_string());
    std::fs::create_dir_all(&work).at(&work)?;

    let mut outcome = Outcome::default();
    let tasks = open_tasks(&session, &plan, &mut outcome)?;
    let outcome = Mutex::new(outcome);
    session.watch.begin("measuring", tasks.len());
    let runner = TaskRunner {
        out: &options.out,
        folder: &options.folder,
        measured: options.measured.as_deref(),
        given: &options.given,
        config: &session.config,
        watch: &session.watch,
        journal: &session.journal,
        work: &work,
        stops,
    };
    // Where nothing more can be kept, the others finish what they have.
    let ended = each(&tasks, options.jobs, |task| -> Result<_, BatchError> {
        if stops.soon.load(Ordering::SeqCst) {
            return Ok(ControlFlow::Break(()));
        }
        match runner.measure(task)? {
            Some(Ok(())) => lock(&outcome).measured += 1,
            Some(Err(refusal)) => {
                runner.watch.say(&refusal.text);
                let nothing = (task.swing.name.clone(), refusal);
                lock(&outcome).nothing.push(nothing);
            }
            None => return Ok(ControlFlow::Break(())),
        }
        runner.watch.advance();
        Ok(ControlFlow::Continue(()))
    });
    session.watch.end();
    let mut outcome = std::mem::take(&mut *lock(&outcome));
    let unreadable = plan.unreadable.iter();
    outcome.nothing.extend(unreadable.map(Unreadable::told));
    outcome.stopped = stops.soon.load(Ordering::SeqCst) && ended.is_ok();
    outcome.ended_early = ended.err().map(|e| e.to_string());
    // Leftovers only: results stand in their own folders by now.
    let _ = std::fs::remove_dir_all(&work);
    summary::write(&options.out, &plan, &session.journal.swings()?)?;
    outcome.seconds = began.elapsed().as_secs();
    Ok(outcome)
}

/// Gives each swing the folder name that it has or will have: a swing keeps its folder, whatever
/// came beside it since.
fn settle_names(plan: &mut Plan, known: &BTreeMap<String, Entry>, out: &Path) {
    let mut names: BTreeMap<String, String> = known
        .iter()
        .map(|(id, e)| (e.name.to_lowercase(), id.clone()))
        .collect();
    for swing in &mut plan.swings {
        let identity = identity(swing);
        swing.name = match known.get(&identity) {
            Some(e) => e.name.clone(),
            None => free_name(&swing.name, &identity, &names, out),
        };
        names.insert(swing.name.to_lowercase(), identity);
    }
}

/// The swings that are still to be measured. Results that stand in their place though the journal
/// does not know it yet (the power went between the two) are taken over.
fn open_tasks(
    session: &BatchSession<'_>,
    plan: &Plan,
    outcome: &mut Outcome,
) -> Result<Vec<Task>, BatchError> {
    let known: BTreeMap<String, Entry> = session.journal.swings()?;
    let mut tasks = Vec::new();
    for swing in &plan.swings {
        let identity = identity(swing);
        let fingerprint = fingerprint(swing, &session.program);
        let same = known
            .get(&identity)
            .filter(|e| e.fingerprint == fingerprint);
        let folder = session.options.out.join(&swing.name);
        let stands = result_stands(&folder, &fingerprint);
        match same.map(|e| e.state) {
            Some(State::Done) if stands => {
                tell(&folder, swing, &fingerprint)?;
                outcome.before += 1;
                continue;
            }
            Some(State::UnderWay) if stands => {
                tell(&folder, swing, &fingerprint)?;
                session.journal.done(&identity, None)?;
                outcome.before += 1;
                continue;
            }
            // A clip without a swing has none at the second look either.
            Some(State::Nothing(nothing))
                if !session.options.again || nothing == Nothing::NoSwing =>
            {
                let text = same.and_then(|e| e.reason.clone()).unwrap_or_default();
                outcome
                    .nothing
                    .push((swing.name.clone(), Refusal { nothing, text }));
                continue;
            }
            _ => {}
        }
        tasks.push(Task {
            swing: swing.clone(),
            identity,
            fingerprint,
            told_mark: told_mark(swing),
        });
    }
    Ok(tasks)
}

/// A folder name that no other swing has and that nothing of the coach's own stands at.
fn free_name(wanted: &str, identity: &str, names: &BTreeMap<String, String>, out: &Path) -> String {
    numbered(wanted, |name| {
        let owner = names.get(&name.to_lowercase());
        owner.is_none_or(|id| id == identity) && !out.join(name).exists()
    })
}
