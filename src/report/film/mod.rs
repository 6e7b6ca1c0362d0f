//! What is drawn from a view's frames: first stills at the events and pictures for the scrubber, from
//! a few frames; last the annotated videos. Memory does not grow with the clip's length.

mod readings;
mod recorder;
mod schedule;

use std::collections::BTreeMap;
use std::path::Path;

use image::RgbImage;
use nalgebra::Matrix3;

pub use self::readings::readings;
use self::recorder::Recorder;
use self::schedule::Schedule;
pub use self::schedule::scrub_moments;
use super::ReportError;
use super::faces::Faces;
use crate::body::{Overlay, OverlayFrame};
use crate::clip::{ClipError, Frame};
use crate::config::ReportConfig;
use crate::progress::{Cancel, Progress};
use crate::result::{Curves, SwingResult};
use crate::terms::{Event, Role};

/// What is drawn of a swing, the same for every view.
pub struct Subject<'a> {
    pub swing: &'a SwingResult,
    pub curves: &'a Curves,
    /// When those that were found are, seconds on the result's clock.
    pub events: BTreeMap<Event, f64>,
    /// Moments that the scrubber shows, seconds on the result's clock, growing.
    pub scrub_s: Vec<f64>,
    pub config: &'a ReportConfig,
}

/// The pictures that a page needs from one view.
#[derive(Default)]
pub struct ViewPictures {
    pub role: Option<Role>,
    pub size: (u32, u32),
    pub stills: BTreeMap<Event, RgbImage>,
    /// One for each scrub moment that the view covers: its index and the picture.
    pub scrub: Vec<(usize, RgbImage)>,
    /// File names of the videos written, true speed first; empty until they are.
    pub videos: Vec<String>,
    /// Where the videos begin, seconds on the result's clock.
    pub starts_s: f64,
}

/// Numbers in the clip of the frames that are drawn: for the videos that go into a folder all from the
/// first to the last that they show, without one those that are stills or in the scrubber.
pub fn wanted(folder: Option<&Path>, overlay: &Overlay, subject: &Subject) -> Vec<usize> {
    let schedule = Schedule::new(overlay, subject);
    schedule.wanted(folder.is_some()).into_iter().collect()
}

