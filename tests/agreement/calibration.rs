//! The bars of the synthetic sensor day, and the studio calibration.

use std::collections::BTreeMap;

use quarterturn::agreement::sensor::{Mapping, read_csv_bytes};
use quarterturn::agreement::{AgreementError, Calibration, Comparison, compare, learn};
use quarterturn::result::StoredSwing;
use quarterturn::terms::{Event, Measure, Role};

use crate::clocks::compare_one;
use crate::fixture::{Error, SAMPLES, Sensor, Truth, measured};

/// Swings of several made players: each has an error of his own.
fn day(players: usize, swings_each: usize, half_width: f64, sensor_bias: f64) -> Comparison {
    let mut all = Vec::new();
    let mut csv = String::new();
    let mut mapping = Mapping::default();
    for p in 0..players {
        for s in 0..swings_each {
            let mut truth = Truth::load(SAMPLES[(p + s) % 2]);
            truth.name = format!("p{p}-s{s}");
            let seed = (p * 100 + s) as u64;
            let error = Error {
                half_width,
                wander: 1.5,
                seed,
                bias: BTreeMap::new(),
            };
            let sensor = Sensor {
                thorax_bias: sensor_bias,
                seed: seed + 5000,
                ..Sensor::default()
            };
            let (swing, curves) = measured(&truth, &error);
            csv += &sensor.csv(&truth, &truth.name);
            mapping
                .players
                .insert(truth.name.clone(), format!("player {p}"));
            all.push(StoredSwing {
                folder: truth.name.into(),
                swing,
                curves,
            });
        }
    }
    let sensor = read_csv_bytes(csv.as_bytes(), &mapping, "day.csv".as_ref()).expect("CSV");
    compare(&all, &sensor, &mapping)
}

#[test]
fn bias_of_the_sensor_is_recovered_within_the_reported_interval() {
    let c = day(2, 2, 4.0, 4.0);
    let curve = c.measures[&Measure::ThoraxTurn]
        .curve
        .as_ref()
        .expect("curve");
    let i = curve.limits.bias_interval.expect("interval");
    println!(
        "thorax bias {:+.2} ({:+.2} to {:+.2})",
        curve.limits.bias, i.low, i.high
    );
    assert!(i.low <= -4.0 && -4.0 <= i.high, "{i:?}");
    assert!((curve.limits.bias + 4.0).abs() < 1.5);
    // The zero is told apart: it takes the constant, and little is left.
    let zero = c.measures[&Measure::ThoraxTurn]
        .zero
        .as_ref()
        .expect("zero");
    assert!((zero.at_address.bias + 4.0).abs() < 2.0, "{zero:?}");
    assert!(zero.bias_after_deg.expect("left").abs() < 2.0);
    // Turn from address is free of it.
    let free = c.measures[&Measure::ThoraxTurnFromAddress]
        .curve
        .as_ref()
        .expect("curve");
    assert!(free.limits.bias.abs() < 2.0);
}

#[test]
fn without_errors_of_its_own_the_bias_is_recovered_to_what_the_noise_allows() {
    for name in SAMPLES {
        let truth = Truth::load(name);
        let c = compare_one(&truth, &Error::default(), &Sensor::default());
        for (m, made) in [(Measure::ThoraxTurn, -4.0), (Measure::PelvisTurn, 0.0)] {
            let l = &c.measures[&m].curve.as_ref().expect("curve").limits;
            // Three standard errors of the mean of n readings with 1.5° of noise.
            let allowed = 3.0 * 1.5 / (l.n as f64).sqrt();
            assert!((l.bias - made).abs() < allowed, "{name} {m}: {}", l.bias);
        }
    }
}

#[test]
fn one_swing_gives_no_limits_and_says_so() {
    let truth = Truth::load("first-lesson");
    let c = compare_one(&truth, &Error::default(), &Sensor::default());
    for a in c.measures.values() {
        for l in
            a.at.values()
                .map(|e| &e.limits)
                .chain(a.curve.iter().map(|c| &c.limits))
        {
            assert_eq!((l.low, l.high, l.sd), (None, None, None));
            assert_eq!(l.bias_interval, None);
        }
    }
    let json = quarterturn::agreement::headline_json(&c);
    let m = &json["measures"]["thorax_turn"];
    assert_eq!(m["n"], 1);
    assert!(m["limits_low"].is_null() && m["bias_low"].is_null());
    let words = quarterturn::agreement::written_words(&c).join(" ");
    assert!(words.contains("One swing"), "{words}");
}

