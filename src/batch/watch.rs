//! Progress of a folder: a bar on a terminal, plain lines elsewhere, nothing when quiet.

use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use super::parallel::lock;

/// Time between two plain lines.
const LINE_EVERY: Duration = Duration::from_secs(10);

enum Way {
    Quiet,
    Bar,
    Lines,
}

struct Now {
    stage: String,
    total: usize,
    done: usize,
    began: Instant,
    last_line: Instant,
    current: String,
    bar: Option<ProgressBar>,
}

pub(super) struct Watch {
    way: Way,
    now: Mutex<Now>,
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
        Self {
            way,
            now: Mutex::new(Now {
                stage: String::new(),
                total: 0,
                done: 0,
                began: Instant::now(),
                last_line: Instant::now(),
                current: String::new(),
                bar: None,
            }),
        }
    }

    fn with(&self, change: impl FnOnce(&mut Now, &Way)) {
        change(&mut lock(&self.now), &self.way);
    }

    pub fn begin(&self, stage: &str, total: usize) {
        self.with(|now, way| {
            now.stage = stage.to_owned();
            now.total = total;
            now.done = 0;
            now.began = Instant::now();
            now.last_line = Instant::now();
            now.bar = None;
            match way {
                Way::Bar if total > 0 => {
                    let bar = ProgressBar::new(total as u64);
                    if let Ok(style) = ProgressStyle::with_template(
                        "{prefix}: {bar:24} {pos}/{len}, {per_sec}, {eta} left, {wide_msg}",
                    ) {
                        bar.set_style(style);
                    }
                    bar.set_prefix(stage.to_owned());
                    bar.enable_steady_tick(Duration::from_millis(500));
                    now.bar = Some(bar);
                }
                Way::Lines if total > 0 => eprintln!("{stage}: {total} to do"),
                _ => {}
            }
        });
    }

    pub fn current(&self, what: &str) {
        self.with(|now, _| {
            now.current = what.to_owned();
            if let Some(bar) = &now.bar {
                bar.set_message(what.to_owned());
            }
        });
    }

    pub fn advance(&self) {
        self.with(|now, way| {
            now.done += 1;
            if let Some(bar) = &now.bar {
                bar.set_position(now.done as u64);
            }
            if matches!(way, Way::Lines)
                && (now.last_line.elapsed() > LINE_EVERY || now.done == now.total)
            {
                now.last_line = Instant::now();
                let seconds = now.began.elapsed().as_secs_f64();
                eprintln!(
                    "{}",
                    line(&now.stage, now.done, now.total, seconds, &now.current)
                );
            }
        });
    }

    pub fn say(&self, text: &str) {
        self.with(|now, way| match (way, &now.bar) {
            (Way::Quiet, _) => {}
            (_, Some(bar)) => bar.println(text),
            _ => eprintln!("{text}"),
        });
    }

    pub fn end(&self) {
        self.with(|now, _| {
            if let Some(bar) = now.bar.take() {
                bar.finish_and_clear();
            }
        });
    }
}

fn line(stage: &str, done: usize, total: usize, seconds: f64, current: &str) -> String {
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
