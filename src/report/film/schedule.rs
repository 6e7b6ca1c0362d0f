//! Which moments of a swing are drawn: those of the video, of the stills and of the scrubber.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;

use super::{STILL_S, Subject};
use crate::body::{Overlay, OverlayFrame};
use crate::report::picture::Timeline;
use crate::terms::Event;

/// Which moments of a view are drawn, and which frames are wanted for what.
pub(super) struct Schedule {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    pub(super) fps: f64,
    /// Numbers of the video's frames.
    video: Range<usize>,
    pub(super) events: HashMap<usize, Vec<Event>>,
    pub(super) scrub: HashMap<usize, Vec<usize>>,
    pub(super) timeline: Timeline,
}

impl Schedule {
    pub(super) fn new(overlay: &Overlay, subject: &Subject) -> Self {
        let margin = subject.config.video_margin_s;
        let first = overlay.frames.first().map_or(0.0, |f| f.time_s);
        let last = overlay.frames.last().map_or(0.0, |f| f.time_s);
        let from_s = subject
            .events
            .get(&Event::Address)
            .map_or(first, |t| (t - margin).max(first));
        let to_s = subject
            .events
            .get(&Event::Finish)
            .map_or(last, |t| (t + margin).min(last));
        let inside: Vec<&OverlayFrame> = overlay
            .frames
            .iter()
            .filter(|f| f.time_s >= from_s && f.time_s <= to_s)
            .collect();
        let video = match inside.as_slice() {
            [] => 0..0,
            [a, .., b] => a.index..b.index + 1,
            [one] => one.index..one.index + 1,
        };
        let fps = video.len().saturating_sub(1) as f64 / (to_s - from_s).max(1e-3);
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
        for (event, t) in &subject.events {
            if let Some(i) = nearest(*t) {
                events.entry(i).or_default().push(*event);
            }
        }
        let mut scrub: HashMap<usize, Vec<usize>> = HashMap::new();
        for (k, t) in subject.scrub_s.iter().enumerate() {
            if let Some(i) = nearest(*t) {
                scrub.entry(i).or_default().push(k);
            }
        }
        Self {
            from_s,
            to_s,
            fps,
            video,
            events,
            scrub,
            timeline: Timeline {
                from_s,
                to_s,
                events: subject
                    .events
                    .iter()
                    .map(|(e, t)| (*t, e.words()))
                    .collect(),
            },
        }
    }

    /// Numbers of the frames that are drawn: those of the videos, or those that are stills or in the
    /// scrubber.
    pub(super) fn wanted(&self, videos: bool) -> BTreeSet<usize> {
        if videos {
            return self.video.clone().collect();
        }
        let pictures = self.events.keys().chain(self.scrub.keys());
        pictures.copied().collect()
    }
}

/// Real seconds that the scrubber shows before address and after the finish: enough to see that
/// the golfer stands.
const SCRUB_MARGIN_S: f64 = 0.1;
/// Real seconds before the top and after impact that belong to its finer half: three frames at 60 a
/// second, so that the turning point and the strike lie inside.
const DOWNSWING_MARGIN_S: f64 = 0.05;
/// Moments nearer to each other than this show one frame of a 60 fps clip, seconds.
const SAME_FRAME_S: f64 = 0.012;

/// Moments for the scrubber: half of them in the downswing, where most happens, and every event.
pub fn scrub_moments(events: &BTreeMap<Event, f64>, span: (f64, f64), count: usize) -> Vec<f64> {
    let get = |e| events.get(&e).copied();
    let from = get(Event::Address).map_or(span.0, |t| (t - SCRUB_MARGIN_S).max(span.0));
    let to = get(Event::Finish).map_or(span.1, |t| (t + SCRUB_MARGIN_S).min(span.1));
    let spread = |a: f64, b: f64, n: usize| {
        (0..n).map(move |i| a + (b - a) * i as f64 / n.saturating_sub(1).max(1) as f64)
    };
    let mut all: Vec<f64> = match (get(Event::Top), get(Event::Impact)) {
        (Some(top), Some(impact)) if impact > top => spread(from, to, count / 2)
            .chain(spread(
                top - DOWNSWING_MARGIN_S,
                impact + DOWNSWING_MARGIN_S,
                count - count / 2,
            ))
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
            Some(last) if t - last < SAME_FRAME_S => {
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
