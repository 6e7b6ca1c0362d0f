//! One measurement or inspection of uploaded clips, in a worker process.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use serde::de::DeserializeOwned;

use super::jobs::Stage;
use super::state::{Shared, ShowOptions};
use super::ticket::Ticket;
use crate::batch::Inspected;
use crate::measure::{self, Refusal};
use crate::report::References;
use crate::worker::{self, End, Given, Inspection, Job, JobClip, Limits, Measurement};

/// Longest that a measurement of uploaded clips may take.
const LONGEST: Duration = Duration::from_hours(2);

/// The clips of an upload.
pub fn clips_of(ticket: &Ticket, folder: &Path) -> impl Iterator<Item = JobClip> {
    ticket.clips.iter().map(|(role, file)| JobClip {
        path: folder.join(file).into_os_string(),
        role: Some(*role),
        part: None,
    })
}

/// The measurement of an upload alone.
pub fn measurement(options: &ShowOptions, ticket: &Ticket, folder: &Path) -> Measurement {
    Measurement {
        clips: clips_of(ticket, folder).collect(),
        out: options.results.clone().into_os_string(),
        replace: false,
        given: Given {
            options: measure::Options {
                name: ticket.name.clone(),
                pipeline: options.pipeline.clone(),
                jobs: std::thread::available_parallelism().map_or(1, usize::from),
                typed_in: ticket.typed_in(),
                ..measure::Options::default()
            },
            references: References::load(None).unwrap_or_default(),
            calibration: None,
        },
    }
}

/// Measures; the result is in its folder. `folder`: the upload's, for messages; `told`: the uploads
/// that are told how far it is.
///
/// # Errors
/// Why there is none, without this computer's paths.
pub async fn measure(
    app: &Shared,
    job: Measurement,
    folder: &Path,
    told: &[&String],
) -> Result<(), Refusal> {
    let jobs = app.jobs.clone();
    let told: Vec<String> = told.iter().copied().cloned().collect();
    let tell = move |line: &str| {
        for id in &told {
            jobs.tell(id, Stage::Measuring, line);
        }
    };
    match run(Job::Measure(Box::new(job)), folder.to_owned(), tell).await {
        End::Done(()) => Ok(()),
        // The clip's own place on this computer is nobody's business on the page.
        End::Nothing(why) => Err(Refusal {
            text: plain(&why.text, folder),
            ..why
        }),
        End::Stopped => Err(Refusal::failed("Measuring was lost. Send the clip again.")),
    }
}

/// Has a worker do a job, beside the page's own work; stopped where that was lost.
async fn run<T: DeserializeOwned + Send + 'static>(
    job: Job,
    about: PathBuf,
    line: impl FnMut(&str) + Send + 'static,
) -> End<T> {
    let ended = tokio::task::spawn_blocking(move || {
        let limits = Limits {
            time: LONGEST,
            stop_now: &AtomicBool::new(false),
        };
        worker::run(&job, &about, &limits, line)
    });
    ended.await.unwrap_or(End::Stopped)
}

/// A sentence without the upload's place.
fn plain(text: &str, folder: &Path) -> String {
    text.replace(&format!("{}/", folder.display()), "")
        .replace(&format!("{}: ", folder.display()), "")
}

/// What a clip tells without being measured; `None` where it can't be read.
pub async fn inspect(app: &Shared, clip: PathBuf) -> Option<Inspected> {
    let job = Job::Inspect(Box::new(Inspection {
        clip: clip.clone().into_os_string(),
        pipeline: app.options.pipeline.clone(),
        frames: false,
    }));
    match run(job, clip, |_| {}).await {
        End::Done(found) => Some(found),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use crate::terms::Role;

    #[test]
    fn typed_texts_are_kept_and_empty_ones_are_not() {
        let options = ShowOptions {
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
            lesson: "2026-05-14".into(),
            label: "hips held".into(),
            ball_speed: " 40 m/s ".into(),
            clips: vec![(Role::FaceOn, "face_on.mp4".into())],
            ..Ticket::default()
        };
        let job = measurement(&options, &ticket, Path::new("up"));
        let typed = &job.given.options.typed_in;
        assert_eq!(typed.player.as_deref(), Some("--out=/elsewhere"));
        assert_eq!(typed.ball_speed.as_deref(), Some("40 m/s"));
        assert_eq!(typed.lesson, "2026-05-14".parse().ok());
        assert_eq!(typed.label.as_deref(), Some("hips held"));
        assert_eq!((&typed.club, &typed.carry), (&None, &None));
        assert_eq!(job.clips[0].path, Path::new("up").join("face_on.mp4"));
    }

    #[test]
    fn a_refusal_names_the_clip_and_not_its_place() {
        let folder = Path::new("/somewhere/up/0a");
        let text = plain("/somewhere/up/0a/face_on.mp4: too short.", folder);
        assert_eq!(text, "face_on.mp4: too short.");
    }
}
