//! The pace of a swing: smoothing and gaps are set for usual swings on real time, and follow a swing that
//! plays slower or faster, whatever makes it so: a film's speed then moves no turn. Times in a result
//! never do.

use crate::config::{FindConfig, Pipeline};
use crate::find::Phases;

/// How many times longer than in a usual full swing the faster of back- and downswing takes.
pub fn pace(swings: &[Phases], config: &FindConfig) -> f64 {
    let of = |taken: Option<f64>, usual: f64| taken.map(|t| t / usual);
    let each = swings.iter().flat_map(|s| {
        [
            of(s.moving_back_s(), config.usual_backswing_s),
            of(s.down_s(), config.usual_downswing_s),
        ]
    });
    Some(each.flatten().fold(f64::INFINITY, f64::min))
        .filter(|p| p.is_finite())
        .map_or(1.0, |p| p / config.usual_pace)
}

/// The same for limits of what belongs together: 1 for anything near a full swing.
fn beyond(pace: f64, slack: f64) -> f64 {
    if pace > slack {
        pace / slack
    } else if pace < 1.0 / slack {
        pace * slack
    } else {
        1.0
    }
}

/// The pipeline for swings of this pace: what lasts grows with it.
pub fn paced(pipeline: &Pipeline, pace: f64) -> Pipeline {
    let mut p = pipeline.clone();
    let (pair, body) = (&mut p.pair, &mut p.body);
    // How far apart two views of one swing may be was learnt of full swings of any pace.
    for seconds in [
        &mut pair.rate_half_window_s,
        &mut pair.match_takeaway_s,
        &mut pair.match_top_s,
        &mut pair.sound_motion_tolerance_s,
        &mut pair.motion_offset_sigma_s,
    ] {
        *seconds *= beyond(pace, pipeline.find.pace_slack);
    }
    for seconds in [
        &mut p.camera.max_gap_s,
        &mut body.max_gap_s,
        &mut body.instant_s,
        &mut body.reading_s,
        &mut body.compare_before_s,
        &mut body.compare_after_s,
        &mut body.compare_every_s,
        &mut body.fade_s,
        &mut body.sides_half_s,
        &mut body.alike_s,
        &mut p.swing.limb_half_window_s,
    ] {
        *seconds *= pace;
    }
    // Held over a time that grows too: the variance of a speed after it goes with the cube.
    body.acceleration_deg_s2 /= pace.powf(1.5);
    p
}
