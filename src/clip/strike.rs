//! Short loud sounds that may be club on ball.

use super::info::{Sound, Strike};
use crate::config::ClipConfig;
use crate::math::stats::median;

/// Length of the frames that loudness is taken over, seconds: a strike rises within a millisecond.
const FRAME_S: f64 = 0.002;
/// Sounds nearer to each other than this are one, seconds.
const APART_S: f64 = 0.08;
/// Most strikes that are reported.
const MOST: usize = 8;

/// Candidate strikes, most prominent first.
///
/// Loudness of the sound's change from sample to sample (which mutes wind and hum, both low) in
/// frames of 2 ms; a strike is a peak that stands out from the median and rises within two frames.
pub fn find_strikes(sound: &Sound, config: &ClipConfig) -> Vec<Strike> {
    let step = (FRAME_S * sound.rate_hz).round() as usize;
    if step < 2 || sound.samples.len() < step * 20 {
        return Vec::new();
    }
    let after = sound.samples.iter().skip(1);
    let change: Vec<f32> = after.zip(&sound.samples).map(|(b, a)| b - a).collect();
    let energy: Vec<f64> = change
        .chunks(step)
        .map(|c| c.iter().map(|v| f64::from(*v).powi(2)).sum::<f64>() / c.len() as f64)
        .collect();
    let Some(background) = median(&energy) else {
        return Vec::new();
    };
    // Digital silence has no level: compare with the loudest 60 dB down instead.
    let loudest = energy.iter().copied().fold(0.0, f64::max);
    let floor = background.max(loudest * 1e-6).max(1e-14);
    let db = |e: f64| 10.0 * (e / floor).max(1e-12).log10();
    // Nothing comes after the last frame.
    let padded: Vec<f64> = energy.iter().copied().chain([0.0]).collect();
    let mut peaks: Vec<(usize, f64)> = padded
        .array_windows()
        .enumerate()
        .filter(|(_, [before, last, now, later])| {
            now >= later && now >= last && *now > 8.0 * before
        })
        .map(|(i, [_, _, now, _])| (i + 2, db(*now)))
        .filter(|(_, d)| *d >= config.strike_min_db)
        .collect();
    peaks.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut strikes: Vec<Strike> = Vec::new();
    for (i, prominence_db) in peaks {
        let onset = onset_sample(&change, i * step, step);
        let time_s = sound.start_s + onset as f64 / sound.rate_hz;
        if strikes.iter().all(|s| (s.time_s - time_s).abs() > APART_S) {
            strikes.push(Strike {
                time_s,
                sigma_s: 0.0005,
                prominence_db,
            });
        }
        if strikes.len() == MOST {
            break;
        }
    }
    strikes
}

/// First sample of the rise to a peak in the frame that starts at `at`: where the change first
/// exceeds a fifth of its largest value near there.
fn onset_sample(change: &[f32], at: usize, step: usize) -> usize {
    let from = at.saturating_sub(2 * step);
    let to = (at + step).min(change.len());
    let near = change.get(from..to).unwrap_or_default();
    let largest = near.iter().fold(0f32, |m, v| m.max(v.abs()));
    near.iter()
        .position(|v| v.abs() > 0.2 * largest)
        .map_or(at, |k| from + k)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Pipeline;
    use rand::{RngExt, SeedableRng};

    fn noise(level: f32) -> Vec<f32> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        (0..96_000)
            .map(|_| level * (rng.random::<f32>() - 0.5))
            .collect()
    }

    fn strike_at(samples: &mut [f32], at: usize, gain: f32) {
        for k in 0..900 {
            let t = k as f32 / 48_000.0;
            samples[at + k] +=
                gain * (-t / 0.0025).exp() * (std::f32::consts::TAU * 3200.0 * t).sin();
        }
    }

    fn found(samples: Vec<f32>, start_s: f64) -> Vec<Strike> {
        let sound = Sound {
            rate_hz: 48_000.0,
            samples,
            start_s,
        };
        find_strikes(&sound, &Pipeline::default().clip)
    }

    #[test]
    fn a_strike_in_noise_is_found_to_the_millisecond() {
        let mut samples = noise(0.02);
        strike_at(&mut samples, 40_000, 0.7);
        let strikes = found(samples, 0.1);
        let due = 0.1 + 40_000.0 / 48_000.0;
        assert!((strikes[0].time_s - due).abs() < 0.001, "{strikes:?}");
    }

    #[test]
    fn wind_does_not_hide_it_and_silence_has_none() {
        let mut samples: Vec<f32> = noise(0.01);
        for (i, s) in samples.iter_mut().enumerate() {
            *s += 0.5 * (i as f32 / 48_000.0 * std::f32::consts::TAU * 60.0).sin();
        }
        strike_at(&mut samples, 60_000, 0.4);
        let strikes = found(samples, 0.0);
        assert!((strikes[0].time_s - 1.25).abs() < 0.001, "{strikes:?}");
        assert!(found(vec![0.0; 96_000], 0.0).is_empty());
        assert!(found(noise(0.5), 0.0).is_empty());
    }
}
