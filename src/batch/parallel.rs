//! Many pieces of work on a few threads.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Does `work` with each item on so many threads, each taking the next item when it is free. A thread
/// whose work breaks off takes no more.
pub(super) fn each<T: Sync>(
    items: &[T],
    threads: usize,
    work: impl Fn(&T) -> ControlFlow<()> + Sync,
) {
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..threads.min(items.len()).max(1) {
            scope.spawn(|| {
                while let Some(item) = items.get(next.fetch_add(1, Ordering::SeqCst))
                    && work(item).is_continue()
                {}
            });
        }
    });
}

/// What a mutex holds, also where a thread that held it came to an end.
pub fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
