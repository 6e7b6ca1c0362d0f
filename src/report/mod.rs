//! In: a result, its curves and the clips. Out: `report.html`, stills, annotated video.
//!
//! Every picture is drawn from [`crate::body::Overlay`], every number comes from the result.
#![cfg_attr(not(test), deny(clippy::indexing_slicing))]

pub mod cautions;
pub mod compare;
mod encode;
mod faces;
mod film;
mod film_frames;
mod film_list;
pub mod first;
mod heads;
mod jpeg;
mod names;
pub mod page;
mod picture;
pub mod plot;
pub mod references;
mod scale;
pub mod share;
mod still;
pub mod untold;
pub mod words;

use std::path::Path;

pub use encode::{EncodeError, video_encoder};
use film::{Subject, ViewPictures, scrub_moments};
pub use names::{film_names, still_name};
pub use picture::DrawError;
use rayon::prelude::*;
pub use references::{References, ReferencesError};
pub use still::{read_still, still_of, top_picture};

use crate::body::Overlay;
use crate::clip::{ChosenFrames, ClipError, FrameReader, FrameTimes};
use crate::config::Pipeline;
use crate::file_error::{At, FileError};
use crate::math::stats::bounds;
use crate::measure::Measured;
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
    /// The head is to be hidden and its place was not kept.
    #[error("{}: where the head is was not kept for this swing, so it can't be hidden. Measure the swing again.", .0.display())]
    NoHeads(std::path::PathBuf),
    /// A file can't be written.
    #[error("{0}. Check that the folder can be written and has room.")]
    Io(#[from] FileError),
    /// The user stopped it.
    #[error("stopped before the report was whole")]
    Stopped,
}

/// What a report is made from, and where.
#[derive(Clone, Copy)]
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
    pub pipeline: &'a Pipeline,
    /// Told how far it is.
    pub progress: &'a dyn Progress,
    /// Asked whether to stop.
    pub cancel: &'a Cancel,
}

impl<'a> Drawing<'a> {
    /// What is drawn of a measured swing, into `folder`.
    pub fn of(
        folder: &'a Path,
        measured: &'a Measured,
        pipeline: &'a Pipeline,
        progress: &'a dyn Progress,
        cancel: &'a Cancel,
    ) -> Self {
        Self {
            folder,
            swing: &measured.result,
            curves: &measured.curves,
            overlays: &measured.overlays,
            pipeline,
            progress,
            cancel,
        }
    }
}

/// What was drawn for a page.
pub struct Pictures {
    views: Vec<ViewPictures>,
    scrub_s: Vec<f64>,
}

/// How far the annotated videos are, for the page that links them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Films {
    /// They are drawn after the page.
    ToCome,
    /// They stand beside it.
    There,
    /// Drawing them was stopped, or failed.
    Missing,
}

/// Draws what a page shows and writes `stills/*.jpg`.
///
/// # Errors
/// [`ReportError`] where a clip can't be read again, or something can't be drawn or written.
pub fn draw_pictures(drawing: &Drawing<'_>) -> Result<Pictures, ReportError> {
    let (folder, report) = (drawing.folder, &drawing.pipeline.report);
    let stills = folder.join("stills");
    std::fs::create_dir_all(&stills).at(&stills)?;
    let subject = Subject::of(drawing);
    let draw = |overlay: &Overlay| -> Result<ViewPictures, ReportError> {
        let view = draw_view(drawing, &subject, overlay, None)?;
        for (event, picture) in &view.stills {
            let path = stills.join(still_name(overlay.role, *event));
            let bytes = jpeg::encode(picture, report.still_quality)?;
            write_by_rename(&path, &bytes)?;
        }
        Ok(view)
    };
    let views = drawing
        .overlays
        .par_iter()
        .map(draw)
        .collect::<Result<_, _>>()?;
    heads::write(folder, drawing.overlays, drawing.swing, report)?;
    Ok(Pictures {
        views,
        scrub_s: subject.scrub_s,
    })
}

/// Writes `report.html`.
///
/// # Errors
/// Those of [`draw_pictures`].
pub fn write_page(
    drawing: &Drawing<'_>,
    references: &References,
    pictures: &Pictures,
    films: Films,
) -> Result<(), ReportError> {
    let html = page::report_page(&page::PageInput {
        swing: drawing.swing,
        curves: drawing.curves,
        references,
        views: &pictures.views,
        scrub_s: &pictures.scrub_s,
        films,
        config: &drawing.pipeline.report,
    })?;
    Ok(write_by_rename(
        &drawing.folder.join("report.html"),
        html.as_bytes(),
    )?)
}

/// Draws and encodes the annotated videos, the views beside each other, and writes the list of them.
///
/// # Errors
/// Those of [`draw_pictures`], and what the encoder says.
pub fn write_films(drawing: &Drawing<'_>, pictures: &mut Pictures) -> Result<(), ReportError> {
    let subject = Subject::of(drawing);
    let films: Vec<ViewPictures> = drawing
        .overlays
        .par_iter()
        .map(|overlay| draw_view(drawing, &subject, overlay, Some(drawing.folder)))
        .collect::<Result<_, _>>()?;
    for (view, film) in pictures.views.iter_mut().zip(films) {
        view.videos = film.videos;
        view.starts_s = film.starts_s;
        view.size = film.size;
    }
    film_list::write(drawing.folder, &pictures.views)
}

/// Writes annotated stills and videos only.
///
/// # Errors
/// Those of [`draw_pictures`] and [`write_films`].
pub fn write_mark(drawing: &Drawing<'_>) -> Result<(), ReportError> {
    let mut pictures = draw_pictures(drawing)?;
    write_films(drawing, &mut pictures)
}

impl<'a> Subject<'a> {
    fn of(drawing: &Drawing<'a>) -> Self {
        let config = &drawing.pipeline.report;
        let events = page::event_times(drawing.swing);
        let span = span_of(drawing.overlays);
        Self {
            swing: drawing.swing,
            curves: drawing.curves,
            scrub_s: scrub_moments(&events, span, config.scrub_frames),
            events,
            config,
        }
    }
}

/// Draws a view, its videos where a folder for them is given. Of its clip only what is wanted is
/// decoded, where the clip's clock allows that.
fn draw_view(
    drawing: &Drawing<'_>,
    subject: &Subject<'_>,
    overlay: &Overlay,
    folder: Option<&Path>,
) -> Result<ViewPictures, ReportError> {
    let clip = &drawing.pipeline.clip;
    let (progress, cancel) = (drawing.progress, drawing.cancel);
    match FrameTimes::read(&overlay.file)? {
        Some(times) => {
            let numbers = film::wanted(folder, overlay, subject);
            let frames = ChosenFrames::open(&overlay.file, clip, times, numbers)?;
            film::draw(folder, overlay, frames, subject, progress, cancel)
        }
        None => {
            let frames = FrameReader::open(&overlay.file, clip)?;
            film::draw(folder, overlay, frames, subject, progress, cancel)
        }
    }
}

/// First and last moment that any view covers, seconds.
fn span_of(overlays: &[Overlay]) -> (f64, f64) {
    let frames = overlays.iter().flat_map(|o| &o.frames);
    bounds(frames.map(|f| f.time_s)).unwrap_or_default()
}
