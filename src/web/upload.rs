//! A phone's upload: clips streamed to disk under names of our own, checked while they come.

use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect};
use tokio::io::AsyncWriteExt;
use tokio::time::{Instant, timeout, timeout_at};

use super::pages::{Answer, Refused};
use super::sniff::{LOOK, is_video};
use super::state::{Shared, random_hex, seconds};
use super::ticket::Ticket;
use super::{client, measuring};
use crate::config::WebConfig;
use crate::result::{Lesson, part_folder};
use crate::terms::Role;

/// Longest typed text, letters.
pub const TEXT_MAX: usize = 80;
/// Longest notes that come with a clip, letters; more can be written in the page later.
pub const UPLOAD_NOTES_MAX: usize = 1000;

pub async fn receive(State(app): State<Shared>, form: Multipart) -> Answer {
    let config = &app.options.pipeline.web;
    let deadline = Instant::now() + seconds(config.upload_total_s);
    let (ticket, folder) = take(&app, form, deadline).await?;
    let id = ticket.id.clone();
    measuring::start(&app, ticket, folder);
    Ok(Redirect::to(&format!("/job/{id}")).into_response())
}

/// Reads the whole form. A refused upload leaves nothing on disk.
async fn take(
    app: &Shared,
    mut form: Multipart,
    deadline: Instant,
) -> Result<(Ticket, PathBuf), Refused> {
    let uploads = &app.options.uploads;
    std::fs::create_dir_all(uploads).map_err(|e| disk(uploads, &e))?;
    let part = part_folder(uploads).map_err(|e| disk(uploads, &e))?;
    let config = &app.options.pipeline.web;
    let sending = Sending {
        folder: part.path(),
        config,
        deadline,
    };
    let mut ticket = Ticket {
        id: random_hex(),
        ..Ticket::default()
    };
    let mut consent = 0;
    let mut agreed_for = None;
    let mut view = None;
    let mut room = config.upload_max_bytes;
    while let Some(field) = sending.within(form.next_field()).await? {
        let name = field.name().unwrap_or_default().to_owned();
        let role = match name.as_str() {
            "clip" => Some(view),
            other => Role::from_key(other).map(Some),
        };
        if let Some(role) = role {
            sending.clip(&mut ticket, role, field, &mut room).await?;
            continue;
        }
        let most = if name == "notes" {
            UPLOAD_NOTES_MAX
        } else {
            TEXT_MAX
        };
        let text = sending.text(field, most).await?;
        match name.as_str() {
            "player" => ticket.player = text,
            "lesson" => ticket.lesson = text,
            // A text of one's own goes before the one that was tapped.
            "label" if ticket.label.is_empty() => ticket.label = text,
            "own_label" if !text.is_empty() => ticket.label = text,
            "club" => ticket.club = text,
            "ball_speed" => ticket.ball_speed = text,
            "carry" => ticket.carry = text,
            "notes" => ticket.notes = text,
            "view" => view = Role::from_key(&text),
            "agreed_for" => agreed_for = Some(text),
            "consent" if text == "yes" => consent += 1,
            _ => {}
        }
    }
    if ticket.clips.is_empty() {
        return Err(unprocessable(
            "No clip was chosen. Record or choose one, from the front or from behind the hands.",
        ));
    }
    if !ticket.lesson.is_empty() && ticket.lesson.parse::<Lesson>().is_err() {
        return Err(unprocessable(
            "The day of the lesson is none of the calendar. Write it like 2026-05-14.",
        ));
    }
    let again = agreed_for.is_some_and(|who| who == ticket.player && app.agreed.holds(&who));
    if !again && consent < crate::report::cautions::CONSENT.len() {
        return Err(unprocessable(
            "The upload was not kept: each statement on consent must be ticked.",
        ));
    }
    if !again {
        app.agreed.keep(&ticket.player);
    }
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    ticket.arrived_unix_s = since.map_or(0.0, |d| d.as_secs_f64());
    ticket.name = client::swing_name(&ticket.player, SystemTime::now(), &ticket.id);
    ticket
        .write(part.path())
        .map_err(|e| disk(uploads, &e.source))?;
    let folder = uploads.join(&ticket.id);
    std::fs::rename(part.path(), &folder).map_err(|e| disk(uploads, &e))?;
    // Renamed away: there is nothing left to clean up under the old name.
    let _ = part.keep();
    Ok((ticket, folder))
}

/// Where clips go, and within what time.
struct Sending<'a> {
    folder: &'a Path,
    config: &'a WebConfig,
    deadline: Instant,
}

