//! Golfers whose rotations, joints and cameras are known, seen by networks whose errors are known:
//! what geometry and events add to the error, and symmetries that must hold.

mod budget;
mod fusion;
mod mixed;
mod near_phones;
mod properties;
mod strikes;
#[path = "../common/synthetic.rs"]
mod synthetic;

use quarterturn::measure::{Measured, Options, measure_tracks};
use quarterturn::pose::ViewTrack;
use quarterturn::terms::{Event, Measure};
use synthetic::Swing;

/// The two sample swings: hips held, hips free.
fn swings() -> [Swing; 2] {
    [
        include_str!("../../sample-clips/first-lesson_truth.json"),
        include_str!("../../sample-clips/sixth-lesson_truth.json"),
    ]
    .map(Swing::parse)
}

fn measure(tracks: &[ViewTrack]) -> Measured {
    let options = Options {
        name: "synthetic".into(),
        clips: tracks.iter().map(|t| (t.info.file.clone(), None)).collect(),
        ..Options::default()
    };
    measure_tracks(tracks, &options).expect("a swing")
}

fn degrees(measured: &Measured, event: Event, measure: Measure) -> f64 {
    measured.result.at[&event][&measure]
        .deg
        .unwrap_or_else(|| panic!("no {measure} at {event}"))
}

fn event_s(measured: &Measured, event: Event) -> f64 {
    measured.result.events[&event]
        .s
        .unwrap_or_else(|| panic!("no {event}"))
}
