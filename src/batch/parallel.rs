//! Many pieces of work on a few threads.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Does `work` with each item on so many threads, each taking the next item when it is free. A thread
/// whose work breaks off takes no more; after a failure none does.
///
/// # Errors
/// The first failure.
pub(super) fn each<T: Sync, E: Send>(
    items: &[T],
    threads: usize,
    work: impl Fn(&T) -> Result<ControlFlow<()>, E> + Sync,
) -> Result<(), E> {
    let next = AtomicUsize::new(0);
    let failed = Mutex::new(None);
    std::thread::scope(|scope| {
        for _ in 0..threads.min(items.len()).max(1) {
            scope.spawn(|| {
                while lock(&failed).is_none()
                    && let Some(item) = items.get(next.fetch_add(1, Ordering::SeqCst))
                {
                    match work(item) {
                        Ok(ControlFlow::Continue(())) => {}
                        Ok(ControlFlow::Break(())) => break,
                        Err(e) => {
                            lock(&failed).get_or_insert(e);
                        }
                    }
                }
            });
        }
    });
    lock(&failed).take().map_or(Ok(()), Err)
}

/// What a mutex holds, also where a thread that held it came to an end.
pub fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