impl Sending<'_> {
    /// Streams one clip to disk. An empty field is a view that was not chosen.
    async fn clip(
        &self,
        ticket: &mut Ticket,
        role: Option<Role>,
        mut field: Field<'_>,
        room: &mut u64,
    ) -> Result<(), Refused> {
        let file = role.map_or_else(|| "clip.mp4".to_owned(), |r| format!("{}.mp4", r.key()));
        let path = self.folder.join(&file);
        let named = role.map_or("clip", Role::words);
        let mut to: Option<tokio::fs::File> = None;
        let mut head = Vec::with_capacity(LOOK);
        while let Some(chunk) = self.within(field.chunk()).await? {
            if chunk.is_empty() {
                continue;
            }
            *room = room.checked_sub(chunk.len() as u64).ok_or_else(|| {
                let most_mb = self.config.upload_max_bytes / 1_000_000;
                Refused::Request(
                    StatusCode::PAYLOAD_TOO_LARGE,
                    format!("The clips are larger than {most_mb} MB together. Trim them to the swing and send them again."),
                )
            })?;
            if head.len() < LOOK {
                head.extend(chunk.iter().take(LOOK - head.len()));
                if head.len() == LOOK && !is_video(&head) {
                    return Err(no_video(named));
                }
            }
            // A second file of one view would take the first one's place.
            if to.is_none() && role.is_some_and(|r| ticket.clips.iter().any(|(have, _)| *have == r))
            {
                return Err(Refused::Request(
                    StatusCode::BAD_REQUEST,
                    format!("Two {named} clips were sent. Send one of each view."),
                ));
            }
            let out = match &mut to {
                Some(out) => out,
                None => to.insert(
                    tokio::fs::File::create(&path)
                        .await
                        .map_err(|e| disk(&path, &e))?,
                ),
            };
            out.write_all(&chunk).await.map_err(|e| disk(&path, &e))?;
        }
        let Some(mut out) = to else { return Ok(()) };
        if !is_video(&head) {
            return Err(no_video(named));
        }
        let Some(role) = role else {
            return Err(unprocessable(
                "It was not said where the phone stood. Tap face-on or down-the-line and send the clip again.",
            ));
        };
        out.flush().await.map_err(|e| disk(&path, &e))?;
        out.sync_all().await.map_err(|e| disk(&path, &e))?;
        ticket.clips.push((role, file));
        Ok(())
    }

    /// A typed text: one line, no control letters, not long.
    async fn text(&self, mut field: Field<'_>, most: usize) -> Result<String, Refused> {
        let mut bytes = Vec::new();
        while let Some(chunk) = self.within(field.chunk()).await? {
            bytes.extend_from_slice(&chunk);
            if bytes.len() > 4 * most {
                return Err(Refused::Request(
                    StatusCode::PAYLOAD_TOO_LARGE,
                    format!("A text is longer than {most} letters. Shorten it."),
                ));
            }
        }
        Ok(client::one_line(&String::from_utf8_lossy(&bytes), most))
    }

    /// What a sender gives, before it stalls and before all of it must be there.
    async fn within<T>(
        &self,
        given: impl Future<Output = Result<T, MultipartError>>,
    ) -> Result<T, Refused> {
        let stall = seconds(self.config.upload_stall_s);
        let in_time = timeout(stall, timeout_at(self.deadline, given)).await;
        let in_time = in_time.map_err(|_| slow())?.map_err(|_| slow())?;
        in_time.map_err(|e| broken(&e))
    }
}

fn slow() -> Refused {
    Refused::Request(
        StatusCode::REQUEST_TIMEOUT,
        "The upload stopped or was too slow. Move closer to the network and send it again.".into(),
    )
}

fn broken(e: &MultipartError) -> Refused {
    let status = if e.status() == StatusCode::PAYLOAD_TOO_LARGE {
        StatusCode::PAYLOAD_TOO_LARGE
    } else {
        StatusCode::BAD_REQUEST
    };
    Refused::Request(
        status,
        format!("The upload broke off ({}). Send it again.", e.body_text()),
    )
}

fn unprocessable(text: &str) -> Refused {
    Refused::Request(StatusCode::UNPROCESSABLE_ENTITY, text.to_owned())
}

fn no_video(named: &str) -> Refused {
    Refused::Request(
        StatusCode::UNSUPPORTED_MEDIA_TYPE,
        format!(
            "The {named} file is not an MP4 or MOV video. Choose the clip from the phone's camera."
        ),
    )
}

fn disk(path: &Path, e: &std::io::Error) -> Refused {
    tracing::warn!("{}: {e}", path.display());
    let status = if e.kind() == std::io::ErrorKind::StorageFull {
        StatusCode::INSUFFICIENT_STORAGE
    } else {
        StatusCode::INTERNAL_SERVER_ERROR
    };
    Refused::Request(
        status,
        format!(
            "The clip could not be kept on the coach's computer: {e}. Make room there and send it again."
        ),
    )
}
