//! The rendered tour-like swing and the reference strips against published means of tour players,
//! and a swing's tempo. The rendered swing is what the sample clips and their tests rest on: if it
//! were no swing that people make, they would prove little. Only stored files are read here, no code of src runs.

use serde_json::Value;

use crate::reference::{list, number, sample_at, sixth_lesson};

fn ranges() -> toml::Table {
    include_str!("../../docs/references.toml")
        .parse()
        .expect("a table")
}

/// Mean and spread of a strip, degrees.
fn strip(measure: &str, event: &str, sex: &str) -> (f64, f64) {
    let table = ranges();
    let rows = table["range"].as_array().expect("ranges");
    let row = rows
        .iter()
        .find(|r| {
            r["measure"].as_str() == Some(measure)
                && r["event"].as_str() == Some(event)
                && r.get("sex").and_then(toml::Value::as_str) == Some(sex)
        })
        .expect("a strip");
    (
        row["mean_deg"].as_float().expect("a mean"),
        row["sd_deg"].as_float().expect("a spread"),
    )
}

fn turn_from_address(truth: &Value, event: &str) -> f64 {
    let at = |e: &str| number(&sample_at(truth, number(&truth["events"][e]))["pelvis_turn"]);
    at(event) - at("addr")
}

/// Zheng et al. 2008, as quoted in the design of this project.
#[test]
fn the_reference_strips_hold_the_published_means() {
    let m = "pelvis_turn_from_address";
    assert_eq!(strip(m, "top", "men"), (42.0, 7.0));
    assert_eq!(strip(m, "top", "women"), (49.0, 8.0));
    assert_eq!(strip(m, "impact", "men"), (-42.0, 12.0));
    assert_eq!(strip(m, "impact", "women"), (-52.0, 11.0));
}

#[test]
fn the_rendered_swing_turns_the_pelvis_as_tour_players_do() {
    let truth = sixth_lesson();
    for (key, event) in [("top", "top"), ("imp", "impact")] {
        let turn = turn_from_address(&truth, key);
        let (mean, sd) = strip("pelvis_turn_from_address", event, "men");
        assert!((turn - mean).abs() < sd, "{turn} at {event}, {mean} ± {sd}");
    }
}

/// Common practice, no source: about 90° of rib cage, forward bend near 0°, 45° of separation.
#[test]
fn the_rendered_thorax_stands_at_the_top_as_skilled_players_do() {
    let truth = sixth_lesson();
    let top = sample_at(&truth, number(&truth["events"]["top"]));
    let (thorax, pelvis) = (number(&top["thorax_turn"]), number(&top["pelvis_turn"]));
    assert!((thorax - 90.0).abs() < 10.0);
    assert!((thorax - pelvis - 45.0).abs() < 10.0);
    assert!(number(&top["thorax_fwd"]).abs() < 10.0);
    // The shoulder blades slide further than the rib cage turns.
    let slid = number(&top["shoulder_line_turn"]) - thorax;
    assert!((5.0..=15.0).contains(&slid), "{slid}");
}

/// Grober and Cholewicki: about 3 to 1, 0.80 s to 0.27 s.
#[test]
fn the_rendered_tempo_is_three_to_one() {
    let truth = sixth_lesson();
    let at = |e: &str| number(&truth["events"][e]);
    let (back, down) = (at("top") - at("addr"), at("imp") - at("top"));
    assert!((back / down - 3.0).abs() < 0.3, "{}", back / down);
    let table = ranges();
    let tempo = &table["tempo"].as_array().expect("tempi")[0];
    let (b, d) = (&tempo["backswing_s"], &tempo["downswing_s"]);
    assert!((back - b.as_float().expect("seconds")).abs() < 0.1);
    assert!((down - d.as_float().expect("seconds")).abs() < 0.03);
}

#[test]
fn peak_turn_speed_is_within_what_bodies_do() {
    let truth = sixth_lesson();
    let samples = list(&truth["samples"]);
    let fastest = |key: &str| {
        samples
            .windows(2)
            .map(|w| {
                (number(&w[1][key]) - number(&w[0][key]))
                    / (number(&w[1]["t"]) - number(&w[0]["t"]))
            })
            .fold(0.0, f64::min)
    };
    // Opening speeds of skilled players, from memory: pelvis 400 to 600, thorax 500 to 800 degrees
    // a second; the limits are wider.
    assert!(
        (-750.0..-250.0).contains(&fastest("pelvis_turn")),
        "{}",
        fastest("pelvis_turn")
    );
    assert!(
        (-900.0..-400.0).contains(&fastest("thorax_turn")),
        "{}",
        fastest("thorax_turn")
    );
}
