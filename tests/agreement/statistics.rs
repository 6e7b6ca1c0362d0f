//! Statistics against published figures and reference packages (tests/reference).

use quarterturn::agreement::TurnPair;
use quarterturn::agreement::align::by_turn_speed;
use quarterturn::agreement::interpolate::Samples;
use quarterturn::agreement::stats::{clustered, cmc, coverage, icc_a1, simple};
use serde_json::Value;

pub fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/agreement.json")).expect("JSON")
}

pub fn numbers(v: &Value) -> Vec<f64> {
    v.as_array()
        .expect("array")
        .iter()
        .map(|v| v.as_f64().expect("number"))
        .collect()
}

fn close(a: f64, b: &Value, tolerance: f64) {
    let b = b.as_f64().expect("number");
    assert!((a - b).abs() <= tolerance, "{a} is not {b}");
}

/// Bland and Altman 1986, Lancet i:307–310: peak flow of 17 subjects by a large and a mini meter,
/// first measurements. The data are typed from memory; that every published figure comes out is
/// what confirms them. The paper takes limits of two standard deviations.
#[test]
fn peak_flow_example_of_1986_to_the_published_digits() {
    const LARGE: [f64; 17] = [
        494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178.,
        423., 427.,
    ];
    const MINI: [f64; 17] = [
        512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259.,
        350., 451.,
    ];
    let d: Vec<f64> = LARGE.iter().zip(&MINI).map(|(a, b)| a - b).collect();
    let l = simple(&d, 2.0).expect("limits");
    let digit = |v: f64| (v * 10.0).round() / 10.0;
    assert_eq!(digit(l.bias), -2.1);
    assert_eq!(digit(l.sd.expect("sd")), 38.8);
    // The paper computes on from rounded figures: −2.1 ∓ 2 × 38.8 = −79.7 and 75.5.
    let (bias, sd) = (digit(l.bias), digit(l.sd.expect("sd")));
    assert_eq!(digit(bias - 2.0 * sd), -79.7);
    assert_eq!(digit(bias + 2.0 * sd), 75.5);
    assert!((l.low.expect("low") + 79.7).abs() < 0.15);
    assert!((l.high.expect("high") - 75.5).abs() < 0.15);
    let i = l.bias_interval.expect("interval");
    // Likewise its intervals: −22.0 to 17.8, −114.3 to −45.1, 40.9 to 110.1.
    let near = |v: f64, published: f64| assert!((v - published).abs() < 0.35, "{v} {published}");
    near(i.low, -22.0);
    near(i.high, 17.8);
    let (a, b) = (l.low_interval.expect("low"), l.high_interval.expect("high"));
    near(a.low, -114.3);
    near(a.high, -45.1);
    near(b.low, 40.9);
    near(b.high, 110.1);
}

#[test]
fn limits_against_statsmodels() {
    let r = reference();
    let s = &r["simple"];
    let l = simple(&numbers(&s["d"]), 1.96).expect("limits");
    close(l.bias, &s["bias"], 1e-9);
    close(l.sd.expect("sd"), &s["sd"], 1e-9);
    let i = l.bias_interval.expect("interval");
    close(i.low, &s["bias_low"], 1e-6);
    close(i.high, &s["bias_high"], 1e-6);

    let c = &r["clustered"];
    let groups: Vec<Vec<f64>> = c["groups"]
        .as_array()
        .expect("groups")
        .iter()
        .map(numbers)
        .collect();
    let l = clustered(&groups).expect("limits");
    assert_eq!((l.n, l.clusters), (24, 6));
    close(l.bias, &c["bias"], 1e-9);
    close(l.sd.expect("sd"), &c["sd"], 1e-9);
    close(l.low.expect("low"), &c["low"], 1e-9);
    close(l.high.expect("high"), &c["high"], 1e-9);
    let i = l.bias_interval.expect("interval");
    close(i.low, &c["bias_low"], 1e-6);
    close(i.high, &c["bias_high"], 1e-6);
}

