//! The smoother of segment rotations against SciPy's zero-lag Butterworth filter and Winter's
//! residual analysis. tests/reference/smoothing_reference.py says why the two filters are one.

use nalgebra::{Matrix3, Rotation3, Vector3};
use quarterturn::body::{Motion, TurnReading, smooth};
use quarterturn::config::Pipeline;
use serde_json::Value;

use crate::reference::{number, numbers, smoothing};

fn acceleration_deg_s2() -> f64 {
    Pipeline::default().body.acceleration_deg_s2
}

/// Smooths a turn, degrees, as a rotation about the vertical.
fn smoothed(case: &Value, turn_deg: &[f64]) -> Vec<f64> {
    let sigma = number(&case["sigma_deg"]).to_radians();
    let readings: Vec<TurnReading> = numbers(&case["time_s"])
        .into_iter()
        .zip(turn_deg)
        .map(|(time_s, turn)| TurnReading {
            time_s,
            view: 0,
            world_from_segment: Rotation3::from_axis_angle(&Vector3::z_axis(), -turn.to_radians()),
            covariance: Matrix3::from_diagonal_element(sigma * sigma),
        })
        .collect();
    let motion = Motion {
        acceleration: acceleration_deg_s2().to_radians(),
        max_gap_s: 0.15,
        // No outliers here: the filters are compared as linear ones.
        student_nu: 1e9,
    };
    let (stretches, _) = smooth(&readings, &motion);
    assert_eq!(stretches.len(), 1);
    let mut turn: Vec<f64> = stretches[0]
        .iter()
        .map(|s| {
            let m = s.world_from_segment.matrix();
            -m[(1, 0)].atan2(m[(0, 0)])
        })
        .collect();
    quarterturn::math::rotation::unwrap(&mut turn);
    turn.into_iter().map(f64::to_degrees).collect()
}

fn rms(a: &[f64], b: &[f64]) -> f64 {
    let squares: f64 = a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum();
    (squares / a.len() as f64).sqrt()
}

#[test]
fn the_process_noise_is_the_one_of_the_stored_case() {
    let case = smoothing();
    assert_eq!(number(&case["acceleration_deg_s2"]), acceleration_deg_s2());
    assert_eq!(number(&case["held_s"]), 1.0 / 60.0);
}

#[test]
fn the_smoothed_curve_is_that_of_a_zero_lag_butterworth_filter() {
    let case = smoothing();
    let ours = smoothed(&case, &numbers(&case["noisy_deg"]));
    let theirs = numbers(&case["butterworth_deg"]);
    let clean = numbers(&case["clean_deg"]);
    // The ends are treated in different ways: a quarter of a second is left out.
    let inside = 15..ours.len() - 15;
    let apart = ours[inside.clone()]
        .iter()
        .zip(&theirs[inside.clone()])
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f64::max);
    println!(
        "apart at most {apart:.3}, rms of ours {:.3}, of theirs {:.3}",
        rms(&ours[inside.clone()], &clean[inside.clone()]),
        rms(&theirs[inside.clone()], &clean[inside.clone()])
    );
    assert!(apart < 0.3, "{apart}");
    let (a, b) = (
        rms(&ours[inside.clone()], &clean[inside.clone()]),
        rms(&theirs[inside.clone()], &clean[inside]),
    );
    assert!(a < 1.02 * b, "ours {a}, theirs {b}");
}

/// Shift, samples, at which two curves' rates correlate best, by a parabola through the peak.
fn lag(a: &[f64], b: &[f64]) -> f64 {
    let rate = |v: &[f64]| v.windows(2).map(|w| w[1] - w[0]).collect::<Vec<f64>>();
    let (a, b) = (rate(a), rate(b));
    let at = |shift: i64| -> f64 {
        (10..a.len() as i64 - 10)
            .map(|i| a[(i + shift) as usize] * b[i as usize])
            .sum()
    };
    let best = (-8..=8)
        .max_by(|x, y| at(*x).total_cmp(&at(*y)))
        .expect("a shift");
    best as f64 + quarterturn::math::series::parabola_vertex(at(best - 1), at(best), at(best + 1))
}

#[test]
fn the_smoothed_curve_does_not_lag() {
    let case = smoothing();
    let clean = numbers(&case["clean_deg"]);
    let of_clean = lag(&smoothed(&case, &clean), &clean);
    // A twentieth of a frame at 60 frames a second is 0.8 ms.
    assert!(of_clean.abs() < 0.05, "{of_clean} samples");
    // Noise moves the peak of the correlation, and that of SciPy's filter by as much.
    let ours = lag(&smoothed(&case, &numbers(&case["noisy_deg"])), &clean);
    let theirs = lag(&numbers(&case["butterworth_deg"]), &clean);
    println!("lag, samples: clean {of_clean:.3}, noisy {ours:.3}, SciPy's {theirs:.3}");
    assert!((ours - theirs).abs() < 0.05, "{ours} {theirs}");
    // The measure itself can see a lag.
    let late: Vec<f64> = (0..clean.len())
        .map(|i| clean[i.saturating_sub(2)])
        .collect();
    assert!((lag(&late, &clean) - 2.0).abs() < 0.1);
}

/// Winter's cut-off balances noise and signal over the whole clip, still address and all; on the
/// same noisy curve it takes 2° off the top. The smoother's own must lie above it, take less than
/// half a degree, and still not let most of the noise through.
#[test]
fn the_cutoff_lies_above_winters_and_keeps_the_top() {
    let case = smoothing();
    let (ours_hz, winter_hz) = (
        number(&case["equivalent_cutoff_hz"]),
        number(&case["winter"]["cutoff_hz"]),
    );
    assert!(winter_hz < ours_hz && ours_hz < 2.0 * winter_hz);
    assert!(number(&case["top_loss_deg"]["winter"]) > 2.0);
    let clean = numbers(&case["clean_deg"]);
    let kept = smoothed(&case, &clean);
    let top = (0..clean.len())
        .max_by(|a, b| clean[*a].total_cmp(&clean[*b]))
        .expect("samples");
    let loss = clean[top] - kept[top];
    println!("ours {ours_hz:.2} Hz takes {loss:.2} off the top, Winter's {winter_hz:.2} Hz");
    assert!((0.0..0.5).contains(&loss), "{loss}");
    let ours = smoothed(&case, &numbers(&case["noisy_deg"]));
    assert!(rms(&ours, &clean) < 0.6 * number(&case["sigma_deg"]));
}
