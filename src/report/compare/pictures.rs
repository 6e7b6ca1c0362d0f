//! Pictures of both swings at the same moments, counted in events: 0 is address, 1 the top,
//! 2 impact, 3 the finish.

use std::collections::BTreeMap;
use std::path::Path;

use image::RgbImage;
use maud::{Markup, html};
use serde_json::Value;

use crate::config::{Pipeline, ReportConfig};
use crate::progress::{Cancel, Progress};
use crate::report::film_list::{self, FilmEntry};
use crate::report::page::{event_times, scrub_json};
use crate::report::words::decimal;
use crate::report::{ReportError, film_frames};
use crate::result::SwingResult;
use crate::terms::{Event, Role};

/// Pictures of one view of one swing, one for each moment that it covers.
pub struct Film {
    /// Whose it is, among the swings that were given.
    pub index: usize,
    /// The view.
    pub role: Role,
    /// By the index of the moment.
    pub pictures: Vec<(usize, RgbImage)>,
}

/// Moments shown in each of the three parts of a swing.
const STEPS: usize = 10;

/// The moments in events, growing.
pub fn moments() -> Vec<f64> {
    (0..=3 * STEPS).map(|i| i as f64 / STEPS as f64).collect()
}

/// When a moment is in a swing, for people. While its clock is in doubt, it is a place in the film and
/// no time.
pub fn when(swing: &SwingResult, s: Option<f64>) -> String {
    let of_what = swing.real_time.of_playback();
    s.map_or("not found".to_owned(), |s| {
        format!("{} s{of_what}", decimal(s, 2))
    })
}

/// What the page's script moves through: a row of words for each of the [`moments`], and the films
/// under their names on the page.
///
/// # Errors
/// [`ReportError`] where a picture can't be encoded.
pub fn films_json(
    rows: &[Value],
    films: &[Film],
    name: impl Fn(&Film) -> String,
    config: &ReportConfig,
) -> Result<String, ReportError> {
    let named = films.iter().map(|f| (name(f), f.pictures.as_slice()));
    let named: Vec<_> = named.collect();
    scrub_json(rows, &named, config.page_picture_bytes, config)
}

/// Buttons that lead to the events among the [`moments`].
pub fn steps() -> Markup {
    html! {
        div.steps {
            @for (i, e) in Event::ALL.into_iter().enumerate() {
                button type="button" data-to=(i * STEPS) { (e.words()) }
            }
        }
    }
}

/// Seconds on a result's clock of a moment counted in events, where both its events were found.
pub fn seconds(times: &BTreeMap<Event, f64>, moment: f64) -> Option<f64> {
    let part = (moment.floor() as usize).min(2);
    let share = moment - part as f64;
    let a = *times.get(Event::ALL.get(part)?)?;
    if share == 0.0 {
        return Some(a);
    }
    let b = *times.get(Event::ALL.get(part + 1)?)?;
    Some(a + (b - a) * share)
}

/// The other way: seconds to events.
pub fn in_events(times: &BTreeMap<Event, f64>, s: f64) -> Option<f64> {
    (0..3).find_map(|part| {
        let a = *times.get(Event::ALL.get(part)?)?;
        let b = *times.get(Event::ALL.get(part + 1)?)?;
        (b > a && s >= a && s <= b).then(|| part as f64 + (s - a) / (b - a))
    })
}

/// Reads the annotated videos of the folders. A view that one of them lacks is still shown.
///
/// # Errors
/// [`ReportError`] where a video that is there can't be read.
pub fn films(
    swings: &[(&Path, &SwingResult)],
    pipeline: &Pipeline,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<Vec<Film>, ReportError> {
    let mut films = Vec::new();
    for (index, (folder, swing)) in swings.iter().enumerate() {
        let times = event_times(swing);
        for entry in film_list::read(folder) {
            let path = folder.join(&entry.file);
            // A video that was moved away is no reason to refuse the numbers.
            if !path.is_file() {
                continue;
            }
            progress.begin(&format!("{}: {}", swing.name, entry.role.words()), None);
            films.push(Film {
                index,
                role: entry.role,
                pictures: pick(&path, &entry, &times, pipeline, cancel)?,
            });
        }
    }
    Ok(films)
}

fn pick(
    path: &Path,
    entry: &FilmEntry,
    times: &BTreeMap<Event, f64>,
    pipeline: &Pipeline,
    cancel: &Cancel,
) -> Result<Vec<(usize, RgbImage)>, ReportError> {
    let wanted: Vec<(usize, f64)> = moments()
        .into_iter()
        .enumerate()
        .filter_map(|(i, m)| Some((i, seconds(times, m)? - entry.starts_s)))
        .collect();
    film_frames::at(path, &wanted, pipeline, cancel)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_map_to_seconds_and_back() {
        let times: BTreeMap<Event, f64> =
            Event::ALL.into_iter().zip([0.4, 1.2, 1.5, 2.1]).collect();
        for m in moments() {
            let s = seconds(&times, m).expect("covered");
            assert!(
                (in_events(&times, s).expect("covered") - m).abs() < 1e-9,
                "{m}"
            );
        }
        assert_eq!(in_events(&times, 3.0), None);
        let mut partly = times;
        partly.remove(&Event::Finish);
        assert_eq!(seconds(&partly, 2.5), None);
        assert_eq!(seconds(&partly, 2.0), Some(1.5));
    }
}
