//! A phone's upload: clips streamed to disk under names of our own, checked while they come.

use std::path::{Path, PathBuf};
use std::time::Duration;

use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use tokio::io::AsyncWriteExt;
use tokio::time::{Instant, timeout, timeout_at};

use super::jobs::Ticket;
use super::sniff::{LOOK, is_video};
use super::state::{Shared, random_hex, seconds};
use super::{client, measuring, pages};
use crate::config::WebConfig;
use crate::terms::Role;

/// Longest typed text, letters.
pub const TEXT_MAX: usize = 80;

/// How the folder of an upload that is still coming begins.
pub const PART: &str = ".part-";

type Refusal = (StatusCode, String);

pub async fn receive(State(app): State<Shared>, form: Multipart) -> Response {
    let config = &app.options.pipeline.web;
    let deadline = Instant::now() + seconds(config.upload_total_s);
    match take(&app, form, deadline).await {
        Ok((ticket, folder)) => {
            let id = ticket.id.clone();
            measuring::start(&app, ticket, folder);
            Redirect::to(&format!("/job/{id}")).into_response()
        }
        Err((status, text)) => pages::refused(status, &text),
    }
}

/// Reads the whole form. A refused upload leaves nothing on disk.
async fn take(
    app: &Shared,
    mut form: Multipart,
    deadline: Instant,
) -> Result<(Ticket, PathBuf), Refusal> {
    let uploads = &app.options.uploads;
    std::fs::create_dir_all(uploads).map_err(|e| disk(uploads, &e))?;
    let part = tempfile::Builder::new()
        .prefix(PART)
        .tempdir_in(uploads)
        .map_err(|e| disk(uploads, &e))?;
    let config = &app.options.pipeline.web;
    let mut ticket = Ticket {
        id: random_hex(),
        name: String::new(),
        player: String::new(),
        club: String::new(),
        ball_speed: String::new(),
        carry: String::new(),
        clips: Vec::new(),
        nothing: None,
        failed: None,
    };
    let mut consent = 0;
    let mut room = config.upload_max_bytes;
    loop {
        let stall = seconds(config.upload_stall_s);
        let field = timeout(stall, timeout_at(deadline, form.next_field()))
            .await
            .map_err(|_| slow())?
            .map_err(|_| slow())?
            .map_err(|e| broken(&e))?;
        let Some(field) = field else { break };
        let name = field.name().unwrap_or_default().to_owned();
        match name.as_str() {
            "face_on" => {
                clip(
                    &mut ticket,
                    Role::FaceOn,
                    field,
                    part.path(),
                    &mut room,
                    config,
                    deadline,
                )
                .await?
            }
            "down_the_line" => {
                clip(
                    &mut ticket,
                    Role::DownTheLine,
                    field,
                    part.path(),
                    &mut room,
                    config,
                    deadline,
                )
                .await?;
            }
            _ => {
                let text = text(field, stall, deadline).await?;
                match name.as_str() {
                    "player" => ticket.player = text,
                    "club" => ticket.club = text,
                    "ball_speed" => ticket.ball_speed = text,
                    "carry" => ticket.carry = text,
                    "consent" if text == "yes" => consent += 1,
                    _ => {}
                }
            }
        }
    }
    if ticket.clips.is_empty() {
        return Err((
            StatusCode::UNPROCESSABLE_ENTITY,
            "No clip was chosen. Choose a face-on clip, a down-the-line clip, or both.".into(),
        ));
    }
    if consent < crate::report::cautions::CONSENT.len() {
        return Err((
            StatusCode::UNPROCESSABLE_ENTITY,
            "The upload was not kept: each statement on consent must be ticked.".into(),
        ));
    }
    ticket.name = client::swing_name(&ticket.player, std::time::SystemTime::now(), &ticket.id);
    ticket.write(part.path()).map_err(|e| disk(uploads, &e))?;
    let folder = uploads.join(&ticket.id);
    std::fs::rename(part.path(), &folder).map_err(|e| disk(uploads, &e))?;
    // Renamed away: there is nothing left to clean up under the old name.
    let _ = part.keep();
    Ok((ticket, folder))
}

