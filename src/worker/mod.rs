//! In: what is to be done with one clip or swing. Out: its answer, from a process of its own, so that
//! a clip that crashes or hangs the decoder takes down nothing else.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

mod exit;
mod failure;
mod job;
mod measure;
pub mod place;
mod process;

pub use exit::Exit;
pub use failure::Failure;
pub use job::{Answer, Given, Inspection, Job, JobClip, Measurement};
pub use measure::measure;
pub use process::{End, Limits, receive, run};
