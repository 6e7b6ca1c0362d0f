//! `quarterturn worker`: one job from standard input, its answer on standard output. `folder` and
//! `show` start it, a process for each clip or swing.

use super::Exit;
use super::progress_bars::Bars;
use super::say::say;
use crate::batch;
use crate::progress::Cancel;
use crate::worker::{self, Job};

/// Does the job, and prints its answer in one line.
pub fn run() -> Exit {
    let job = match worker::receive() {
        Ok(job) => job,
        Err(why) => {
            eprintln!("quarterturn: {why}");
            return Exit::Usage;
        }
    };
    let threads = match &job {
        Job::Measure(m) => m.given.options.jobs.max(1),
        Job::Inspect(_) => 1,
    };
    // Several workers share the machine. Where the pool stands already, it is as good.
    let _ = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build_global();
    let cancel = Cancel::default();
    let answer = match job {
        Job::Measure(m) => {
            let done = worker::measure(&m, &Bars::new(false), &cancel);
            serde_json::to_string(&done.map(|_| ()).map_err(|f| f.refusal))
        }
        Job::Inspect(i) => serde_json::to_string(&batch::inspect(&i, &cancel)),
    };
    match answer {
        Ok(text) => {
            say!("{text}");
            Exit::Done
        }
        Err(e) => {
            eprintln!("quarterturn: {e}");
            Exit::Nothing
        }
    }
}
