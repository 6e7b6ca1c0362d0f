//! Progress on standard error: bars on a terminal, plain lines elsewhere, nothing when quiet.

use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{MultiProgress, ProgressBar, ProgressStyle};

use super::plain::plain;
use crate::progress::Progress;

/// Time between two plain lines of one stage.
const LINE_EVERY: Duration = Duration::from_secs(5);

enum Way {
    Quiet,
    Lines(Mutex<BTreeMap<String, (Option<u64>, Instant)>>),
    Bars(MultiProgress, Mutex<BTreeMap<String, ProgressBar>>),
}

/// Shows progress as fits the standard error.
pub struct Bars(Way);

impl Bars {
    pub fn new(quiet: bool) -> Self {
        Self(if quiet {
            Way::Quiet
        } else if std::io::stderr().is_terminal() {
            Way::Bars(MultiProgress::new(), Mutex::new(BTreeMap::new()))
        } else {
            Way::Lines(Mutex::new(BTreeMap::new()))
        })
    }
}

impl Progress for Bars {
    fn begin(&self, stage: &str, total: Option<u64>) {
        match &self.0 {
            Way::Quiet => {}
            Way::Lines(stages) => {
                eprintln!("{}: started", plain(stage));
                if let Ok(mut s) = stages.lock() {
                    s.insert(stage.to_owned(), (total, Instant::now()));
                }
            }
            Way::Bars(all, bars) => {
                let bar = all.add(ProgressBar::new(total.unwrap_or(0)));
                if let Ok(style) =
                    ProgressStyle::with_template("{msg:30!} {bar:30} {pos}/{len} {per_sec} {eta}")
                {
                    bar.set_style(style);
                }
                bar.set_message(plain(stage));
                if let Ok(mut b) = bars.lock() {
                    b.insert(stage.to_owned(), bar);
                }
            }
        }
    }

    fn advance(&self, stage: &str, done: u64) {
        match &self.0 {
            Way::Quiet => {}
            Way::Lines(stages) => {
                let Ok(mut s) = stages.lock() else { return };
                let Some((total, last)) = s.get_mut(stage) else {
                    return;
                };
                if last.elapsed() > LINE_EVERY || Some(done) == *total {
                    *last = Instant::now();
                    match total {
                        Some(t) => eprintln!("{}: {done} of {t}", plain(stage)),
                        None => eprintln!("{}: {done}", plain(stage)),
                    }
                }
            }
            Way::Bars(_, bars) => {
                if let Ok(b) = bars.lock()
                    && let Some(bar) = b.get(stage)
                {
                    bar.set_position(done);
                    if bar.length() == Some(done) {
                        bar.finish();
                    }
                }
            }
        }
    }
}
