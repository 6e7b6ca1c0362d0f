//! One pass over a view's frames: stills at the events, pictures for the scrubber, and the
//! annotated video. Memory does not grow with the clip's length.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use ffmpeg_next::format::Pixel;
use image::RgbImage;

use super::ReportError;
use super::encode::VideoWriter;
use super::faces::Faces;
use super::picture::{
    Canvas, Readings, Timeline, draw_body, draw_caption, draw_plan, draw_readings, draw_timeline,
};
use super::scale::{Scaler, fit};
use super::words;
use crate::body::{Overlay, OverlayFrame};
use crate::clip::Frame;
use crate::config::ReportConfig;
use crate::progress::{Cancel, Progress};
use crate::result::{Curves, Event, Measure, Role, SwingResult};

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
    let mut hand: Option<Hand> = None;
    let mut done = 0;
    for frame in frames {
        if cancel.requested() {
            return Err(ReportError::Stopped);
        }
        let mut frame = frame?;
        let Some(drawn) = overlay_at(&overlay.frames, &frame) else {
            continue;
        };
        if drawn.time_s < plan.from_s - 1e-6 {
            continue;
        }
        if drawn.time_s > plan.to_s + 1e-6 {
            break;
        }
        if let Some(faces) = &faces {
            faces.hide(&mut frame.image, drawn.time_s);
        }
        let hand = match &mut hand {
            Some(hand) => hand,
            None => hand.insert(Hand::new(
                folder,
                overlay.role,
                &frame.image,
                &plan,
                config,
            )?),
        };
        hand.draw(&frame.image, &drawn, scene, &plan, &mut out)?;
        done += 1;
        progress.advance(&stage, done);
    }
    if let Some(hand) = hand {
        out.size = (hand.canvas.width(), hand.canvas.height());
        out.videos = hand.finish()?;
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

/// Which moments of a view are drawn, and which frames are wanted for what.
struct Plan {
    from_s: f64,
    to_s: f64,
    fps: f64,
    count: usize,
    events: HashMap<usize, Vec<Event>>,
    scrub: HashMap<usize, Vec<usize>>,
    timeline: Timeline,
}

impl Plan {
    fn new(overlay: &Overlay, scene: &Scene) -> Self {
        let margin = scene.config.video_margin_s;
        let first = overlay.frames.first().map_or(0.0, |f| f.time_s);
        let last = overlay.frames.last().map_or(0.0, |f| f.time_s);
        let from_s = scene
            .events
            .get(&Event::Address)
            .map_or(first, |t| (t - margin).max(first));
        let to_s = scene
            .events
            .get(&Event::Finish)
            .map_or(last, |t| (t + margin).min(last));
        let inside: Vec<&OverlayFrame> = overlay
            .frames
            .iter()
            .filter(|f| f.time_s >= from_s && f.time_s <= to_s)
            .collect();
        let (a, b) = (inside.first(), inside.last());
        let count = a.zip(b).map_or(0, |(a, b)| b.index - a.index + 1);
        let fps = count.saturating_sub(1) as f64 / (to_s - from_s).max(1e-3);
        // A moment that the view doesn't cover gets no picture rather than a wrong one. While
        // nothing moves, only every few frames were read: there a neighbour shows the same.
        let nearest = |t: f64| {
            overlay
                .frames
                .iter()
                .min_by(|a, b| (a.time_s - t).abs().total_cmp(&(b.time_s - t).abs()))
                .filter(|f| (f.time_s - t).abs() <= STILL_S)
                .map(|f| f.index)
        };
        let mut events: HashMap<usize, Vec<Event>> = HashMap::new();
        for (event, t) in scene.events {
            if let Some(i) = nearest(*t) {
                events.entry(i).or_default().push(*event);
            }
        }
        let mut scrub: HashMap<usize, Vec<usize>> = HashMap::new();
        for (k, t) in scene.scrub_s.iter().enumerate() {
            if let Some(i) = nearest(*t) {
                scrub.entry(i).or_default().push(k);
            }
        }
        Self {
            from_s,
            to_s,
            fps,
            count,
            events,
            scrub,
            timeline: Timeline {
                from_s,
                to_s,
                events: scene
                    .events
                    .iter()
                    .map(|(e, t)| (*t, words::event(*e)))
                    .collect(),
            },
        }
    }
}

/// The canvases, scalers and files of one view.
struct Hand {
    canvas: Canvas,
    small: Canvas,
    to_canvas: Scaler,
    to_small: Scaler,
    writers: Vec<Writer>,
    config: ReportConfig,
}

struct Writer {
    video: VideoWriter,
    names: Vec<String>,
    /// Least time between frames, seconds; 0 keeps them all.
    least_s: f64,
    last_s: f64,
}

impl Hand {
    fn new(
        folder: &Path,
        role: Role,
        image: &RgbImage,
        plan: &Plan,
        config: &ReportConfig,
    ) -> Result<Self, ReportError> {
        let (w, h) = image.dimensions();
        let large = fit(w, h, config.video_long_side_px);
        let small = fit(w, h, config.scrub_long_side_px);
        let true_name = format!("{}.mp4", role.key());
        let slow_name = format!("{}_slow.mp4", role.key());
        let slow = config.slow_motion_factor;
        let open = |names: &[(&String, u32)], fps: f64, least_s: f64| {
            let files: Vec<_> = names.iter().map(|(n, k)| (folder.join(n), *k)).collect();
            VideoWriter::new(&files, large, fps, config).map(|video| Writer {
                video,
                names: names.iter().map(|(n, _)| (*n).clone()).collect(),
                least_s,
                last_s: f64::NEG_INFINITY,
            })
        };
        // One encoding serves both files, unless true speed would be too fast to play.
        let writers = if plan.fps <= config.video_max_fps * 1.1 {
            vec![open(&[(&true_name, 1), (&slow_name, slow)], plan.fps, 0.0)?]
        } else {
            let least_s = 0.9 / config.video_max_fps;
            vec![
                open(&[(&true_name, 1)], config.video_max_fps, least_s)?,
                open(&[(&slow_name, slow)], plan.fps, 0.0)?,
            ]
        };
        let scaler = |to: (u32, u32)| {
            Scaler::new((Pixel::RGB24, w, h), (Pixel::RGBA, to.0, to.1)).map_err(ReportError::Scale)
        };
        Ok(Self {
            canvas: Canvas::new(large.0, large.1)?,
            small: Canvas::new(small.0, small.1)?,
            to_canvas: scaler(large)?,
            to_small: scaler(small)?,
            writers,
            config: config.clone(),
        })
    }

    fn draw(
        &mut self,
        image: &RgbImage,
        frame: &OverlayFrame,
        scene: &Scene,
        plan: &Plan,
        out: &mut ViewPictures,
    ) -> Result<(), ReportError> {
        let scale = |canvas: &Canvas| f64::from(canvas.height()) / f64::from(image.height().max(1));
        self.to_canvas
            .onto(image, &mut self.canvas)
            .map_err(ReportError::Scale)?;
        let s = scale(&self.canvas);
        draw_body(&mut self.canvas, frame, s, &self.config);
        if let Some(events) = plan.events.get(&frame.index) {
            for event in events {
                out.stills.insert(*event, self.canvas.to_rgb());
            }
        }
        let event = plan
            .events
            .get(&frame.index)
            .and_then(|e| e.first().copied());
        let readings = readings(scene.swing, scene.curves, event, frame.time_s);
        draw_readings(&mut self.canvas, &readings);
        draw_plan(&mut self.canvas, &readings, scene.swing.handedness);
        draw_timeline(&mut self.canvas, &plan.timeline, frame.time_s);
        let hold_s = self.config.caption_hold_s;
        if let Some((t, name)) = caption(&plan.timeline.events, frame.time_s, plan.fps, hold_s) {
            draw_caption(&mut self.canvas, &format!("{name}  {t:.2} s"));
        }
        let video_s = frame.time_s - plan.from_s;
        for writer in &mut self.writers {
            if video_s - writer.last_s >= writer.least_s {
                writer.video.add(&self.canvas, video_s)?;
                writer.last_s = video_s;
            }
        }
        if let Some(wanted) = plan.scrub.get(&frame.index) {
            self.to_small
                .onto(image, &mut self.small)
                .map_err(ReportError::Scale)?;
            let s = scale(&self.small);
            draw_body(&mut self.small, frame, s, &self.config);
            let picture = self.small.to_rgb();
            for k in wanted {
                out.scrub.push((*k, picture.clone()));
            }
        }
        Ok(())
    }

    fn finish(self) -> Result<Vec<String>, ReportError> {
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

/// The turns at an event exactly as the result gives them, so that a page never shows two numbers
/// for one thing; at other times those of the curves.
pub fn readings(
    swing: &SwingResult,
    curves: &Curves,
    event: Option<Event>,
    time_s: f64,
) -> Readings {
    match event.and_then(|e| swing.at.get(&e)) {
        Some(at) => {
            let get = |m: Measure| at.get(&m).copied().unwrap_or_default();
            Readings {
                pelvis: get(Measure::PelvisTurnFromAddress),
                thorax: get(Measure::ThoraxTurnFromAddress),
                separation: get(Measure::Separation),
            }
        }
        None => readings_at(curves, time_s),
    }
}

/// The running turns nearest to `time_s`; empty where no curve point is near.
fn readings_at(curves: &Curves, time_s: f64) -> Readings {
    let i = curves.time_s.partition_point(|t| *t < time_s);
    let nearest = [i.checked_sub(1), Some(i)]
        .into_iter()
        .flatten()
        .filter(|i| *i < curves.time_s.len())
        .min_by(|a, b| {
            let d = |i: usize| (curves.time_s[i] - time_s).abs();
            d(*a).total_cmp(&d(*b))
        })
        .filter(|i| (curves.time_s[*i] - time_s).abs() < 0.1);
    let get = |m: Measure| {
        nearest
            .and_then(|i| curves.series.get(&m)?.get(i).copied())
            .unwrap_or_default()
    };
    Readings {
        pelvis: get(Measure::PelvisTurnFromAddress),
        thorax: get(Measure::ThoraxTurnFromAddress),
        separation: get(Measure::Separation),
    }
}

/// Moments for the scrubber: half of them in the downswing, where most happens, and every event.
pub fn scrub_moments(events: &BTreeMap<Event, f64>, span: (f64, f64), count: usize) -> Vec<f64> {
    let get = |e| events.get(&e).copied();
    let from = get(Event::Address).map_or(span.0, |t| (t - 0.1).max(span.0));
    let to = get(Event::Finish).map_or(span.1, |t| (t + 0.1).min(span.1));
    let spread = |a: f64, b: f64, n: usize| {
        (0..n).map(move |i| a + (b - a) * i as f64 / n.saturating_sub(1).max(1) as f64)
    };
    let mut all: Vec<f64> = match (get(Event::Top), get(Event::Impact)) {
        (Some(top), Some(impact)) if impact > top => spread(from, to, count / 2)
            .chain(spread(top - 0.05, impact + 0.05, count - count / 2))
            .collect(),
        _ => spread(from, to, count).collect(),
    };
    all.extend(events.values());
    all.retain(|t| t.is_finite() && *t >= span.0 && *t <= span.1);
    all.sort_by(f64::total_cmp);
    // An event keeps its own moment; a neighbour closer than a frame is dropped for it.
    let mut kept: Vec<f64> = Vec::new();
    for t in all {
        let is_event = events.values().any(|e| *e == t);
        match kept.last() {
            Some(last) if t - last < 0.012 => {
                if is_event {
                    kept.pop();
                    kept.push(t);
                }
            }
            _ => kept.push(t),
        }
    }
    kept
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
            points_px: vec![[index as f64, 0.0]; points],
            face_px: Vec::new(),
        };
        let frames = [at(0, 0.0, 25), at(6, 0.1, 25), at(60, 1.0, 25)];
        let shown = |index: usize, t: f64| {
            let image = RgbImage::new(1, 1);
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
        assert_eq!((d.index, d.points_px[0][0]), (4, 6.0));
        assert!((d.time_s - 1.0 - 4.0 / 60.0).abs() < 1e-9);
        assert!(shown(30, 0.5).expect("in a gap").points_px.is_empty());
        assert_eq!(shown(61, 1.1), None);
    }

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

    #[test]
    fn the_scrubber_stops_at_every_event_and_grows() {
        let events: BTreeMap<Event, f64> = Event::ALL
            .into_iter()
            .zip([0.4, 1.25, 1.52, 2.15])
            .collect();
        let moments = scrub_moments(&events, (0.0, 2.5), 40);
        assert!(moments.windows(2).all(|w| w[0] < w[1]));
        for t in events.values() {
            assert!(moments.contains(t), "{t}");
        }
        let down = moments.iter().filter(|t| **t >= 1.2 && **t <= 1.57).count();
        assert!(down >= moments.len() / 3, "{down} of {}", moments.len());
    }
}