/// Draws what is wanted of a view from `frames`, those that are [`wanted`]. Into `folder` the videos go,
/// `<role>.mp4` and `<role>_slow.mp4`: their names and where they begin are told, and no picture.
/// Without a folder a page's pictures are drawn.
pub fn draw(
    folder: Option<&Path>,
    overlay: &Overlay,
    frames: impl Iterator<Item = Result<Frame, ClipError>>,
    subject: &Subject,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<ViewPictures, ReportError> {
    let what = folder.map_or("drawing stills", |_| "drawing");
    let stage = &format!("{}: {what}", overlay.role.words());
    let config = subject.config;
    let schedule = Schedule::new(overlay, subject);
    let faces = config
        .blur_face
        .then(|| Faces::new(&overlay.frames, config));
    let wanted = schedule.wanted(folder.is_some());
    progress.begin(stage, Some(wanted.len() as u64));
    let mut out = ViewPictures {
        role: Some(overlay.role),
        starts_s: schedule.from_s,
        ..ViewPictures::default()
    };
    let mut recorder: Option<Recorder> = None;
    let mut done = 0;
    for frame in frames {
        if cancel.requested() {
            return Err(ReportError::Stopped);
        }
        let frame = frame?;
        let Some(drawn) = overlay_at(&overlay.frames, &frame) else {
            continue;
        };
        if drawn.time_s < schedule.from_s - 1e-6 {
            continue;
        }
        if drawn.time_s > schedule.to_s + 1e-6 {
            break;
        }
        if folder.is_none() && !wanted.contains(&drawn.index) {
            continue;
        }
        let mut image = frame.image.shown();
        if let Some(faces) = &faces {
            faces.hide(&mut image, drawn.time_s);
        }
        let recorder = match &mut recorder {
            Some(recorder) => recorder,
            None => recorder.insert(Recorder::new(
                folder,
                overlay.role,
                &image,
                &schedule,
                config,
            )?),
        };
        recorder.draw(&image, &drawn, subject, &schedule, &mut out)?;
        done += 1;
        progress.advance(stage, done);
    }
    if let Some(recorder) = recorder {
        out.size = recorder.size();
        out.videos = recorder.finish()?;
    }
    Ok(out)
}

/// Real seconds over which a golfer whose picture does not change counts as unmoved.
const STILL_S: f64 = 0.12;

/// What to draw over a frame. Not every frame was read: one between two close ones is drawn between
/// them. Outside of what was read nothing is drawn.
fn overlay_at(frames: &[OverlayFrame], frame: &Frame) -> Option<OverlayFrame> {
    let i = frames.partition_point(|f| f.index < frame.index);
    let next = frames.get(i)?;
    if next.index == frame.index {
        return Some(next.clone());
    }
    let before = frames.get(i.checked_sub(1)?)?;
    let share = (frame.time_s - before.clip_time_s) / (next.clip_time_s - before.clip_time_s);
    if !share.is_finite() {
        return None;
    }
    let mut drawn = between(before, next, share);
    drawn.index = frame.index;
    drawn.clip_time_s = frame.time_s;
    if next.time_s - before.time_s > 2.0 * STILL_S {
        drawn.segments = [None, None];
        drawn.points_px.clear();
    }
    Some(drawn)
}

/// A drawing `share` of the way from one to another; what only one of them has is the nearer one's.
fn between(a: &OverlayFrame, b: &OverlayFrame, share: f64) -> OverlayFrame {
    let near = if share < 0.5 { a } else { b };
    let mix = |a: f64, b: f64| a + share * (b - a);
    let place = |a: [f64; 2], b: [f64; 2]| [mix(a[0], b[0]), mix(a[1], b[1])];
    let mut drawn = near.clone();
    drawn.time_s = mix(a.time_s, b.time_s);
    if a.points_px.len() == b.points_px.len() {
        let both = a.points_px.iter().zip(&b.points_px);
        drawn.points_px = both.map(|(a, b)| Some(place((*a)?, (*b)?))).collect();
    }
    if a.face_px.len() == b.face_px.len() {
        let both = a.face_px.iter().zip(&b.face_px);
        drawn.face_px = both.map(|(a, b)| place(*a, *b)).collect();
    }
    for (out, (a, b)) in drawn
        .segments
        .iter_mut()
        .zip(a.segments.iter().zip(&b.segments))
    {
        let (Some(out), Some(a), Some(b)) = (out, a, b) else {
            continue;
        };
        out.centre_px = place(a.centre_px, b.centre_px);
        out.px_per_m = mix(a.px_per_m, b.px_per_m);
        out.depth_m = mix(a.depth_m, b.depth_m);
        let sum = a.camera_from_segment * (1.0 - share) + b.camera_from_segment * share;
        if let Some(r) = closest_orthogonal(&sum) {
            out.camera_from_segment = r;
        }
    }
    drawn
}

/// The rotation, or mirrored rotation, nearest to a matrix.
fn closest_orthogonal(m: &Matrix3<f64>) -> Option<Matrix3<f64>> {
    let svd = m.svd(true, true);
    let near = svd.u? * svd.v_t?;
    near.iter().all(|v| v.is_finite()).then_some(near)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_that_was_not_read_is_drawn_between_its_neighbours_and_never_across_a_gap() {
        let at = |index: usize, t: f64, points: usize| OverlayFrame {
            index,
            clip_time_s: t,
            time_s: t + 1.0,
            segments: [None, None],
            points_px: vec![Some([index as f64, 0.0]); points],
            face_px: Vec::new(),
        };
        let frames = [at(0, 0.0, 25), at(6, 0.1, 25), at(60, 1.0, 25)];
        let shown = |index: usize, t: f64| {
            let image = RgbImage::new(1, 1).into();
            overlay_at(
                &frames,
                &Frame {
                    index,
                    time_s: t,
                    image,
                },
            )
        };
        let d = shown(4, 4.0 / 60.0).expect("between two close ones");
        assert_eq!(d.index, 4);
        // 4/60 s of the 0.1 s from one to the other.
        assert!((d.points_px[0].expect("drawn")[0] - 4.0).abs() < 1e-9);
        assert!((d.time_s - 1.0 - 4.0 / 60.0).abs() < 1e-9);
        assert!(shown(30, 0.5).expect("in a gap").points_px.is_empty());
        assert_eq!(shown(61, 1.1), None);
    }
}
