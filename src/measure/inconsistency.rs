//! Do two views show one swing? Asked once the cameras stand and the clocks agree: clips of two
//! swings that look alike pass every test before that.

use super::prepare::Prepared;
use crate::body::Belief;
use crate::camera::CameraFit;
use crate::config::PairConfig;
use crate::swing::Body;

/// How far the views are from showing one swing, as a sum of squares: how ill the cameras' common
/// fit sits, how far apart each view alone reads pelvis and thorax in every frame of the swing, in
/// standard deviations of its readings, and how far apart takeaway and top come when the strikes
/// lie on each other. `None` with one view, or where they share no frames.
pub fn view_inconsistency(
    prepared: &Prepared,
    fit: &CameraFit,
    body: &Body,
    config: &PairConfig,
) -> Option<f64> {
    let ([view, _], [a, b]) = (prepared.views.as_slice(), prepared.swings.as_slice()) else {
        return None;
    };
    let down_s = a.down_s().unwrap_or(0.0);
    let swing =
        a.begins_s() - config.match_before * down_s..=a.fast_s + config.match_after * down_s;
    let times: Vec<f64> = view
        .instants
        .iter()
        .map(|i| i.time_s)
        .filter(|t| swing.contains(t))
        .collect();
    let turns = body.beliefs.each_ref().map(|b| mean_square(b, &times));
    let later = |x: f64, y: f64| x - y - fit.offset_s;
    // A takeaway is badly seen where the hands are: alone, a moment may not part the views.
    let takeaway = a.takeaway.zip(b.takeaway);
    let moments = [
        takeaway.map_or(0.0, |(x, y)| later(x.time_s, y.time_s)) / config.match_takeaway_s,
        later(a.top.time_s, b.top.time_s) / config.match_top_s,
    ]
    .map(|c| (c * c).min(1.0));
    // Assumed cameras have no fit that could sit ill.
    let misfit = Some(fit.misfit / config.match_misfit).filter(|m| m.is_finite());
    let rest = misfit.map_or(0.0, |m| m * m) + moments.iter().sum::<f64>();
    Some(rest + (turns[0]? + turns[1]?) / 2.0)
}

/// Mean square of the views' difference in turn over the standard deviation that the network gives it.
fn mean_square(segment: &Belief, times: &[f64]) -> Option<f64> {
    let squares: Vec<f64> = times
        .iter()
        .filter_map(|t| Some(segment.inconsistency_by_network(0, *t)?.powi(2)))
        .filter(|s| s.is_finite())
        .collect();
    (!squares.is_empty()).then(|| squares.iter().sum::<f64>() / squares.len() as f64)
}
