//! Swings in a long clip: the landmark network on some frames of each second, and the moments when
//! the hands were as fast as only a swing makes them.

use std::path::Path;

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

use crate::config::{BatchConfig, Pipeline};
use crate::pose::{HandSample, ModelFiles, PoseError, scan_hands};
use crate::progress::Cancel;

/// A swing found in a long clip, seconds of playback.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoundSwing {
    /// When the hands were fastest.
    pub fastest_s: f64,
    pub from_s: f64,
    pub to_s: f64,
}

pub(super) fn find_swings(
    path: &Path,
    files: &ModelFiles,
    pipeline: &Pipeline,
    time_scale: f64,
    cancel: &Cancel,
) -> Result<Vec<FoundSwing>, PoseError> {
    let every_s = time_scale / pipeline.batch.scan_fps;
    let hands = scan_hands(path, files, pipeline, every_s, cancel)?;
    Ok(swings(&hands, time_scale, &pipeline.batch))
}

/// A stretch of fast hands.
struct Burst {
    fastest_s: f64,
    speed: f64,
    last_s: f64,
    /// In how many looks the hands were fast.
    looks: usize,
}

/// Peaks of the hands' speed, and a window of the clip round each. A swing towards or away from the
/// camera shows little of its speed in the picture: there, and only there, guessed depth is asked.
fn swings(hands: &[HandSample], time_scale: f64, config: &BatchConfig) -> Vec<FoundSwing> {
    let in_picture = |a: &HandSample, b: &HandSample| {
        (b.x_heights - a.x_heights).hypot(b.y_heights - a.y_heights)
    };
    let in_space = |a: &HandSample, b: &HandSample| {
        let (from, to) = (a.space_heights, b.space_heights);
        (Vector3::from(to) - Vector3::from(from)).norm()
    };
    let seen = |least: f64, moved: &dyn Fn(&HandSample, &HandSample) -> f64| {
        bursts(
            &speeds(hands, time_scale, config, least, moved),
            time_scale,
            config,
        )
    };
    let mut found = seen(config.min_hand_speed_per_s, &in_picture);
    let guessed = seen(config.min_hand_speed_in_space_per_s, &in_space);
    let apart =
        |a: &Burst, b: &Burst| (a.fastest_s - b.fastest_s).abs() / time_scale >= config.swing_gap_s;
    let lone: Vec<Burst> = guessed
        .into_iter()
        .filter(|g| found.iter().all(|f| apart(f, g)))
        .collect();
    found.extend(lone);
    found.sort_by(|a, b| a.fastest_s.total_cmp(&b.fastest_s));
    let peaks: Vec<f64> = found.iter().map(|b| b.fastest_s).collect();
    let end = hands.last().map_or(0.0, |h| h.time_s);
    peaks
        .iter()
        .enumerate()
        .map(|(i, fastest_s)| {
            let middle = |k: usize| Some(0.5 * (peaks.get(k)? + peaks.get(k + 1)?));
            let floor = i.checked_sub(1).and_then(middle).unwrap_or(0.0);
            let ceiling = middle(i).unwrap_or(end);
            FoundSwing {
                fastest_s: *fastest_s,
                from_s: (fastest_s - config.before_s * time_scale).max(floor),
                to_s: (fastest_s + config.after_s * time_scale).min(ceiling),
            }
        })
        .collect()
}

/// Speeds from look to look that are at least `least`, heights a second, with their times.
fn speeds(
    hands: &[HandSample],
    time_scale: f64,
    config: &BatchConfig,
    least: f64,
    moved: &dyn Fn(&HandSample, &HandSample) -> f64,
) -> Vec<(f64, f64)> {
    hands
        .array_windows()
        .filter_map(|[a, b]| {
            let real_s = (b.time_s - a.time_s) / time_scale;
            // Across a gap the hands may have been anywhere.
            (real_s > 0.0 && real_s <= 3.0 / config.scan_fps)
                .then(|| (0.5 * (a.time_s + b.time_s), moved(a, b) / real_s))
        })
        .filter(|(_, speed)| *speed >= least)
        .collect()
}