/// The intervals of clustered limits hold what they promise: simulated, 12 players × 3 swings.
#[test]
fn intervals_of_clustered_limits_hold_the_true_limits() {
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
    let (between, within) = (
        Normal::new(1.0, 2.0).expect("n"),
        Normal::new(0.0, 1.5).expect("n"),
    );
    let truth = 1.0 + 1.96 * (4.0_f64 + 2.25).sqrt();
    let mut inside = 0;
    for _ in 0..1000 {
        let groups: Vec<Vec<f64>> = (0..12)
            .map(|_| {
                let own = between.sample(&mut rng);
                (0..3).map(|_| own + within.sample(&mut rng)).collect()
            })
            .collect();
        let i = clustered(&groups)
            .expect("limits")
            .high_interval
            .expect("interval");
        inside += usize::from(i.low <= truth && truth <= i.high);
    }
    println!("clustered limits: {inside} of 1000 inside");
    assert!((925..=985).contains(&inside), "{inside}");
}

#[test]
fn icc_against_pingouin() {
    for case in reference()["icc"].as_array().expect("cases") {
        let pairs: Vec<(f64, f64)> = numbers(&case["a"])
            .into_iter()
            .zip(numbers(&case["b"]))
            .collect();
        let icc = icc_a1(&pairs).expect("icc");
        // pingouin rounds to its own digits where its options do.
        close(icc.value, &case["icc"], 6e-4);
        close(icc.low, &case["low"], 6e-3);
        close(icc.high, &case["high"], 6e-3);
    }
    assert!(icc_a1(&[(1.0, 1.0), (2.0, 2.0)]).is_none());
}

#[test]
fn coverage_interval_against_scipy() {
    for case in reference()["coverage"].as_array().expect("cases") {
        let (k, n) = (
            case["k"].as_u64().expect("k"),
            case["n"].as_u64().expect("n"),
        );
        let inside: Vec<bool> = (0..n).map(|i| i < k).collect();
        let i = coverage(&inside, true)
            .expect("some")
            .interval
            .expect("interval");
        close(i.low, &case["low"], 1e-6);
        close(i.high, &case["high"], 1e-6);
    }
    assert!(coverage(&[], true).is_none());
}

#[test]
fn cmc_is_one_for_equal_curves_falls_with_an_offset_and_is_none_for_nonsense() {
    let wave = |i: usize| 40.0 * (i as f64 * 0.1).sin();
    let with = |offset: f64| {
        cmc(&(0..100)
            .map(|i| (wave(i), wave(i) + offset))
            .collect::<Vec<_>>())
    };
    assert_eq!(with(0.0), Some(1.0));
    let (small, large) = (with(5.0).expect("small"), with(20.0).expect("large"));
    assert!(1.0 > small && small > large, "{small} {large}");
    // By hand for three instants, offset 2 on 0, 10, 20: within 6 / 3, total 406 / 5.
    let by_hand = (1.0_f64 - (6.0 / 3.0) / (406.0 / 5.0)).sqrt();
    let got = cmc(&[(0.0, 2.0), (10.0, 12.0), (20.0, 22.0)]).expect("defined");
    assert!((got - by_hand).abs() < 1e-12, "{got} {by_hand}");
    assert_eq!(cmc(&[(1.0, -1.0), (-1.0, 1.0), (1.0, -1.0)]), None);
}

#[test]
fn shift_against_scipy_correlate() {
    for case in reference()["shift"].as_array().expect("cases") {
        let all = |k: &str| numbers(&case[k]);
        let samples = |t: &str, v: &str| {
            let v: Vec<Option<f64>> = all(v).into_iter().map(Some).collect();
            Samples::new(&all(t), &v)
        };
        let pair = TurnPair {
            ours: samples("ours_t", "ours"),
            sensor: samples("sensor_t", "sensor"),
        };
        let s = by_turn_speed(&[pair], &[], None).expect("shift");
        println!(
            "ours {:.4}, scipy {}, made {}",
            s.s, case["scipy_shift"], case["made_shift"]
        );
        close(s.s, &case["scipy_shift"], 0.0025);
        close(s.s, &case["made_shift"], 0.005);
    }
}
