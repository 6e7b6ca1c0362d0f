//! What draws: one view's canvases, its stills and the files of its videos.

use std::path::Path;

use ffmpeg_next::format::Pixel;
use image::RgbImage;

use super::readings::readings;
use super::schedule::Schedule;
use super::{Subject, ViewPictures};
use crate::body::OverlayFrame;
use crate::config::ReportConfig;
use crate::report::ReportError;
use crate::report::encode::VideoWriter;
use crate::report::names::film_names;
use crate::report::picture::{
    Canvas, draw_body, draw_caption, draw_plan, draw_readings, draw_timeline,
};
use crate::report::scale::{Scaler, fit};
use crate::terms::Role;

/// The canvases, scalers and files of one view.
pub(super) struct Recorder {
    large: Surface,
    small: Surface,
    writers: Vec<Writer>,
    config: ReportConfig,
}

/// What frames of one size are drawn on.
struct Surface {
    scaler: Scaler,
    canvas: Canvas,
}

impl Surface {
    fn new(image: &RgbImage, to: (u32, u32)) -> Result<Self, ReportError> {
        let from = (Pixel::RGB24, image.width(), image.height());
        let to = (Pixel::RGBA, to.0, to.1);
        Ok(Self {
            scaler: Scaler::new(from, to).map_err(ReportError::Scale)?,
            canvas: Canvas::new(to.1, to.2)?,
        })
    }

    /// The picture with the body over it.
    fn fill(
        &mut self,
        image: &RgbImage,
        frame: &OverlayFrame,
        config: &ReportConfig,
    ) -> Result<&mut Canvas, ReportError> {
        let onto = self.scaler.onto(image, &mut self.canvas);
        onto.map_err(ReportError::Scale)?;
        let scale = f64::from(self.canvas.height()) / f64::from(image.height().max(1));
        draw_body(&mut self.canvas, frame, scale, config);
        Ok(&mut self.canvas)
    }
}

struct Writer {
    video: VideoWriter,
    names: Vec<String>,
    /// Least time between frames, seconds; 0 keeps them all.
    least_s: f64,
    last_s: f64,
}

impl Recorder {
    /// Without a folder only pictures are drawn.
    pub(super) fn new(
        folder: Option<&Path>,
        role: Role,
        image: &RgbImage,
        schedule: &Schedule,
        config: &ReportConfig,
    ) -> Result<Self, ReportError> {
        let (w, h) = image.dimensions();
        let large = fit(w, h, config.video_long_side_px);
        let small = fit(w, h, config.scrub_long_side_px);
        let writers = match folder {
            Some(folder) => Self::writers(folder, role, large, schedule, config)?,
            None => Vec::new(),
        };
        Ok(Self {
            large: Surface::new(image, large)?,
            small: Surface::new(image, small)?,
            writers,
            config: config.clone(),
        })
    }

    fn writers(
        folder: &Path,
        role: Role,
        size: (u32, u32),
        schedule: &Schedule,
        config: &ReportConfig,
    ) -> Result<Vec<Writer>, ReportError> {
        let [true_name, slow_name] = film_names(role);
        let slow = config.slow_motion_factor;
        let open = |names: &[(&String, u32)], fps: f64, least_s: f64| {
            let files: Vec<_> = names.iter().map(|(n, k)| (folder.join(n), *k)).collect();
            VideoWriter::new(&files, size, fps, config).map(|video| Writer {
                video,
                names: names.iter().map(|(n, _)| (*n).clone()).collect(),
                least_s,
                last_s: f64::NEG_INFINITY,
            })
        };
        // One encoding serves both files, unless true speed would be too fast to play.
        Ok(if schedule.fps <= config.video_max_fps * 1.1 {
            let both = [(&true_name, 1), (&slow_name, slow)];
            vec![open(&both, schedule.fps, 0.0)?]
        } else {
            let least_s = 0.9 / config.video_max_fps;
            vec![
                open(&[(&true_name, 1)], config.video_max_fps, least_s)?,
                open(&[(&slow_name, slow)], schedule.fps, 0.0)?,
            ]
        })
    }