/// Streams one clip to disk. An empty field is a view that was not chosen.
async fn clip(
    ticket: &mut Ticket,
    role: Role,
    mut field: Field<'_>,
    folder: &Path,
    room: &mut u64,
    config: &WebConfig,
    deadline: Instant,
) -> Result<(), Refusal> {
    let file = format!("{}.mp4", role.key());
    let path = folder.join(&file);
    let mut to: Option<tokio::fs::File> = None;
    let mut head = Vec::with_capacity(LOOK);
    loop {
        let chunk = timeout(
            seconds(config.upload_stall_s),
            timeout_at(deadline, field.chunk()),
        )
        .await
        .map_err(|_| slow())?
        .map_err(|_| slow())?
        .map_err(|e| broken(&e))?;
        let Some(chunk) = chunk else { break };
        if chunk.is_empty() {
            continue;
        }
        *room = room.checked_sub(chunk.len() as u64).ok_or_else(|| {
            (
                StatusCode::PAYLOAD_TOO_LARGE,
                format!(
                    "The clips are larger than {} MB together. Trim them to the swing and send them again.",
                    config.upload_max_bytes / 1_000_000
                ),
            )
        })?;
        if head.len() < LOOK {
            head.extend(chunk.iter().take(LOOK - head.len()));
            if head.len() == LOOK && !is_video(&head) {
                return Err(no_video(role));
            }
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
        return Err(no_video(role));
    }
    out.flush().await.map_err(|e| disk(&path, &e))?;
    out.sync_all().await.map_err(|e| disk(&path, &e))?;
    if ticket.clips.iter().any(|(r, _)| *r == role) {
        return Err((
            StatusCode::BAD_REQUEST,
            format!("Two {role} clips were sent. Send one of each view."),
        ));
    }
    ticket.clips.push((role, file));
    Ok(())
}

/// A typed text: one line, no control letters, not long.
async fn text(mut field: Field<'_>, stall: Duration, deadline: Instant) -> Result<String, Refusal> {
    let mut bytes = Vec::new();
    loop {
        let chunk = timeout(stall, timeout_at(deadline, field.chunk()))
            .await
            .map_err(|_| slow())?
            .map_err(|_| slow())?
            .map_err(|e| broken(&e))?;
        let Some(chunk) = chunk else { break };
        bytes.extend_from_slice(&chunk);
        if bytes.len() > 4 * TEXT_MAX {
            return Err((
                StatusCode::PAYLOAD_TOO_LARGE,
                format!("A text is longer than {TEXT_MAX} letters. Shorten it."),
            ));
        }
    }
    Ok(client::one_line(&String::from_utf8_lossy(&bytes), TEXT_MAX))
}

fn slow() -> Refusal {
    (
        StatusCode::REQUEST_TIMEOUT,
        "The upload stopped or was too slow. Move closer to the network and send it again.".into(),
    )
}

fn broken(e: &MultipartError) -> Refusal {
    let status = if e.status() == StatusCode::PAYLOAD_TOO_LARGE {
        StatusCode::PAYLOAD_TOO_LARGE
    } else {
        StatusCode::BAD_REQUEST
    };
    (
        status,
        format!("The upload broke off ({}). Send it again.", e.body_text()),
    )
}

fn no_video(role: Role) -> Refusal {
    (
        StatusCode::UNSUPPORTED_MEDIA_TYPE,
        format!(
            "The {role} file is not an MP4 or MOV video. Choose the clip from the phone's camera."
        ),
    )
}

fn disk(path: &Path, e: &std::io::Error) -> Refusal {
    tracing::warn!("{}: {e}", path.display());
    let status = if e.kind() == std::io::ErrorKind::StorageFull {
        StatusCode::INSUFFICIENT_STORAGE
    } else {
        StatusCode::INTERNAL_SERVER_ERROR
    };
    (
        status,
        format!(
            "The clip could not be kept on the coach's computer: {e}. Make room there and send it again."
        ),
    )
}
