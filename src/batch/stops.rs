//! Requests to stop, shared between threads.

use std::sync::atomic::AtomicBool;

/// Requests to stop.
#[derive(Debug, Default)]
pub struct Stops {
    /// Finish the swings under way, begin no more.
    pub soon: AtomicBool,
    /// End the workers at once.
    pub now: AtomicBool,
}
