//! Swings in a long clip: the landmark network on some frames of each second, and the same finding of
//! swings as a measurement's.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::clip::Strike;
use crate::config::{BatchConfig, Pipeline};
use crate::find::{Phases, find_take_in};
use crate::pose::{ModelFiles, PoseError, scan};
use crate::progress::Cancel;

/// A swing found in a long clip, seconds of playback.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoundSwing {
    /// When the hands passed their address place again, about.
    pub impact_s: f64,
    /// What is read of the clip to measure it.
    pub from_s: f64,
    pub to_s: f64,
}

pub(super) fn find_swings(
    path: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    strikes: &[Strike],
    time_scale: f64,
    cancel: &Cancel,
) -> Result<Vec<FoundSwing>, PoseError> {
    let every_s = time_scale / pipeline.batch.scan_fps;
    let seen = scan(path, files, pipeline, every_s, cancel)?;
    let mut find = pipeline.find.clone();
    find.least_probability = pipeline.batch.scan_least_probability;
    let take = find_take_in(&seen, strikes, None, &find);
    tracing::debug!(?take, "a quick look");
    let end_s = seen.last().map_or(0.0, |o| o.time_s);
    Ok(windows(&take.swings, end_s, &pipeline.batch))
}

/// A window of the clip round each swing, none of them over its neighbour.
fn windows(swings: &[Phases], end_s: f64, config: &BatchConfig) -> Vec<FoundSwing> {
    let begins = |s: &Phases| s.begins_s().min(s.top.time_s);
    let between = |k: usize| Some(0.5 * (swings.get(k)?.end_s + begins(swings.get(k + 1)?)));
    swings
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let floor = i.checked_sub(1).and_then(between).unwrap_or(0.0);
            let ceiling = between(i).unwrap_or(end_s);
            let back_s = s.top.time_s - begins(s);
            let through_s = (s.end_s - s.impact.time_s).max(s.down_s().unwrap_or(0.0));
            FoundSwing {
                impact_s: s.impact.time_s,
                from_s: (begins(s) - config.before_backswings * back_s).max(floor),
                to_s: (s.end_s + config.after_follow_throughs * through_s).min(ceiling),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A swing whose impact is at `at`, `slow` times as long as a usual one.
    fn swing(at: f64, slow: f64) -> Phases {
        Phases::made([-1.1, -0.27, 0.0].map(|after| at + slow * after))
    }

    #[test]
    fn each_swing_gets_a_window_of_its_own_and_what_surrounds_it() {
        let config = Pipeline::default().batch;
        let all = [swing(5.0, 1.0), swing(8.0, 1.0), swing(40.0, 4.0)];
        let found = windows(&all, 60.0, &config);
        assert_eq!(found.len(), 3);
        for (f, s) in found.iter().zip(&all) {
            assert!(f.from_s < s.still_from_s && f.to_s > s.end_s, "{f:?}");
        }
        assert!(found[0].to_s <= found[1].from_s);
        // What surrounds a slow swing is slow too.
        assert!(found[2].impact_s - found[2].from_s > 3.0 * (found[0].impact_s - found[0].from_s));
    }

    #[test]
    fn windows_stay_in_the_clip() {
        let config = Pipeline::default().batch;
        let found = windows(&[swing(1.2, 1.0)], 1.6, &config);
        assert_eq!((found[0].from_s, found[0].to_s), (0.0, 1.6));
    }
}
