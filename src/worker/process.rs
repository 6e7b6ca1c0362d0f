//! Worker processes: this program itself, one clip or swing each, with a time limit.

use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use wait_timeout::ChildExt;

use crate::measure::Refusal;

/// Tells a process that the other end of its standard input is held by the one that started it.
pub const PARENT_PIPE: &str = "QUARTERTURN_PARENT_PIPE";

/// How a worker ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    Done(String),
    /// What it left instead of a result, or a sentence about how it ended.
    Nothing(Refusal),
    /// It was ended because everything is to stop at once.
    Stopped,
}

/// Most bytes of a worker's output that are kept.
const MAX_OUTPUT: u64 = 16 << 20;

/// Runs this program with `arguments` and waits, at most `limit`. The worker holds the other end
/// of its standard input and ends when this process does, however that happens.
pub fn run(
    arguments: &[std::ffi::OsString],
    about: &Path,
    limit: Duration,
    stop_now: &AtomicBool,
) -> End {
    let program = match std::env::current_exe() {
        Ok(p) => p,
        Err(e) => {
            return failed(format!(
                "this program can't find itself: {e}. Start it again."
            ));
        }
    };
    let mut command = Command::new(program);
    command
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        // One thread each: several workers share the machine.
        .env("RAYON_NUM_THREADS", "1")
        .env(PARENT_PIPE, "1");
    #[cfg(unix)]
    {
        use std::os::unix::process::CommandExt;
        // A group of its own: Ctrl-C on the terminal reaches this process only, which decides.
        command.process_group(0);
    }
    let mut child = match command.spawn() {
        Ok(c) => c,
        Err(e) => {
            return failed(format!(
                "{}: no worker could be started ({e}). Close other programs and start again.",
                about.display()
            ));
        }
    };
    // Waiting would close it, and the worker would take that for this process's end.
    let _held = child.stdin.take();
    let reader = |pipe: Option<Box<dyn Read + Send>>| {
        std::thread::spawn(move || {
            let mut text = Vec::new();
            if let Some(pipe) = pipe {
                // What can't be read is missing from the message, no more.
                let _ = pipe.take(MAX_OUTPUT).read_to_end(&mut text);
            }
            String::from_utf8_lossy(&text).into_owned()
        })
    };
    let out = reader(child.stdout.take().map(|p| Box::new(p) as _));
    let err = reader(child.stderr.take().map(|p| Box::new(p) as _));
    let began = Instant::now();
    let (mut stopped, mut late) = (false, false);
    let status = loop {
        match child.wait_timeout(Duration::from_millis(100)) {
            Ok(Some(status)) => break Some(status),
            Ok(None) if stop_now.load(Ordering::SeqCst) => stopped = true,
            Ok(None) if began.elapsed() > limit => late = true,
            Ok(None) => continue,
            Err(_) => break None,
        }
        // It may have ended by itself in this moment: then there is nothing left to end.
        let _ = child.kill();
        let _ = child.wait();
        break None;
    };
    let (out, err) = (
        out.join().unwrap_or_default(),
        err.join().unwrap_or_default(),
    );
    if stopped {
        return End::Stopped;
    }
    if late {
        return failed(format!(
            "{}: not finished after {:.0} s, so it was given up. Copy the clip again, or measure it alone with `quarterturn measure`.",
            about.display(),
            limit.as_secs_f64()
        ));
    }
    match status {
        Some(s) if super::Exit::left_a_result(s.code()) => End::Done(out),
        Some(s) => End::Nothing(told(&out, &err).unwrap_or_else(|| {
            Refusal::failed(format!(
                "{}: the worker ended unexpectedly ({s}) while reading it. Copy the clip again, or export it as H.264.",
                about.display()
            ))
        })),
        None => failed(format!("{}: the worker was lost. Start again.", about.display())),
    }
}

fn failed(text: String) -> End {
    End::Nothing(Refusal::failed(text))
}

/// What a worker printed instead of a result.
fn told(out: &str, err: &str) -> Option<Refusal> {
    serde_json::from_str(out.trim()).ok().or_else(|| {
        let line = err.lines().rev().find(|l| l.starts_with("quarterturn: "))?;
        Some(Refusal::failed(line.trim_start_matches("quarterturn: ")))
    })
}

/// In a worker: ends this process when the one that started it is gone.
pub fn end_with_parent() {
    if std::env::var_os(PARENT_PIPE).is_none() {
        return;
    }
    std::thread::spawn(|| {
        let mut byte = [0u8; 1];
        // The parent never writes: this returns when its end of the pipe is closed.
        let _ = std::io::stdin().read(&mut byte);
        std::process::exit(super::Exit::Stopped as i32);
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Nothing;

    #[test]
    fn a_workers_own_sentence_is_kept() {
        assert_eq!(
            told(
                "{\"outcome\":\"no_swing\",\"error\":\"a.mp4: none.\"}\n",
                ""
            ),
            Some(Refusal {
                nothing: Nothing::NoSwing,
                text: "a.mp4: none.".into()
            })
        );
        assert_eq!(
            told("", "noise\nquarterturn: b.mp4: no person.\n"),
            Some(Refusal::failed("b.mp4: no person."))
        );
        assert_eq!(told("", "Segmentation fault"), None);
    }
}
