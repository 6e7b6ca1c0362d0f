//! Time alignment: the bar is 5 ms.

use quarterturn::agreement::TurnPair;
use quarterturn::agreement::align::{EventPair, NoShift, by_events, by_turn_speed};
use quarterturn::agreement::interpolate::{MAX_GAP_S, Samples};
use quarterturn::agreement::sensor::{Mapping, read_csv_bytes};
use quarterturn::agreement::{Comparison, compare};
use quarterturn::result::StoredSwing;
use quarterturn::terms::{Event, Measure};

use crate::fixture::{Error, SAMPLES, Sensor, Truth, measured};

pub fn compare_one(truth: &Truth, error: &Error, sensor: &Sensor) -> Comparison {
    compare_csv(truth, error, &sensor.csv(truth, &truth.name))
}

pub fn compare_csv(truth: &Truth, error: &Error, csv: &str) -> Comparison {
    let (swing, curves) = measured(truth, error);
    let mapping = Mapping::default();
    let sensor = read_csv_bytes(csv.as_bytes(), &mapping, "s.csv".as_ref()).expect("CSV");
    let m = StoredSwing {
        folder: truth.name.clone().into(),
        swing,
        curves,
    };
    compare(&[m], &sensor, &mapping)
}

#[test]
fn shift_is_found_within_5_ms_and_inside_its_interval() {
    let (mut worst, mut mean, mut width) = (0.0_f64, 0.0, 0.0);
    let (mut inside, mut n) = (0, 0);
    for name in SAMPLES {
        let truth = Truth::load(name);
        for seed in 0..40 {
            let sensor = Sensor {
                seed,
                shift_s: 0.13 + 0.0137 * seed as f64,
                ..Sensor::default()
            };
            let error = Error {
                wander: 1.0,
                seed,
                ..Error::default()
            };
            let c = compare_one(&truth, &error, &sensor);
            let s = &c.swings[0].shift;
            worst = worst.max((s.s - sensor.shift_s).abs());
            inside += usize::from(s.low <= sensor.shift_s && sensor.shift_s <= s.high);
            mean += s.s - sensor.shift_s;
            width += s.half_width();
            n += 1;
        }
    }
    println!(
        "shift: mean error {:.2} ms, mean half-width {:.2} ms",
        mean / f64::from(n) * 1e3,
        width / f64::from(n) * 1e3
    );
    println!("shift: worst {:.2} ms, {inside} of {n} inside", worst * 1e3);
    assert!(worst < 0.005, "worst {worst}");
    assert!(inside as f64 >= 0.88 * f64::from(n), "{inside} of {n}");
}

#[test]
fn other_rates_and_a_sensor_that_starts_minutes_earlier_are_aligned() {
    let truth = Truth::load("first-lesson");
    for (rate_hz, shift_s) in [(50.0, -0.4), (100.0, 95.25), (1000.0, 3.0), (59.94, 0.0)] {
        let sensor = Sensor {
            rate_hz,
            shift_s,
            gaps: vec![],
            ..Sensor::default()
        };
        let c = compare_one(&truth, &Error::default(), &sensor);
        assert!(c.left_out.is_empty(), "{:?}", c.left_out);
        let s = c.swings[0].shift;
        assert!((s.s - shift_s).abs() < 0.005, "{rate_hz} Hz: {s:?}");
    }
}

#[test]
fn a_stretched_clock_is_told_and_never_corrected() {
    let truth = Truth::load("sixth-lesson");
    let sensor = Sensor {
        stretch: 1.15,
        noise: 0.3,
        gaps: vec![],
        ..Sensor::default()
    };
    let c = compare_one(&truth, &Error::default(), &sensor);
    let s = &c.swings[0];
    let (e, half) = s.shift.rate_error.expect("estimated");
    assert!((e - 0.15).abs() < 0.03, "{e} ± {half}");
    assert!(
        s.notes
            .iter()
            .any(|n| n.contains("faster") && n.contains("not stretched")),
        "{:?}",
        s.notes
    );
    let honest = compare_one(&truth, &Error::default(), &Sensor::default());
    assert_eq!(honest.swings[0].shift.notable_rate_error(), None);
}

