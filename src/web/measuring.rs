//! Measurements of uploaded clips, one at a time, each in a process of its own, so that a decoder
//! that crashes takes nothing with it.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::jobs::{Stage, Ticket};
use super::state::{Options, Shared};
use crate::measure::{self, Refusal};
use crate::report::References;
use crate::result::TypedIn;
use crate::worker::{self, End, Given, Job, JobClip, Limits, Measurement};

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

/// The measurement that a ticket asks for.
fn measurement(options: &Options, ticket: &Ticket, folder: &Path) -> Measurement {
    let typed = |text: &str| Some(text.trim().to_owned()).filter(|t| !t.is_empty());
    Measurement {
        clips: ticket
            .clips
            .iter()
            .map(|(role, file)| JobClip {
                path: folder.join(file).into_os_string(),
                role: Some(*role),
                part: None,
            })
            .collect(),
        out: options.results.clone().into_os_string(),
        replace: false,
        given: Given {
            options: measure::Options {
                name: ticket.name.clone(),
                pipeline: options.pipeline.clone(),
                jobs: std::thread::available_parallelism().map_or(1, usize::from),
                typed_in: TypedIn {
                    player: typed(&ticket.player),
                    club: typed(&ticket.club),
                    ball_speed: typed(&ticket.ball_speed),
                    carry: typed(&ticket.carry),
                    ..TypedIn::default()
                },
                ..measure::Options::default()
            },
            references: References::load(None).unwrap_or_default(),
            calibration: None,
        },
    }
}

/// Longest that a measurement of uploaded clips may take.
const LONGEST: Duration = Duration::from_hours(2);

async fn measure(app: &Shared, ticket: &Ticket, folder: &Path) -> Result<(), Refusal> {
    let job = Job::Measure(Box::new(measurement(&app.options, ticket, folder)));
    let (jobs, id, about) = (app.jobs.clone(), ticket.id.clone(), folder.to_owned());
    let ended = tokio::task::spawn_blocking(move || {
        let limits = Limits {
            time: LONGEST,
            stop_now: &AtomicBool::new(false),
        };
        worker::run(&job, &about, &limits, |line| {
            jobs.tell(&id, Stage::Measuring, line);
        })
    });
    match ended.await {
        Ok(End::Done(())) => Ok(()),
        // The clip's own place on this computer is nobody's business on the page.
        Ok(End::Nothing(why)) => Err(Refusal {
            text: why
                .text
                .replace(&format!("{}/", folder.display()), "")
                .replace(&format!("{}: ", folder.display()), ""),
            ..why
        }),
        Ok(End::Stopped) | Err(_) => {
            Err(Refusal::failed("Measuring was lost. Send the clip again."))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use crate::terms::Role;

    #[test]
    fn typed_texts_are_kept_and_empty_ones_are_not() {
        let options = Options {
            results: "results".into(),
            uploads: "uploads".into(),
            lan: false,
            port: 0,
            pipeline: Pipeline::default(),
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
        let job = measurement(&options, &ticket, Path::new("up"));
        let typed = &job.given.options.typed_in;
        assert_eq!(typed.player.as_deref(), Some("--out=/elsewhere"));
        assert_eq!(typed.ball_speed.as_deref(), Some("40 m/s"));
        assert_eq!((&typed.club, &typed.carry), (&None, &None));
        assert_eq!(job.clips[0].path, Path::new("up").join("face_on.mp4"));
    }
}
