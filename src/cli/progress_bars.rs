//! Progress on standard error: bars on a terminal, plain lines elsewhere, nothing when quiet.

use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::plain::plain;
use crate::batch::lock;
use crate::progress::Progress;

/// Time between two plain lines of one stage.
const LINE_EVERY: Duration = Duration::from_secs(5);

enum Way {
    Quiet,
    Lines,
    Bars(MultiProgress),
}

/// Shows progress as fits the standard error.
pub struct Bars {
    way: Way,
    /// By stage; hidden where they are not shown, with when its last plain line was written.
    stages: Mutex<BTreeMap<String, (ProgressBar, Instant)>>,
}

impl Bars {
    pub fn new(quiet: bool) -> Self {
        let way = if quiet {
            Way::Quiet
        } else if std::io::stderr().is_terminal() {
            Way::Bars(MultiProgress::new())
        } else {
            Way::Lines
        };
        let stages = Mutex::default();
        Self { way, stages }
    }
}

impl Progress for Bars {
    fn begin(&self, stage: &str, total: Option<u64>) {
        let mut bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::hidden());
        match &self.way {
            Way::Quiet => return,
            Way::Lines => eprintln!("{}: started", plain(stage)),
            Way::Bars(all) => {
                bar = all.add(ProgressBar::new(total.unwrap_or(0)));
                if let Ok(style) =
                    ProgressStyle::with_template("{msg:30!} {bar:30} {pos}/{len} {per_sec} {eta}")
                {
                    bar.set_style(style);
                }
                bar.set_message(plain(stage));
            }
        }
        lock(&self.stages).insert(stage.to_owned(), (bar, Instant::now()));
    }

    fn advance(&self, stage: &str, done: u64) {
        let mut stages = lock(&self.stages);
        let Some((bar, last_line)) = stages.get_mut(stage) else {
            return;
        };
        let whole = bar.length() == Some(done);
        match self.way {
            Way::Quiet => {}
            Way::Lines if last_line.elapsed() > LINE_EVERY || whole => {
                *last_line = Instant::now();
                let of = bar
                    .length()
                    .map_or_else(String::new, |t| format!(" of {t}"));
                eprintln!("{}: {done}{of}", plain(stage));
            }
            Way::Lines => {}
            Way::Bars(_) => {
                bar.set_position(done);
                if whole {
                    bar.finish();
                }
            }
        }
    }
}
