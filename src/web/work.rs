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
use crate::result::TypedIn;
use crate::terms::Role;
use crate::worker::{self, End, Given, Inspection, Job, JobClip, Limits, Measurement};

/// Longest that a measurement of uploaded clips may take.
const LONGEST: Duration = Duration::from_hours(2);

/// What is measured as one swing.
pub struct Clips {
    /// The upload that is told how far it is.
    pub id: String,
    /// Name of the result's folder.
    pub name: String,
    /// The upload's folder, for messages.
    pub folder: PathBuf,
    /// One or two clips.
    pub clips: Vec<(Role, PathBuf)>,
    /// What goes into the result as typed.
    pub typed: TypedIn,
    /// A job that is told the same lines.
    pub also: Option<String>,
}

impl Clips {
    /// Those of one upload.
    pub fn of(ticket: &Ticket, folder: &Path) -> Self {
        Self {
            id: ticket.id.clone(),
            name: ticket.name.clone(),
            folder: folder.to_owned(),
            clips: ticket
                .clips
                .iter()
                .map(|(role, file)| (*role, folder.join(file)))
                .collect(),
            typed: ticket.typed_in(),
            also: None,
        }
    }
}

fn measurement(options: &ShowOptions, clips: &Clips) -> Measurement {
    Measurement {
        clips: clips
            .clips
            .iter()
            .map(|(role, path)| JobClip {
                path: path.clone().into_os_string(),
                role: Some(*role),
                part: None,
            })
            .collect(),
        out: options.results.clone().into_os_string(),
        replace: false,
        given: Given {
            options: measure::Options {
                name: clips.name.clone(),
                pipeline: options.pipeline.clone(),
                jobs: std::thread::available_parallelism().map_or(1, usize::from),
                typed_in: clips.typed.clone(),
                ..measure::Options::default()
            },
            references: References::load(None).unwrap_or_default(),
            calibration: None,
        },
    }
}

/// Measures; the result is in its folder.
///
/// # Errors
/// Why there is none, without this computer's paths.
pub async fn measure(app: &Shared, clips: &Clips) -> Result<(), Refusal> {
    let job = Job::Measure(Box::new(measurement(&app.options, clips)));
    let (jobs, about) = (app.jobs.clone(), clips.folder.clone());
    let told: Vec<String> = [Some(clips.id.clone()), clips.also.clone()]
        .into_iter()
        .flatten()
        .collect();
    let tell = move |line: &str| {
        for id in &told {
            jobs.tell(id, Stage::Measuring, line);
        }
    };
    match run(job, about, tell).await {
        End::Done(()) => Ok(()),
        // The clip's own place on this computer is nobody's business on the page.
        End::Nothing(why) => Err(Refusal {
            text: plain(&why.text, &clips.folder),
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
        let job = measurement(&options, &Clips::of(&ticket, Path::new("up")));
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
