//! One pass over a view's frames: stills at the events, pictures for the scrubber, and the
//! annotated video. Memory does not grow with the clip's length.

mod plan;
mod readings;
mod recorder;

use std::collections::BTreeMap;
use std::path::Path;

use image::RgbImage;

use self::plan::Plan;
pub use self::plan::scrub_moments;
pub use self::readings::readings;
use self::recorder::Recorder;
use super::ReportError;
use super::faces::Faces;
use crate::body::{Overlay, OverlayFrame};
use crate::clip::Frame;
use crate::config::ReportConfig;
use crate::progress::{Cancel, Progress};
use crate::result::{Curves, SwingResult};
use crate::terms::{Event, Role};

/// What every view of a swing shares.
pub struct Scene<'a> {
    pub swing: &'a SwingResult,
    pub curves: &'a Curves,
    pub events: &'a BTreeMap<Event, f64>,
    /// Moments that the scrubber shows, seconds on the result's clock, growing.
    pub scrub_s: &'a [f64],
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
    /// File names of the videos written, true speed first.
    pub videos: Vec<String>,
    /// Where the videos begin, seconds on the result's clock.
    pub starts_s: f64,
}

/// Runs over `frames`; writes `<role>.mp4` and `<role>_slow.mp4` into `folder`.
pub fn film<E>(
    folder: &Path,
    overlay: &Overlay,
    frames: impl Iterator<Item = Result<Frame, E>>,
    scene: &Scene,
    progress: &dyn Progress,
    cancel: &Cancel,
) -> Result<ViewPictures, ReportError>
where
    ReportError: From<E>,
{
    let config = scene.config;
    let plan = Plan::new(overlay, scene);
    let faces = config
        .blur_face
        .then(|| Faces::new(&overlay.frames, config));
    let stage = format!("{}: drawing", overlay.role.words());
    progress.begin(&stage, Some(plan.count as u64));
    let mut out = ViewPictures {
        role: Some(overlay.role),
        starts_s: plan.from_s,
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
        if drawn.time_s < plan.from_s - 1e-6 {
            continue;
        }
        if drawn.time_s > plan.to_s + 1e-6 {
            break;
        }
        let mut image = frame.image.shown();
        if let Some(faces) = &faces {
            faces.hide(&mut image, drawn.time_s);
        }
        let recorder = match &mut recorder {
            Some(recorder) => recorder,
            None => recorder.insert(Recorder::new(folder, overlay.role, &image, &plan, config)?),
        };
        recorder.draw(&image, &drawn, scene, &plan, &mut out)?;
        done += 1;
        progress.advance(&stage, done);
    }
    if let Some(recorder) = recorder {
        out.size = (recorder.canvas.width(), recorder.canvas.height());
        out.videos = recorder.finish()?;
    }
    Ok(out)
}

/// Real seconds over which a golfer whose picture does not change counts as unmoved.
const STILL_S: f64 = 0.12;

/// What to draw over a frame. While nothing moves only every few frames were read: a frame between
/// two close ones takes the nearer one's drawing. Outside of what was read nothing is drawn.
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
    let near = if share < 0.5 { before } else { next };
    let mut drawn = near.clone();
    drawn.index = frame.index;
    drawn.clip_time_s = frame.time_s;
    drawn.time_s = before.time_s + share * (next.time_s - before.time_s);
    if next.time_s - before.time_s > 2.0 * STILL_S {
        drawn.segments = [None, None];
        drawn.points_px.clear();
    }
    Some(drawn)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_that_was_not_read_is_drawn_like_its_neighbour_and_never_across_a_gap() {
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
        assert_eq!((d.index, d.points_px[0]), (4, Some([6.0, 0.0])));
        assert!((d.time_s - 1.0 - 4.0 / 60.0).abs() < 1e-9);
        assert!(shown(30, 0.5).expect("in a gap").points_px.is_empty());
        assert_eq!(shown(61, 1.1), None);
    }
}