#[test]
fn slow_motion_another_swing_and_the_other_way_round_are_refused_with_the_reason() {
    let truth = Truth::load("sixth-lesson");
    let slow = Sensor {
        stretch: 4.0,
        gaps: vec![],
        rate_hz: 800.0,
        ..Sensor::default()
    };
    let c = compare_one(&truth, &Error::default(), &slow);
    assert!(c.swings.is_empty());
    assert!(c.left_out[0].1.contains("don't match"), "{:?}", c.left_out);

    let flipped: String = Sensor {
        noise: 0.2,
        ..Sensor::default()
    }
    .rows(&truth)
    .iter()
    .fold("time_s,thorax_turn_deg\n".to_owned(), |s, (t, _, x)| {
        s + &format!("{t:.4},{:.3}\n", -x)
    });
    let c = compare_csv(&truth, &Error::default(), &flipped);
    assert!(c.left_out[0].1.contains("sign = -1"), "{:?}", c.left_out);
}

#[test]
fn two_equal_swings_in_one_recording_are_ambiguous() {
    let truth = Truth::load("sixth-lesson");
    let sensor = Sensor {
        gaps: vec![],
        noise: 0.1,
        ..Sensor::default()
    };
    let rows = sensor.rows(&truth);
    let t: Vec<f64> = rows
        .iter()
        .map(|r| r.0)
        .chain(rows.iter().map(|r| r.0 + 4.0))
        .collect();
    let v: Vec<Option<f64>> = rows.iter().chain(&rows).map(|r| Some(r.2)).collect();
    let (_, curves) = measured(&truth, &Error::default());
    let ours: Vec<Option<f64>> = curves.series[&Measure::ThoraxTurn]
        .iter()
        .map(|e| e.deg)
        .collect();
    let pair = TurnPair {
        ours: Samples::new(&curves.time_s, &ours),
        sensor: Samples::new(&t, &v),
    };
    assert!(matches!(
        by_turn_speed(std::slice::from_ref(&pair), &[], None),
        Err(NoShift::Ambiguous(..))
    ));
    // Named events settle it.
    let near = by_turn_speed(&[pair], &[], Some((4.0, 4.3))).expect("one of them");
    assert!((near.s - 4.13).abs() < 0.005);
}

#[test]
fn named_events_are_followed_and_a_contradiction_is_told() {
    let truth = Truth::load("first-lesson");
    let sensor = Sensor::default();
    let impact = truth.events[&Event::Impact] - truth.starts_at_s + sensor.shift_s;
    let csv = sensor.csv(&truth, &truth.name);
    let with = |t: f64| csv.replacen('\n', &format!("\n# event: impact {t:.4}\n"), 1);
    let c = compare_csv(&truth, &Error::default(), &with(impact));
    let s = &c.swings[0];
    assert!(s.shift_from.starts_with("events"), "{}", s.shift_from);
    assert!((s.shift.s - 0.13).abs() < 0.005);

    let c = compare_csv(&truth, &Error::default(), &with(impact + 0.05));
    let s = &c.swings[0];
    assert_eq!(s.shift_from, "events");
    assert!((s.shift.s - 0.18).abs() < 1e-3, "{:?}", s.shift);
    assert!(
        s.notes.iter().any(|n| n.contains("disagree")),
        "{:?}",
        s.notes
    );
}

#[test]
fn events_are_weighted_by_how_sure_they_are() {
    let e = |ours, half_width, sensor| EventPair {
        ours,
        half_width,
        sensor,
    };
    let s = by_events(&[e(1.0, 0.01, 1.5), e(2.0, 0.1, 2.6)]).expect("two events");
    assert!((s.s - (0.5 * 100.0 + 0.6) / 101.0).abs() < 1e-9, "{s:?}");
    assert!(by_events(&[]).is_none());
}

#[test]
fn nothing_is_compared_inside_a_gap() {
    let truth = Truth::load("first-lesson");
    let sensor = Sensor::default();
    let c = compare_one(&truth, &Error::default(), &sensor);
    for p in &c.swings[0].curve[&Measure::ThoraxTurn] {
        let t = p.time_s + truth.starts_at_s;
        for (a, b) in &sensor.gaps {
            if b - a > MAX_GAP_S {
                assert!(t <= a + 0.006 || t >= b - 0.006, "{t} lies in {a}..{b}");
            }
        }
    }
}
