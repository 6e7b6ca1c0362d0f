//! Worker processes: this program itself, one job each.

use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde::de::DeserializeOwned;
use wait_timeout::ChildExt;

use super::{Answer, Exit, Job};
use crate::measure::Refusal;

/// How a worker ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End<T> {
    /// Its answer.
    Done(T),
    /// What it left instead of a result, or a sentence about how it ended.
    Nothing(Refusal),
    /// It was ended because everything is to stop at once.
    Stopped,
}

/// What ends a worker before its time.
pub struct Limits<'a> {
    /// The longest that it may take.
    pub time: Duration,
    /// Set when everything is to stop at once.
    pub stop_now: &'a AtomicBool,
}

/// Most bytes of a worker's output that are kept.
const MAX_OUTPUT: u64 = 16 << 20;
/// The longest line of progress that is read, bytes.
const MAX_LINE: usize = 10_000;

/// Lets a process of its own do a job and waits for it; `line` is given each line of its progress.
/// The worker holds the other end of its standard input and ends when this process does, however
/// that happens. `about` is for messages.
pub fn run<T: DeserializeOwned + Send>(
    job: &Job,
    about: &Path,
    limits: &Limits<'_>,
    line: impl FnMut(&str) + Send,
) -> End<T> {
    let mut child = match start() {
        Ok(c) => c,
        Err(e) => {
            return failed(format!(
                "{}: no worker could be started ({e}). Close other programs and start again.",
                about.display()
            ));
        }
    };
    // Held until the end: the worker takes its closing for this process's end.
    let mut held = child.stdin.take();
    let told = serde_json::to_vec(job).map_err(std::io::Error::other);
    let sent = told.and_then(|mut bytes| {
        bytes.push(b'\n');
        held.as_mut().map_or(Ok(()), |pipe| pipe.write_all(&bytes))
    });
    let out = child.stdout.take().map(|p| p.take(MAX_OUTPUT));
    let err = child.stderr.take();
    std::thread::scope(|scope| {
        let answer = scope.spawn(move || {
            let mut text = Vec::new();
            // What can't be read is missing from the answer, no more.
            let _ = out.map(|mut pipe| pipe.read_to_end(&mut text));
            serde_json::from_slice::<Answer<T>>(&text).ok()
        });
        scope.spawn(move || lines(err, line));
        let ended = wait(&mut child, limits);
        let answer = answer.join().ok().flatten();
        match (ended, answer, sent) {
            (Ended::Stopped, ..) => End::Stopped,
            (_, Some(Ok(done)), _) => End::Done(done),
            (_, Some(Err(refusal)), _) => End::Nothing(refusal),
            (Ended::Late, ..) => failed(format!(
                "{}: not finished after {:.0} s, so it was given up. Copy the clip again, or measure it alone with `quarterturn measure`.",
                about.display(),
                limits.time.as_secs_f64()
            )),
            (_, None, Err(e)) => failed(format!(
                "{}: the worker did not take its job ({e}). Start again.",
                about.display()
            )),
            (Ended::ByItself, None, Ok(())) => failed(format!(
                "{}: the worker ended unexpectedly while reading it. Copy the clip again, or export it as H.264.",
                about.display()
            )),
        }
    })
}

fn failed<T>(text: String) -> End<T> {
    End::Nothing(Refusal::failed(text))
}

fn start() -> std::io::Result<Child> {
    let mut command = Command::new(std::env::current_exe()?);
    command
        .arg("worker")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    #[cfg(unix)]
    {
        use std::os::unix::process::CommandExt;
        // A group of its own: Ctrl-C on the terminal reaches this process only, which decides.
        command.process_group(0);
    }
    command.spawn()
}

enum Ended {
    ByItself,
    Stopped,
    Late,
}

fn wait(child: &mut Child, limits: &Limits<'_>) -> Ended {
    let began = Instant::now();
    let ended = loop {
        match child.wait_timeout(Duration::from_millis(100)) {
            Ok(Some(_)) | Err(_) => return Ended::ByItself,
            Ok(None) if limits.stop_now.load(Ordering::SeqCst) => break Ended::Stopped,
            Ok(None) if began.elapsed() > limits.time => break Ended::Late,
            Ok(None) => {}
        }
    };
    // It may have ended by itself in this moment: then there is nothing left to end.
    let _ = child.kill();
    let _ = child.wait();
    ended
}

/// Gives on what a worker tells while it works. Read as bytes: a clip's name may be in no encoding.
fn lines(pipe: Option<impl Read>, mut line: impl FnMut(&str)) {
    let Some(pipe) = pipe else { return };
    for told in BufReader::new(pipe).split(b'\n').map_while(Result::ok) {
        let told = told.get(..MAX_LINE).unwrap_or(&told);
        let text = String::from_utf8_lossy(told);
        if !text.trim().is_empty() {
            line(text.trim());
        }
    }
}

/// In a worker: its job. From then on this process ends when the one that started it does.
///
/// # Errors
/// One sentence where there is no job that can be understood.
pub fn receive() -> Result<Job, String> {
    let mut text = String::new();
    std::io::stdin()
        .read_line(&mut text)
        .map_err(|e| e.to_string())?;
    let job = serde_json::from_str(&text)
        .map_err(|e| format!("the job can't be understood ({e}). Start again."))?;
    std::thread::spawn(|| {
        // The parent writes no more: this returns when its end of the pipe is closed.
        let _ = std::io::stdin().read(&mut [0u8; 1]);
        std::process::exit(Exit::Stopped as i32);
    });
    Ok(job)
}
