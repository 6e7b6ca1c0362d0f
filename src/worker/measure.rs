//! One swing measured and its folder put in place, in this process.

use std::path::{Path, PathBuf};

use super::{Failure, Measurement, place};
use crate::measure::{Measured, OTHER_FOLDER, Options, measure_swing};
use crate::pose::ModelFiles;
use crate::progress::{Cancel, Progress};
use crate::report::References;
use crate::report::{Drawing, Films, Pictures, draw_pictures, write_films, write_page};
use crate::result::{judge, read_swing, write_result};

/// Measures a swing and writes its result into its folder, then stills and page, then the videos, and
/// the page again that links them: numbers stand before the page does, and both before the videos.
///
/// # Errors
/// How the program ends for it, and the sentence that tells why there is no result.
pub fn measure(
    job: &Measurement,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<Measured, Failure> {
    let options = Options {
        clips: job
            .clips
            .iter()
            .map(|c| (PathBuf::from(&c.path), c.role))
            .collect(),
        parts: job.clips.iter().map(|c| c.part).collect(),
        ..job.given.options.clone()
    };
    let pipeline = &options.pipeline;
    let out = Path::new(&job.out);
    let folder = out.join(&options.name);
    if folder.exists() && !job.replace {
        let text = format!(
            "{}: exists already. Give another --out or --name, or --replace to put the new result in its place.",
            folder.display()
        );
        return Err(Failure::usage(text));
    }
    let files = ModelFiles::find().map_err(Failure::again)?;
    place::check(out)?;
    let mut measured = measure_swing(&options, &files, progress, cancel)?;
    if let Some(calibration) = &job.given.calibration {
        let apply = |m: &mut Measured| {
            calibration.apply(&mut m.result, &mut m.curves);
            // Intervals were re-scaled.
            judge(&mut m.result, &mut m.curves, &pipeline.usable);
        };
        apply(&mut measured);
        measured.other.as_deref_mut().map(apply);
    }
    let numbers = |into: &Path, m: &Measured| {
        write_result(into, &m.result, &m.curves).map_err(Failure::again)
    };
    place::put(out, &folder, |part| {
        numbers(part, &measured)?;
        let Some(other) = &measured.other else {
            return Ok(());
        };
        let inside = part.join(OTHER_FOLDER);
        std::fs::create_dir(&inside).map_err(|e| place::failed(&inside, &e))?;
        numbers(&inside, other)
    })?;
    // From here on the numbers stand, whatever becomes of the pictures.
    let references = &job.given.references;
    let inside = folder.join(OTHER_FOLDER);
    let other = measured.other.as_deref().map(|m| (inside.as_path(), m));
    for (folder, m) in std::iter::once((folder.as_path(), &measured)).chain(other) {
        let all = Drawing::of(folder, m, pipeline, progress, cancel);
        show(out, references, all).map_err(|Failure { exit, refusal }| {
            let (text, folder) = (refusal.text, folder.display());
            Failure::new(exit, format!("{text} The numbers are in {folder}."))
        })?;
    }
    Ok(measured)
}

/// Draws a result that stands in the drawing's folder: stills and page, then the videos, and the page
/// again.
fn show(out: &Path, references: &References, all: Drawing<'_>) -> Result<(), Failure> {
    let folder = all.folder;
    let page = |part: &Path, pictures: &Pictures, films| {
        // What was typed into the result meanwhile belongs on its page.
        let swing = read_swing(&folder.join("swing.json"));
        let now = Drawing {
            folder: part,
            swing: swing.as_ref().unwrap_or(all.swing),
            ..all
        };
        write_page(&now, references, pictures, films)
    };
    let mut pictures = None;
    place::add(out, folder, |part| {
        let into = Drawing {
            folder: part,
            ..all
        };
        let drawn = draw_pictures(&into)?;
        page(part, &drawn, Films::ToCome)?;
        pictures = Some(drawn);
        Ok(())
    })?;
    if let Some(mut pictures) = pictures {
        all.progress.begin(NUMBERS_STAND, None);
        let filmed = place::add(out, folder, |part| {
            let into = Drawing {
                folder: part,
                ..all
            };
            Ok(write_films(&into, &mut pictures)?)
        });
        let films = match filmed {
            Ok(()) => Films::There,
            Err(_) => Films::Missing,
        };
        filmed.and(page(folder, &pictures, films).map_err(Failure::from))?;
    }
    Ok(())
}

/// What is told when a result's numbers and page stand and its videos are still to come.
pub const NUMBERS_STAND: &str = "numbers and page stand; videos";
