//! How long a swing takes and which segment opens first.

use super::angles::Body;
use super::events::Events;
use super::speed::{Peak, peak_opening};
use crate::config::SwingConfig;

/// A number with its standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sure {
    /// The number.
    pub value: f64,
    /// Its standard deviation.
    pub sigma: f64,
}

/// The durations of a swing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tempo {
    /// Takeaway to top, seconds.
    pub back_s: Sure,
    /// Top to impact, seconds.
    pub down_s: Sure,
    /// The first over the second.
    pub ratio: Sure,
}

/// `None` where a moment was not seen or they are out of order.
pub fn tempo(events: &Events) -> Option<Tempo> {
    let (a, t, (i, _)) = (events.address?, events.top?, events.impact?);
    let (back, down) = (t.time_s - a.time_s, i.time_s - t.time_s);
    if back <= 0.0 || down <= 0.0 {
        return None;
    }
    let (sb, sd) = (a.sigma_s.hypot(t.sigma_s), t.sigma_s.hypot(i.sigma_s));
    let ratio = back / down;
    let sure = |value, sigma| Sure { value, sigma };
    Some(Tempo {
        back_s: sure(back, sb),
        down_s: sure(down, sd),
        ratio: sure(ratio, ratio * (sb / back).hypot(sd / down)),
    })
}

/// The fastest opening of both segments round the downswing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Openings {
    /// Of the hips.
    pub pelvis: Peak,
    /// Of the rib cage.
    pub thorax: Peak,
    /// Time of the hips' peak less the rib cage's, seconds.
    pub pelvis_later_s: Sure,
}

/// `None` where top or impact was not seen, or either segment has a gap there.
pub fn openings(body: &Body, events: &Events, config: &SwingConfig) -> Option<Openings> {
    let (t, (i, _)) = (events.top?, events.impact?);
    let down_s = i.time_s - t.time_s;
    let from = t.time_s - config.opening_before_top * down_s;
    let to = i.time_s + config.opening_after_impact * down_s;
    let (pelvis, thorax) = (
        peak_opening(&body.pelvis, from, to)?,
        peak_opening(&body.thorax, from, to)?,
    );
    Some(Openings {
        pelvis,
        thorax,
        pelvis_later_s: Sure {
            value: pelvis.at.time_s - thorax.at.time_s,
            sigma: pelvis.at.sigma_s.hypot(thorax.at.sigma_s),
        },
    })
}

/// Index of the largest of `values` (missing ones passed over) between top and impact, from a little
/// before the top, as a separation may peak when the pelvis has already turned back.
pub fn largest_in_downswing(
    times_s: &[f64],
    values: impl Iterator<Item = Option<f64>>,
    events: &Events,
    config: &SwingConfig,
) -> Option<usize> {
    let (top, (impact, _)) = (events.top?, events.impact?);
    let span = top.time_s - config.separation_before_top_s..=impact.time_s;
    times_s
        .iter()
        .zip(values)
        .enumerate()
        .filter_map(|(i, (t, v))| Some((i, v.filter(|_| span.contains(t))?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(i, _)| i)
}
