//! docs/swing.schema.json describes what is written, and refuses what the reader would.

use std::collections::BTreeMap;

use quarterturn::result::{
    Between, CameraEntry, Clock, ClockFrom, Estimate, Moment, Quantity, Tempo, TurnSpeed,
};
use quarterturn::terms::{Event, Handedness, Unit};
use quarterturn::warning::Warning;
use serde_json::{Value, json};

use crate::fixture::{Error, Truth, measured};

fn validator() -> jsonschema::Validator {
    let schema: Value =
        serde_json::from_str(include_str!("../../docs/swing.schema.json")).expect("JSON");
    jsonschema::validator_for(&schema).expect("a valid schema")
}

fn full() -> Value {
    let (mut swing, _) = measured(&Truth::load("first-lesson"), &Error::default());
    let q = |unit: Unit| Quantity {
        value: Some(1.0),
        low: Some(0.5),
        high: None,
        unit,
        why: None,
    };
    swing.handedness = Handedness::Left;
    swing.sway = BTreeMap::from([(
        Event::Top,
        vec![q(Unit::StanceWidthPercent), q(Unit::Centimetres)],
    )]);
    swing.tempo = Some(Tempo {
        backswing: q(Unit::Seconds),
        downswing: q(Unit::Seconds),
        ratio: q(Unit::BackToDown),
    });
    swing.turn_speed = Some(TurnSpeed {
        pelvis: q(Unit::DegreesPerSecond),
        thorax: q(Unit::DegreesPerSecond),
        pelvis_before_thorax: q(Unit::Seconds),
        first: "pelvis".into(),
    });
    swing.peak_separation = Some(Estimate::new(40.0, 35.0, 45.0));
    swing.peak_separation_at = Some(Moment::default());
    swing.pelvis_top = Some(Moment {
        s: Some(1.0),
        low: None,
        high: None,
    });
    swing.thorax_top = Some(Moment::default());
    swing.typed_in.player = Some("A".into());
    swing.typed_in.lesson = "2026-05-14".parse().ok();
    swing.typed_in.label = Some("hips held".into());
    swing.typed_in.notes = Some("wind from the left".into());
    swing.views[0].filmed_unix_s = Some(1.78e9);
    swing.typed_in.stature_cm = Some(180.0);
    swing.calibration = Some("bay".into());
    swing.warnings = vec![
        Warning::new("single_view", "One view."),
        Warning::at(Event::Top, "views_disagree", "They do."),
    ];
    swing.between = vec![Between {
        from: Event::Top,
        to: Event::Impact,
        pelvis_turn: Estimate::new(-80.0, -90.0, -70.0),
        thorax_turn: Estimate::default(),
    }];
    swing.real_time = Clock {
        known: false,
        from: ClockFrom::Assumed,
        probability: Some(0.6),
    };
    swing.views[1].offset_half_width_s = Some(0.01);
    swing.views[0].camera = Some(CameraEntry {
        focal_px: 1000.0,
        focal_from: "metadata".into(),
        azimuth_off_role: Estimate::new(1.0, -3.0, 5.0),
        pitch: Estimate::default(),
        roll: Estimate::default(),
        distance_m: None,
        camera_from_world: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    });
    serde_json::to_value(swing).expect("JSON")
}

fn errors(v: &Value) -> Vec<String> {
    validator()
        .iter_errors(v)
        .map(|e| format!("{}: {e}", e.instance_path))
        .collect()
}

#[test]
fn a_small_and_a_full_result_are_valid() {
    let (swing, _) = measured(&Truth::load("sixth-lesson"), &Error::default());
    let small = serde_json::to_value(swing).expect("JSON");
    assert_eq!(errors(&small), Vec::<String>::new());
    assert_eq!(errors(&full()), Vec::<String>::new());
}

/// Every name that a full result holds is described: nothing is written that the schema is
/// silent about.
#[test]
fn the_schema_allows_no_unknown_names() {
    for pointer in [
        "",
        "/views/0",
        "/events/top",
        "/at/top/separation",
        "/tempo/ratio",
        "/between/0",
        "/real_time",
        "/views/0/camera",
        "/typed_in",
    ] {
        let mut v = full();
        let at = v.pointer_mut(pointer).expect(pointer);
        at["something_else"] = json!(1);
        assert!(!errors(&v).is_empty(), "{pointer}");
    }
}

#[test]
fn what_the_reader_refuses_is_invalid() {
    for (pointer, wrong) in [
        ("/schema", json!("quarterturn.swing/3")),
        ("/handedness", json!("both")),
        ("/views", json!([])),
        ("/views/0/role", json!("above")),
        ("/views/0/fps", json!("60")),
        ("/events/top/s", json!("1.2")),
        ("/at/top/separation/deg", json!([1])),
        ("/tempo/ratio/unit", json!("furlongs")),
        ("/warnings", json!(null)),
        ("/typed_in/lesson", json!("14 May")),
    ] {
        let mut v = full();
        *v.pointer_mut(pointer).expect(pointer) = wrong.clone();
        assert!(!errors(&v).is_empty(), "{pointer} = {wrong}");
        let read = quarterturn::result::read_swing_bytes(v.to_string().as_bytes(), "x".as_ref());
        assert!(read.is_err(), "{pointer} = {wrong}");
    }
    let mut v = full();
    v["at"]["top"]["separation"]["why"] = json!("too wide");
    assert!(!errors(&v).is_empty(), "a reason that is none");
    v["at"]["top"]["separation"]["why"] = json!("too_wide");
    assert!(!errors(&v).is_empty(), "usable, and a reason why not");
    v["at"]["top"]["separation"]["usable"] = json!(false);
    assert_eq!(errors(&v), Vec::<String>::new());
    let mut v = full();
    v["at"]["top"]["hip_wiggle"] = json!({"deg": 1.0, "low": 0.0, "high": 2.0});
    assert!(!errors(&v).is_empty());
}
