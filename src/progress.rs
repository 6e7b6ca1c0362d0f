//! How a long piece of work tells whoever watches, and how it is told to stop.
#![warn(missing_docs)]

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Told by the rooms, shown by the command line or the page. Calls come from several threads.
pub trait Progress: Sync + Send {
    /// A stage begins ("face-on: reading frames"); `total` is its number of steps where known.
    fn begin(&self, stage: &str, total: Option<u64>);
    /// `done` steps of a stage are done.
    fn advance(&self, stage: &str, done: u64);
}

/// Watches nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _stage: &str, _total: Option<u64>) {}
    fn advance(&self, _stage: &str, _done: u64) {}
}

/// A request to stop, shared between threads. Work checks it between frames.
#[derive(Clone, Debug, Default)]
pub struct Cancel(Arc<AtomicBool>);

impl Cancel {
    /// Asks the work to stop.
    pub fn request(&self) {
        self.0.store(true, Ordering::SeqCst);
    }

    /// Whether it was asked.
    pub fn requested(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}
