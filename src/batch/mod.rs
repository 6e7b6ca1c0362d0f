//! In: a folder of clips. Out: every swing measured exactly once, through a journal, and one page
//! and one table of all of them. Each clip is opened in a process of its own, so that a clip that
//! crashes or hangs the decoder takes down nothing else.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod answer;
mod answering;
mod clock;
mod corrections;
mod cutting;
mod error;
mod facts;
mod file_mark;
mod fingerprint;
mod gather;
mod index_page;
mod journal;
mod marks;
mod names;
mod parallel;
mod paths;
mod plan;
mod planned;
mod player;
mod run;
mod scan;
mod scenes;
mod stops;
mod summary;
mod table;
mod task;
mod tasks;
mod watch;

pub use answering::{Answered, answer_task};
pub use corrections::CORRECTIONS_FILE;
pub use error::BatchError;
pub use facts::{Inspected, inspect};
pub use file_mark::FileMark;
pub use parallel::lock;
pub use plan::Said;
pub use run::{Outcome, RunOptions, plan_folder, run_folder};
pub use stops::Stops;
pub use tasks::TaskPlan;
