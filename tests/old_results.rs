//! Results that an earlier version wrote are still read, and judged by today's limits.

use quarterturn::result::{SCHEMA, Why, read_curves_bytes, read_swing_bytes};
use quarterturn::terms::{Event, Measure};
use serde_json::{Value, json};

const SWING: &str = include_str!("old_results/version_1_swing.json");
const CURVES: &[u8] = include_bytes!("old_results/version_1_curves.csv");

fn read(value: &Value) -> quarterturn::result::SwingResult {
    read_swing_bytes(value.to_string().as_bytes(), "old".as_ref()).expect("version 1 is read")
}

fn old() -> Value {
    let value: Value = serde_json::from_str(SWING).expect("JSON");
    assert_eq!(value["schema"], "quarterturn.swing/1");
    value
}

/// Every version of the file that was ever written: its swing and the first lines of its curves.
const VERSIONS: [(&str, &[u8]); 2] = [
    (SWING, CURVES),
    (
        include_str!("old_results/version_2_swing.json"),
        include_bytes!("old_results/version_2_curves.csv"),
    ),
];

#[test]
fn each_version_up_to_the_present_has_a_file_here_that_opens() {
    let present: usize = SCHEMA
        .rsplit('/')
        .next()
        .expect("a part")
        .parse()
        .expect("a number");
    // A new version comes with a file that the version before it wrote, and one of its own.
    assert_eq!(present, VERSIONS.len());
    for (i, (swing, curves)) in VERSIONS.iter().enumerate() {
        let value: Value = serde_json::from_str(swing).expect("JSON");
        assert_eq!(value["schema"], format!("quarterturn.swing/{}", i + 1));
        let swing = read(&value);
        let mut told = 0;
        for (event, measures) in &swing.at {
            for (measure, e) in measures {
                let written = &value["at"][event.to_string()][measure.to_string()];
                assert_eq!(
                    e.parts().map(|p| p.0),
                    written["deg"].as_f64(),
                    "{i} {event} {measure}"
                );
                told += usize::from(e.parts().is_some());
            }
        }
        assert!(told > 20, "version {}: {told} numbers", i + 1);
        let curves = read_curves_bytes(curves, "old".as_ref()).expect("curves are read");
        assert_eq!(curves.series[&Measure::Separation].len(), 11);
    }
}

#[test]
fn values_stay_and_the_file_is_taken_for_the_present_version() {
    let swing = read(&old());
    assert_eq!(swing.schema, SCHEMA);
    assert!(swing.real_time.known);
    let e = swing.at[&Event::Top][&Measure::PelvisTurnFromAddress];
    let was = &old()["at"]["top"]["pelvis_turn_from_address"];
    assert_eq!(e.deg, was["deg"].as_f64());
    assert_eq!(e.untold(), None, "two views of a plain swing stay usable");
}

#[test]
fn a_wide_interval_is_no_number_though_its_file_did_not_say_so() {
    let mut value = old();
    value["at"]["top"]["pelvis_turn_from_address"] =
        json!({ "deg": 30.0, "low": 6.0, "high": 54.0 });
    value["views"].as_array_mut().expect("views").truncate(1);
    let e = read(&value).at[&Event::Top][&Measure::PelvisTurnFromAddress];
    assert_eq!((e.told(), e.untold()), (None, Some(Why::OneView)));
    assert_eq!(e.parts(), Some((30.0, 6.0, 54.0)), "the value is kept");
}

#[test]
fn a_doubted_clock_takes_seconds_and_speeds_and_leaves_ratio_and_angles() {
    let mut value = old();
    value["warnings"] = json!([{ "code": "odd_downswing", "text": "Slow." }]);
    let swing = read(&value);
    assert!(!swing.real_time.known);
    let tempo = swing.tempo.expect("a tempo");
    assert_eq!(tempo.backswing.untold(), Some(Why::ClockInDoubt));
    assert_eq!(tempo.downswing.untold(), Some(Why::ClockInDoubt));
    assert_eq!(tempo.ratio.untold(), None);
    let speed = swing.turn_speed.expect("speeds");
    assert_eq!(speed.pelvis.untold(), Some(Why::ClockInDoubt));
    let top = &swing.at[&Event::Top];
    assert_eq!(top[&Measure::PelvisTurnFromAddress].untold(), None);
}

#[test]
fn curves_without_marks_are_judged() {
    let curves = read_curves_bytes(CURVES, "old".as_ref()).expect("read");
    let series = &curves.series[&Measure::PelvisTurnFromAddress];
    assert!(series.iter().all(|e| e.untold().is_none()));
    let text = String::from_utf8_lossy(CURVES).replacen("-12.706", "-99.0", 1);
    let curves = read_curves_bytes(text.as_bytes(), "old".as_ref()).expect("read");
    let first = curves.series[&Measure::PelvisTurnFromAddress][0];
    assert_eq!(first.untold(), Some(Why::TooWide));
}

#[test]
fn a_version_to_come_is_refused() {
    let mut value = old();
    value["schema"] = json!("quarterturn.swing/3");
    let error = read_swing_bytes(value.to_string().as_bytes(), "old".as_ref());
    assert!(error.expect_err("refused").to_string().contains("swing/3"));
}
