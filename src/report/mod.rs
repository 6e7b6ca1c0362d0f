//! In: a result, its curves and the clips. Out: `report.html`, stills, annotated video.
//!
//! Every picture is drawn from [`crate::body::Overlay`], every number comes from the result.
#![cfg_attr(
    not(test),
    deny(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)
)]

pub mod cautions;
pub mod compare;
mod encode;
mod faces;
mod film;
mod film_list;
pub mod first;
mod jpeg;
pub mod page;
mod picture;
pub mod plot;
pub mod references;
mod scale;
pub mod untold;
pub mod words;

use std::path::Path;

pub use encode::{EncodeError, video_encoder};
use film::{Scene, ViewPictures, film, scrub_moments};
pub use picture::DrawError;
pub use references::{References, ReferencesError};

use crate::body::Overlay;
use crate::clip::{ClipError, FrameReader};
use crate::config::{ClipConfig, Learned, Pipeline, ReportConfig};
use crate::file_error::{At, FileError};
use crate::progress::{Cancel, Progress};
use crate::result::{Curves, SwingResult, write_by_rename};

/// Why a report could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// A clip can't be read again.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// A video can't be made.
    #[error(transparent)]
    Encode(#[from] EncodeError),
    /// A picture can't be drawn on.
    #[error(transparent)]
    Draw(#[from] DrawError),
    /// A picture can't be resized.
    #[error("a frame could not be resized: {0}. Check the clip with another player.")]
    Scale(ffmpeg_next::Error),
    /// A picture can't be written as JPEG.
    #[error("a picture could not be written as JPEG: {0}")]
    Picture(String),
    /// A comparison can't be written as JSON.
    #[error("the comparison could not be written as JSON: {0}. Measure both swings again.")]
    Json(serde_json::Error),
    /// A file can't be written.
    #[error("{0}. Check that the folder can be written and has room.")]
    Io(#[from] FileError),
    /// The user stopped it.
    #[error("stopped before the report was whole")]
    Stopped,
}

/// What drawing needs from a pipeline.
#[derive(Clone, Copy)]
pub struct Settings<'a> {
    /// Sizes, qualities and margins.
    pub report: &'a ReportConfig,
    /// How clips are decoded.
    pub clip: &'a ClipConfig,
    /// Factors for the difference of two swings.
    pub learned: &'a Learned,
}

impl<'a> Settings<'a> {
    /// Those of a pipeline.
    pub fn of(pipeline: &'a Pipeline) -> Self {
        Self {
            report: &pipeline.report,
            clip: &pipeline.clip,
            learned: &pipeline.learned,
        }
    }
}

/// What a report is made from, and where.
pub struct Drawing<'a> {
    /// The result's folder.
    pub folder: &'a Path,
    /// The numbers.
    pub swing: &'a SwingResult,
    /// The curves.
    pub curves: &'a Curves,
    /// What is drawn, a view each.
    pub overlays: &'a [Overlay],
    /// How it is drawn.
    pub settings: Settings<'a>,
    /// Told how far it is.
    pub progress: &'a dyn Progress,
    /// Asked whether to stop.
    pub cancel: &'a Cancel,
}

/// Writes `report.html`, `stills/*.jpg` and the annotated videos. The page comes last, so that where
/// it is, everything it links to is.
///
/// # Errors
/// [`ReportError`] where a clip can't be read again, or something can't be drawn or written.
pub fn write_report(drawing: &Drawing<'_>, references: &References) -> Result<(), ReportError> {
    let (views, scrub_s) = pictures(drawing)?;
    let html = page::report_page(&page::PageInput {
        swing: drawing.swing,
        curves: drawing.curves,
        references,
        views: &views,
        scrub_s: &scrub_s,
        config: drawing.settings.report,
    })?;
    write(&drawing.folder.join("report.html"), html.as_bytes())
}

/// Writes annotated stills and videos only.
///
/// # Errors
/// Those of [`write_report`].
pub fn write_mark(drawing: &Drawing<'_>) -> Result<(), ReportError> {
    pictures(drawing).map(|_| ())
}

fn pictures(drawing: &Drawing<'_>) -> Result<(Vec<ViewPictures>, Vec<f64>), ReportError> {
    let Drawing {
        folder,
        swing,
        curves,
        overlays,
        settings,
        progress,
        cancel,
    } = *drawing;
    let stills = folder.join("stills");
    std::fs::create_dir_all(&stills).at(&stills)?;
    let events = page::event_times(swing);
    let span = span_of(overlays);
    let scrub_s = scrub_moments(&events, span, settings.report.scrub_frames);
    let scene = Scene {
        swing,
        curves,
        events: &events,
        scrub_s: &scrub_s,
        config: settings.report,
    };
    let mut views = Vec::new();
    for overlay in overlays {
        let frames = frames_of(&overlay.file, settings)?;
        let view = film(folder, overlay, frames, &scene, progress, cancel)?;
        for (event, picture) in &view.stills {
            let path = stills.join(format!("{}_{}.jpg", overlay.role.key(), event.key()));
            write(
                &path,
                &jpeg::encode(picture, settings.report.still_quality)?,
            )?;
        }
        views.push(view);
    }
    film_list::write(folder, &views)?;
    Ok((views, scrub_s))
}

/// The frames of a clip or of an annotated video.
fn frames_of(path: &Path, settings: Settings) -> Result<FrameReader, ReportError> {
    // Drawing and encoding keep the other cores busy.
    Ok(FrameReader::open(path, settings.clip)?)
}

/// First and last moment that any view covers, seconds.
fn span_of(overlays: &[Overlay]) -> (f64, f64) {
    let times = || {
        overlays
            .iter()
            .flat_map(|o| o.frames.iter().map(|f| f.time_s))
    };
    let low = times().fold(f64::INFINITY, f64::min);
    let high = times().fold(f64::NEG_INFINITY, f64::max);
    if low <= high { (low, high) } else { (0.0, 0.0) }
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    Ok(write_by_rename(path, bytes).at(path)?)
}
