//! A swing as one file to pass on: without names unless they are wanted, the head hidden where that
//! is wanted. Made from a result's folder; the clips are not needed.

use std::path::Path;

use image::RgbImage;

use super::faces::HeadTrack;
use super::film::{ViewPictures, scrub_moments};
use super::page::{PageInput, event_times, share_page};
use super::{
    Films, References, ReportError, film_frames, film_list, heads, read_still, still_name,
};
use crate::config::Pipeline;
use crate::progress::Cancel;
use crate::result::{StoredSwing, SwingResult, TypedIn};
use crate::terms::{Event, Role};

/// What is wanted of the file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wish {
    /// The player is named.
    pub named: bool,
    /// The head is made unrecognisable in every picture.
    pub head_hidden: bool,
}

/// Whether the head can be hidden in what stands in this folder.
pub fn can_hide(folder: &Path) -> bool {
    heads::read(folder).is_some()
}

/// The whole file. `words`: sentences about the swing.
///
/// # Errors
/// Where pictures can't be read or encoded, and where the head is to be hidden and nobody knows where
/// it is.
pub fn share(
    measured: &StoredSwing,
    wish: Wish,
    words: &[String],
    references: &References,
    pipeline: &Pipeline,
    cancel: &Cancel,
) -> Result<String, ReportError> {
    let swing = told(&measured.swing, wish);
    let tracks = heads::read(&measured.folder);
    if wish.head_hidden && tracks.is_none() {
        return Err(ReportError::NoHeads(measured.folder.clone()));
    }
    let track = |role: Role| -> Result<Option<&HeadTrack>, ReportError> {
        if !wish.head_hidden {
            return Ok(None);
        }
        let found = tracks.as_ref().and_then(|t| t.get(&role));
        // A view without a track would be shown as it is.
        found
            .map(Some)
            .ok_or_else(|| ReportError::NoHeads(measured.folder.clone()))
    };
    let events = event_times(&swing);
    let span = match measured.curves.time_s.as_slice() {
        [first, .., last] => (*first, *last),
        _ => (0.0, 0.0),
    };
    let scrub_s = scrub_moments(&events, span, pipeline.report.scrub_frames);
    let cells = pipeline.report.face_blur_cells;
    let films = film_list::read(&measured.folder);
    let mut views = Vec::new();
    for view in &swing.views {
        let hide = |picture: &mut RgbImage, time_s: f64| -> Result<(), ReportError> {
            if let Some(track) = track(view.role)? {
                track
                    .for_size(picture.dimensions(), cells)
                    .hide(picture, time_s);
            }
            Ok(())
        };
        let mut out = ViewPictures {
            role: Some(view.role),
            ..ViewPictures::default()
        };
        for (event, time_s) in &events {
            if let Some(mut still) = still(&measured.folder, view.role, *event) {
                hide(&mut still, *time_s)?;
                out.stills.insert(*event, still);
            }
        }
        let film = films.iter().find(|f| f.role == view.role);
        // A video that was moved away is no reason to give nothing.
        if let Some(film) = film.filter(|f| measured.folder.join(&f.file).is_file()) {
            let wanted: Vec<(usize, f64)> = scrub_s
                .iter()
                .enumerate()
                .map(|(i, t)| (i, t - film.starts_s))
                .collect();
            let path = measured.folder.join(&film.file);
            out.scrub = film_frames::at(&path, &wanted, pipeline, cancel)?;
            for (i, picture) in &mut out.scrub {
                if let Some(time_s) = scrub_s.get(*i) {
                    hide(picture, *time_s)?;
                }
            }
        }
        views.push(out);
    }
    let mut config = pipeline.report.clone();
    config.blur_face |= wish.head_hidden;
    let input = PageInput {
        swing: &swing,
        curves: &measured.curves,
        references,
        views: &views,
        scrub_s: &scrub_s,
        films: Films::There,
        config: &config,
    };
    share_page(&input, &title(&swing), words)
}

/// What the page is called: the player where that is wanted, else the day.
fn title(swing: &SwingResult) -> String {
    match (&swing.typed_in.player, swing.lesson()) {
        (Some(player), Some(day)) => format!("{player}, {day}"),
        (Some(player), None) => player.clone(),
        (None, Some(day)) => format!("A swing of {day}"),
        (None, None) => "A swing".to_owned(),
    }
}

/// The result with what may be passed on: never the coach's notes, no name where none is wanted, nor
/// names of files, which often hold one.
fn told(swing: &SwingResult, wish: Wish) -> SwingResult {
    let mut told = swing.clone();
    told.typed_in = TypedIn {
        player: swing.typed_in.player.clone().filter(|_| wish.named),
        notes: None,
        ..swing.typed_in.clone()
    };
    told.name = "swing".into();
    told.calibration = None;
    for warning in &mut told.warnings {
        for view in &swing.views {
            let clip = format!("the {} clip", view.role.words());
            warning.text = warning.text.replace(&view.file, &clip);
        }
        let player = swing.typed_in.player();
        if !wish.named && !player.is_empty() {
            warning.text = warning.text.replace(player, "the player");
        }
    }
    for view in &mut told.views {
        view.file = String::new();
    }
    told
}

fn still(folder: &Path, role: Role, event: Event) -> Option<RgbImage> {
    read_still(&folder.join("stills").join(still_name(role, event)))
}
