//! The pace of a swing: smoothing, gaps and matching are set for full swings on real time, and follow
//! a swing that plays slower or faster, whatever makes it so. Times in a result never do.

use crate::config::{FindConfig, Pipeline};
use crate::find::Phases;

/// How many times longer than a full swing's the faster of back- and downswing takes; 1 for anything
/// near a full swing.
pub fn pace(swings: &[Phases], config: &FindConfig) -> f64 {
    let of = |taken: Option<f64>, usual: f64| taken.map(|t| t / usual);
    let slowest = swings
        .iter()
        .flat_map(|s| {
            [
                of(s.moving_back_s(), config.usual_backswing_s),
                of(s.down_s(), config.usual_downswing_s),
            ]
        })
        .flatten()
        .fold(f64::INFINITY, f64::min);
    let slack = config.pace_slack;
    if !slowest.is_finite() {
        1.0
    } else if slowest > slack {
        slowest / slack
    } else if slowest < 1.0 / slack {
        slowest * slack
    } else {
        1.0
    }
}

/// The pipeline for swings of this pace: what lasts grows with it.
pub fn paced(pipeline: &Pipeline, pace: f64) -> Pipeline {
    let mut p = pipeline.clone();
    let pair = &mut p.pair;
    for seconds in [
        &mut pair.rate_half_window_s,
        &mut pair.match_takeaway_s,
        &mut pair.match_top_s,
        &mut pair.sound_motion_tolerance_s,
        &mut pair.motion_offset_sigma_s,
        &mut p.camera.max_gap_s,
        &mut p.body.max_gap_s,
        &mut p.body.instant_s,
        &mut p.swing.limb_half_window_s,
    ] {
        *seconds *= pace;
    }
    // Held over a time that grows too: the variance of a speed after it goes with the cube.
    p.body.acceleration_deg_s2 /= pace.powf(1.5);
    p
}