/// Stretches in which the hands stay fast.
fn bursts(speeds: &[(f64, f64)], time_scale: f64, config: &BatchConfig) -> Vec<Burst> {
    // A cut in the film or a misread frame makes hands jump for one look, and joins no two swings.
    let next_look_s = 1.5 * time_scale / config.scan_fps;
    let lasts = |(i, at): &(usize, &(f64, f64))| {
        let near = |j: usize| {
            speeds
                .get(j)
                .is_some_and(|n| (n.0 - at.0).abs() <= next_look_s)
        };
        near(i + 1) || i.checked_sub(1).is_some_and(near)
    };
    let mut bursts: Vec<Burst> = Vec::new();
    for (_, &(time_s, speed)) in speeds.iter().enumerate().filter(lasts) {
        match bursts.last_mut() {
            Some(b) if (time_s - b.last_s) / time_scale < config.swing_gap_s => {
                if speed > b.speed {
                    (b.fastest_s, b.speed) = (time_s, speed);
                }
                b.last_s = time_s;
                b.looks += 1;
            }
            _ => bursts.push(Burst {
                fastest_s: time_s,
                speed,
                last_s: time_s,
                looks: 1,
            }),
        }
    }
    // Two jumps on end are still no swing.
    let fewest = (config.min_fast_s * config.scan_fps).ceil() as usize;
    bursts.retain(|b| b.looks >= fewest);
    bursts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;

    fn config() -> BatchConfig {
        Pipeline::default().batch
    }

    /// Hands that rest, and swing through 1.2 heights in 0.3 s at each of the given times.
    fn hands(at: &[f64], length_s: f64) -> Vec<HandSample> {
        (0..(length_s * 20.0) as usize)
            .map(|i| {
                let t = i as f64 / 20.0;
                let x: f64 = at
                    .iter()
                    .map(|a| 1.2 * ((t - a) / 0.3 + 0.5).clamp(0.0, 1.0))
                    .sum();
                HandSample {
                    time_s: t,
                    x_heights: x,
                    y_heights: 0.0,
                    space_heights: [x, 0.0, 0.0],
                }
            })
            .collect()
    }

    #[test]
    fn each_swing_gets_a_window_of_its_own() {
        let found = swings(&hands(&[5.0, 9.0, 30.0], 40.0), 1.0, &config());
        assert_eq!(found.len(), 3, "{found:?}");
        for (f, at) in found.iter().zip([5.0, 9.0, 30.0]) {
            assert!((f.fastest_s - at).abs() < 0.2);
            assert!(f.from_s < f.fastest_s && f.fastest_s < f.to_s);
        }
        assert!(found[0].to_s <= found[1].from_s);
    }

    #[test]
    fn a_cut_in_the_film_is_no_swing() {
        let mut film = hands(&[5.0], 20.0);
        for h in film.iter_mut().filter(|h| h.time_s > 12.0) {
            h.x_heights -= 1.2;
            h.space_heights[0] -= 1.2;
        }
        let found = swings(&film, 1.0, &config());
        assert_eq!(found.len(), 1, "{found:?}");
    }

    #[test]
    fn a_cut_between_two_swings_does_not_join_them() {
        let mut film = hands(&[5.0, 7.6], 12.0);
        for h in film.iter_mut().filter(|h| h.time_s > 6.3) {
            h.x_heights -= 1.2;
            h.space_heights[0] -= 1.2;
        }
        let found = swings(&film, 1.0, &config());
        assert_eq!(found.len(), 2, "{found:?}");
    }

    #[test]
    fn a_swing_away_from_the_camera_is_found_by_its_depth_and_others_once() {
        // Of the first swing the picture shows a third, of the second all.
        let mut film = hands(&[5.0, 9.0], 14.0);
        for h in film.iter_mut() {
            let away = h.x_heights.min(1.2) * 2.0 / 3.0;
            h.x_heights -= away;
            h.space_heights = [h.x_heights, 0.0, away * 1.3];
        }
        let found = swings(&film, 1.0, &config());
        assert_eq!(found.len(), 2, "{found:?}");
        for (f, at) in found.iter().zip([5.0, 9.0]) {
            assert!((f.fastest_s - at).abs() < 0.2);
        }
    }

    #[test]
    fn slow_hands_are_no_swing() {
        let slow: Vec<HandSample> = (0..400)
            .map(|i| HandSample {
                time_s: f64::from(i) / 20.0,
                x_heights: f64::from(i) * 0.03,
                y_heights: 0.0,
                space_heights: [f64::from(i) * 0.03, 0.0, 0.0],
            })
            .collect();
        assert!(swings(&slow, 1.0, &config()).is_empty());
        // The same film stretched four times over is a swing's speed again.
        assert!(!swings(&slow, 4.0, &config()).is_empty());
    }
}
