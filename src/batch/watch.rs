//! Progress of a folder: a bar on a terminal, plain lines elsewhere, nothing when quiet.

use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::parallel::lock;

/// Time between two plain lines.
const LINE_EVERY: Duration = Duration::from_secs(10);

enum Way {
    Quiet,
    Bar,
    Lines,
}

pub(super) struct Watch {
    way: Way,
    /// The stage, hidden where it is not shown as a bar, and when the last plain line was written.
    now: Mutex<(ProgressBar, Instant)>,
}

impl Watch {
    pub fn new(quiet: bool) -> Self {
        let way = if quiet {
            Way::Quiet
        } else if std::io::stderr().is_terminal() {
            Way::Bar
        } else {
            Way::Lines
        };
        let now = Mutex::new((ProgressBar::hidden(), Instant::now()));
        Self { way, now }
    }

    pub fn begin(&self, stage: &str, total: usize) {
        let hidden = ProgressDrawTarget::hidden();
        let bar = ProgressBar::with_draw_target(Some(total as u64), hidden);
        bar.set_prefix(stage.to_owned());
        match self.way {
            Way::Bar if total > 0 => {
                bar.set_draw_target(ProgressDrawTarget::stderr());
                if let Ok(style) = ProgressStyle::with_template(
                    "{prefix}: {bar:24} {pos}/{len}, {per_sec}, {eta} left, {wide_msg}",
                ) {
                    bar.set_style(style);
                }
                bar.enable_steady_tick(Duration::from_millis(500));
            }
            Way::Lines if total > 0 => eprintln!("{stage}: {total} to do"),
            _ => {}
        }
        *lock(&self.now) = (bar, Instant::now());
    }

    pub fn current(&self, what: &str) {
        lock(&self.now).0.set_message(what.to_owned());
    }

    pub fn advance(&self) {
        let (bar, last_line) = &mut *lock(&self.now);
        bar.inc(1);
        let (done, total) = (bar.position(), bar.length().unwrap_or(0));
        let due = last_line.elapsed() > LINE_EVERY || done == total;
        if matches!(self.way, Way::Lines) && due {
            *last_line = Instant::now();
            let seconds = bar.elapsed().as_secs_f64();
            let told = line(&bar.prefix(), done, total, seconds, &bar.message());
            eprintln!("{told}");
        }
    }

    pub fn say(&self, text: &str) {
        let (bar, _) = &*lock(&self.now);
        match self.way {
            Way::Quiet => {}
            Way::Bar if !bar.is_hidden() && !bar.is_finished() => bar.println(text),
            _ => eprintln!("{text}"),
        }
    }

    pub fn end(&self) {
        lock(&self.now).0.finish_and_clear();
    }
}

fn line(stage: &str, done: u64, total: u64, seconds: f64, current: &str) -> String {
    let per_minute = done as f64 / seconds.max(1e-3) * 60.0;
    let left_s = seconds / done.max(1) as f64 * total.saturating_sub(done) as f64;
    format!(
        "{stage}: {done} of {total}, {per_minute:.1} a minute, {} left, {current}",
        duration(left_s)
    )
}

pub(super) fn duration(seconds: f64) -> String {
    let s = seconds.max(0.0).round() as u64;
    match (s / 3600, s % 3600 / 60, s % 60) {
        (0, 0, s) => format!("{s} s"),
        (0, m, s) => format!("{m} min {s} s"),
        (h, m, _) => format!("{h} h {m} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_tells_done_rate_and_time_left() {
        assert_eq!(
            line("measuring", 10, 40, 60.0, "b.mp4"),
            "measuring: 10 of 40, 10.0 a minute, 3 min 0 s left, b.mp4"
        );
        assert_eq!(duration(7384.0), "2 h 3 min");
    }
}
