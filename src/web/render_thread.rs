//! Where comparisons are drawn: one thread for all. Each decodes up to four videos, and a thread
//! keeps for itself much of the memory that it once had: drawing on whichever thread is free would
//! keep it many times over.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Sender, channel};

use tokio::sync::oneshot;

type Work = Box<dyn FnOnce() + Send>;

pub struct RenderThread {
    queue: Sender<Work>,
}

impl RenderThread {
    pub fn new() -> std::io::Result<Self> {
        let (queue, waiting) = channel::<Work>();
        std::thread::Builder::new()
            .name("drawing".into())
            .spawn(move || {
                for work in waiting {
                    // Told by its answer, which never comes.
                    let _ = catch_unwind(AssertUnwindSafe(work));
                }
            })?;
        Ok(Self { queue })
    }

    /// Draws when it is this work's turn, unless nobody waits for it any more; `None` where it
    /// could not be finished.
    pub async fn draw<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Option<T> {
        let (answer, made) = oneshot::channel();
        let work = move || {
            if !answer.is_closed() {
                // The one who asked may have gone since.
                let _ = answer.send(work());
            }
        };
        self.queue.send(Box::new(work)).ok()?;
        made.await.ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn one_after_the_other_on_one_thread_and_a_panic_costs_only_its_own() {
        let thread = RenderThread::new().expect("starts");
        let here = || std::thread::current().id();
        let (a, b) = tokio::join!(thread.draw(here), thread.draw(here));
        assert_eq!(a, b);
        assert_ne!(a, Some(here()));
        let broken = thread.draw(|| -> u8 { panic!("on purpose") }).await;
        assert_eq!(broken, None);
        assert_eq!(thread.draw(|| 7).await, Some(7));
    }
}