#[test]
fn learning_brings_coverage_to_90_to_99_where_it_was_below() {
    let c = day(6, 2, 4.0, 4.0);
    let learned = learn(&c, "bay", &["day.csv".into()]).expect("learnt");
    let view = &learned.calibration.views[0];
    let rule = view.measures[&Measure::ThoraxTurn];
    println!("{rule:?} {:?} {:?}", view.evidence, learned.left_out);
    assert!(rule.coverage_before < 0.90, "{rule:?}");
    assert!((0.90..=0.99).contains(&rule.coverage_after), "{rule:?}");
    assert!((rule.bias_deg + 4.0).abs() < 1.5, "{rule:?}");
    for (m, r) in &view.measures {
        if r.coverage_before < 0.90 {
            assert!((0.90..=0.99).contains(&r.coverage_after), "{m}: {r:?}");
        }
    }

    // A new player, never learnt from, after applying it.
    let (mut before, mut after, mut n) = (0, 0, 0);
    for seed in 900..910 {
        let truth = Truth::load(SAMPLES[seed as usize % 2]);
        let made = measured(
            &truth,
            &Error {
                wander: 1.5,
                seed,
                ..Error::default()
            },
        );
        let (mut swing, mut curves) = made.clone();
        learned.calibration.apply(&mut swing, &mut curves);
        assert!(
            swing
                .calibration
                .as_deref()
                .is_some_and(|t| t.contains("bay"))
        );
        assert!(
            swing
                .warnings
                .iter()
                .any(|w| w.code == "studio_calibration")
        );
        let m = Measure::ThoraxTurn;
        for (i, t) in curves.time_s.iter().enumerate() {
            let sensor = truth.at(m, t + truth.starts_at_s) + 4.0;
            let inside = |e: quarterturn::result::Estimate| {
                let (_, low, high) = e.parts().expect("known");
                usize::from((low..=high).contains(&sensor))
            };
            before += inside(made.1.series[&m][i]);
            after += inside(curves.series[&m][i]);
            n += 1;
        }
    }
    println!("new players: {before} of {n} before, {after} after");
    assert!((before as f64) < 0.9 * n as f64);
    assert!(after as f64 >= 0.9 * n as f64);
}

#[test]
fn too_little_is_refused_with_the_reason() {
    let refused = |c: &Comparison| match learn(c, "x", &[]) {
        Err(AgreementError::TooLittle(why)) => why,
        other => panic!("{other:?}"),
    };
    let why = refused(&day(2, 3, 4.0, 4.0));
    assert!(why.contains("6 swings of 2 players"), "{why}");
    let mut unnamed = day(3, 2, 4.0, 4.0);
    unnamed.swings[0].player = None;
    assert!(refused(&unnamed).contains("named"));
    let mut again = day(3, 2, 4.0, 4.0);
    again.swings[0].already_calibrated = true;
    assert!(refused(&again).contains("already"));
}

#[test]
fn a_file_is_read_back_as_written_and_nonsense_is_refused() {
    let learned = learn(&day(4, 2, 4.0, 4.0), "bay", &["day.csv".into()]).expect("learnt");
    let dir = tempfile::tempdir().expect("dir");
    let path = dir.path().join("bay.toml");
    learned.calibration.write(&path).expect("written");
    assert_eq!(Calibration::read(&path).expect("read"), learned.calibration);
    let text = std::fs::read_to_string(&path).expect("text");
    for (from, to) in [
        ("calibration/1", "calibration/9"),
        ("interval_scale = ", "interval_scale = -"),
        ("bias_deg = ", "bias_deg = nan #"),
        ("[[views]]", "[[view]]"),
    ] {
        assert!(text.contains(from));
        let e = Calibration::from_bytes(text.replace(from, to).as_bytes(), &path);
        assert!(e.is_err(), "{from} → {to}");
    }
}

#[test]
fn it_is_applied_once_and_only_to_the_set_up_it_was_learnt_for() {
    let learned = learn(&day(4, 2, 4.0, 4.0), "bay", &["day.csv".into()]).expect("learnt");
    let truth = Truth::load("first-lesson");
    let (mut swing, mut curves) = measured(&truth, &Error::default());
    swing.views.retain(|v| v.role == Role::FaceOn);
    let before = (swing.at.clone(), curves.clone());
    learned.calibration.apply(&mut swing, &mut curves);
    assert_eq!((swing.at.clone(), curves.clone()), before);
    assert!(swing.calibration.is_none());
    assert!(
        swing
            .warnings
            .iter()
            .any(|w| w.code == "calibration_not_applied")
    );

    let (mut swing, mut curves) = measured(&truth, &Error::default());
    let top = swing.at[&Event::Top][&Measure::ThoraxTurn]
        .deg
        .expect("deg");
    learned.calibration.apply(&mut swing, &mut curves);
    let moved = swing.at[&Event::Top][&Measure::ThoraxTurn];
    let rule = learned.calibration.views[0].measures[&Measure::ThoraxTurn];
    let (deg, low, high) = moved.parts().expect("known");
    assert!((deg - (top - rule.bias_deg)).abs() < 1e-9);
    assert!((high - low - 8.0 * rule.interval_scale).abs() < 1e-9);
    // Separation stays the difference of the two turns.
    let at = &swing.at[&Event::Top];
    let get = |m| at[&m].deg.expect("deg");
    let gap = get(Measure::Separation) - (get(Measure::ThoraxTurn) - get(Measure::PelvisTurn));
    assert!(gap.abs() < 0.002, "{gap}");
    let once = curves.clone();
    learned.calibration.apply(&mut swing, &mut curves);
    assert_eq!(curves, once, "a second time changes nothing");
}
