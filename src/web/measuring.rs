//! Measurements of uploaded clips, one at a time, each in a process of its own, so that a decoder
//! that crashes takes nothing with it.

use std::path::{Path, PathBuf};
use std::process::Stdio;

use tokio::io::{AsyncBufReadExt, AsyncReadExt, BufReader};
use tokio::process::{ChildStdout, Command};

use super::jobs::{Stage, Ticket};
use super::state::{Options, Shared};
use crate::measure::Refusal;
use crate::terms::Role;

/// Queues a measurement; returns at once.
pub fn start(app: &Shared, ticket: Ticket, folder: PathBuf) {
    app.jobs.add(&ticket);
    let app = app.clone();
    tokio::spawn(async move {
        let Ok(_turn) = app.jobs.one_at_a_time.clone().acquire_owned().await else {
            return;
        };
        app.jobs.tell(&ticket.id, Stage::Measuring, "starting");
        match measure(&app, &ticket, &folder).await {
            Ok(()) => app.jobs.tell(&ticket.id, Stage::Done, "measured"),
            Err(why) => {
                let stage = Stage::Nothing(why.nothing);
                app.jobs.tell(&ticket.id, stage, &why.text);
                let answered = Ticket {
                    nothing: Some(why),
                    ..ticket
                };
                if let Err(e) = answered.write(&folder) {
                    tracing::warn!("{}: {e}", folder.display());
                }
            }
        }
    });
}

/// Queues again what an earlier run left unmeasured, and keeps in the list what it answered.
pub fn resume(app: &Shared) {
    for (_, folder) in super::library::folders(&app.options.uploads) {
        let Some(ticket) = Ticket::read(&folder) else {
            continue;
        };
        if let Some(why) = ticket.answer() {
            app.jobs.add(&ticket);
            let stage = Stage::Nothing(why.nothing);
            app.jobs.tell(&ticket.id, stage, &why.text);
        } else if !app.options.results.join(&ticket.name).exists() {
            start(app, ticket, folder);
        }
    }
}

/// The measuring command's arguments. Typed texts are joined to their option, so that none can
/// pass for an option itself.
fn arguments(options: &Options, ticket: &Ticket, folder: &Path) -> Vec<std::ffi::OsString> {
    let joined = |name: &str, value: &std::ffi::OsStr| {
        let mut text = std::ffi::OsString::from(format!("--{name}="));
        text.push(value);
        text
    };
    let mut all = vec!["measure".into(), "--json".into(), "--lines".into()];
    for (role, file) in &ticket.clips {
        let name = match role {
            Role::FaceOn => "face-on",
            Role::DownTheLine => "down-the-line",
        };
        all.push(joined(name, folder.join(file).as_os_str()));
    }
    all.push(joined("out", options.results.as_os_str()));
    all.push(joined("name", ticket.name.as_ref()));
    let typed = [
        ("player", &ticket.player),
        ("club", &ticket.club),
        ("ball-speed", &ticket.ball_speed),
        ("carry", &ticket.carry),
    ];
    for (name, value) in typed {
        if !value.trim().is_empty() {
            all.push(joined(name, value.trim().as_ref()));
        }
    }
    if options.pipeline.report.blur_face {
        all.push("--blur-face".into());
    }
    if let Some(file) = &options.pipeline_file {
        all.push(joined("pipeline", file.as_os_str()));
    }
    all
}

async fn measure(app: &Shared, ticket: &Ticket, folder: &Path) -> Result<(), Refusal> {
    let program = std::env::current_exe()
        .map_err(|e| Refusal::failed(format!("this program's file: {e}")))?;
    let mut child = Command::new(program)
        .args(arguments(&app.options, ticket, folder))
        // It ends when this process does, however that happens: the clip is measured by the next run.
        .stdin(Stdio::piped())
        .env(crate::worker::PARENT_PIPE, "1")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .kill_on_drop(true)
        .spawn()
        .map_err(|e| Refusal::failed(format!("measuring could not be started: {e}")))?;
    // Waiting would close it, and the child would take that for this process's end.
    let _held = child.stdin.take();
    // Read beside the lines of progress: a full pipe would hold the child up.
    let answer = tokio::spawn(read_answer(child.stdout.take()));
    let mut last = String::new();
    if let Some(stderr) = child.stderr.take() {
        // Read as bytes: a clip's name may be in no encoding at all.
        let mut lines = BufReader::new(stderr).split(b'\n');
        while let Ok(Some(line)) = lines.next_segment().await {
            let line = String::from_utf8_lossy(&line).trim().to_owned();
            if !line.is_empty() {
                app.jobs.tell(&ticket.id, Stage::Measuring, &line);
                last = line;
            }
        }
    }
    let end = child
        .wait()
        .await
        .map_err(|e| Refusal::failed(format!("measuring was lost: {e}")))?;
    if crate::worker::Exit::left_a_result(end.code()) {
        return Ok(());
    }
    let Some(code) = end.code() else {
        return Err(Refusal::failed(
            "The clip could not be decoded: the measuring process was ended. Export it from the phone as MP4 (H.264) and try again.",
        ));
    };
    let mut why = answer.await.ok().flatten().unwrap_or_else(|| {
        let text = last
            .strip_prefix("quarterturn: ")
            .or_else(|| last.strip_prefix("error: "))
            .unwrap_or(&last);
        Refusal::failed(text)
    });
    if why.text.is_empty() {
        why.text = format!("Measuring ended with code {code} and gave no reason.");
    }
    // The clip's own place on this computer is nobody's business on the page.
    why.text = why.text.replace(&format!("{}/", folder.display()), "");
    Err(why)
}

/// Most bytes of the measuring command's answer that are read.
const ANSWER_MAX: u64 = 4 << 20;

/// What the measuring command printed where there is no result.
async fn read_answer(stdout: Option<ChildStdout>) -> Option<Refusal> {
    let mut text = Vec::new();
    stdout?.take(ANSWER_MAX).read_to_end(&mut text).await.ok()?;
    serde_json::from_slice(&text).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    #[test]
    fn typed_texts_cannot_become_options() {
        let mut options = Options {
            results: "results".into(),
            uploads: "uploads".into(),
            lan: false,
            port: 0,
            pipeline: Pipeline::default(),
            pipeline_file: None,
        };
        let ticket = Ticket {
            id: "a".into(),
            name: "swing".into(),
            player: "--out=/elsewhere".into(),
            club: String::new(),
            ball_speed: " 40 m/s ".into(),
            carry: String::new(),
            clips: vec![(Role::FaceOn, "face_on.mp4".into())],
            nothing: None,
            failed: None,
        };
        let all = arguments(&options, &ticket, Path::new("up"));
        let all: Vec<_> = all
            .iter()
            .map(|a| a.to_string_lossy().into_owned())
            .collect();
        assert_eq!(
            all,
            [
                "measure",
                "--json",
                "--lines",
                "--face-on=up/face_on.mp4",
                "--out=results",
                "--name=swing",
                "--player=--out=/elsewhere",
                "--ball-speed=40 m/s"
            ]
        );
        options.pipeline.report.blur_face = true;
        let all = arguments(&options, &ticket, Path::new("up"));
        assert_eq!(
            all.last().map(|a| a.as_os_str()),
            Some("--blur-face".as_ref())
        );
    }
}