    /// Size of what is drawn, pixels.
    pub(super) fn size(&self) -> (u32, u32) {
        (self.large.canvas.width(), self.large.canvas.height())
    }

    pub(super) fn draw(
        &mut self,
        image: &RgbImage,
        frame: &OverlayFrame,
        subject: &Subject,
        schedule: &Schedule,
        out: &mut ViewPictures,
    ) -> Result<(), ReportError> {
        if self.writers.is_empty() {
            return self.picture(image, frame, schedule, out);
        }
        let canvas = self.large.fill(image, frame, &self.config)?;
        let event = schedule
            .events
            .get(&frame.index)
            .and_then(|e| e.first().copied());
        let readings = readings(subject.swing, subject.curves, event, frame.time_s);
        draw_readings(canvas, &readings);
        draw_plan(canvas, &readings, subject.swing.handedness);
        draw_timeline(canvas, &schedule.timeline, frame.time_s);
        let hold_s = self.config.caption_hold_s;
        if let Some((t, name)) = caption(
            &schedule.timeline.events,
            frame.time_s,
            schedule.fps,
            hold_s,
        ) {
            // While the clock is in doubt, a time would claim more than is known.
            let told = if subject.swing.real_time.known {
                format!("{name}  {t:.2} s")
            } else {
                name.to_owned()
            };
            draw_caption(canvas, &told);
        }
        let video_s = frame.time_s - schedule.from_s;
        for writer in &mut self.writers {
            if video_s - writer.last_s >= writer.least_s {
                writer.video.add(canvas, video_s)?;
                writer.last_s = video_s;
            }
        }
        Ok(())
    }

    /// Draws a frame as the stills and the scrubber's pictures that it is.
    fn picture(
        &mut self,
        image: &RgbImage,
        frame: &OverlayFrame,
        schedule: &Schedule,
        out: &mut ViewPictures,
    ) -> Result<(), ReportError> {
        if let Some(events) = schedule.events.get(&frame.index) {
            let canvas = self.large.fill(image, frame, &self.config)?;
            for event in events {
                out.stills.insert(*event, canvas.to_rgb());
            }
        }
        if let Some(wanted) = schedule.scrub.get(&frame.index) {
            let picture = self.small.fill(image, frame, &self.config)?.to_rgb();
            for k in wanted {
                out.scrub.push((*k, picture.clone()));
            }
        }
        Ok(())
    }

    pub(super) fn finish(self) -> Result<Vec<String>, ReportError> {
        let mut names = Vec::new();
        for writer in self.writers {
            writer.video.finish()?;
            names.extend(writer.names);
        }
        Ok(names)
    }
}

/// The event to name at `now`: from its own frame on for a while, but never past half the way to
/// the next event.
fn caption(
    events: &[(f64, &'static str)],
    now: f64,
    fps: f64,
    hold_s: f64,
) -> Option<(f64, &'static str)> {
    events.iter().enumerate().find_map(|(i, (t, name))| {
        let next = events.get(i + 1).map_or(f64::INFINITY, |e| e.0);
        let end = (t + hold_s).min(f64::midpoint(*t, next));
        (now >= t - 0.5 / fps.max(1.0) && now < end).then_some((*t, *name))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_caption_never_reaches_into_the_next_part_of_the_swing() {
        let events = [(1.0, "Top"), (1.2, "Impact")];
        let at = |t: f64| caption(&events, t, 60.0, 0.25).map(|c| c.1);
        assert_eq!(at(0.9), None);
        assert_eq!(at(0.995), Some("Top"));
        assert_eq!(at(1.09), Some("Top"));
        assert_eq!(at(1.11), None);
        assert_eq!(at(1.2), Some("Impact"));
        assert_eq!(at(1.46), None);
    }
}
