//! More strikes in a clip than the golfer's own.

use quarterturn::clip::Strike;
use quarterturn::pose::ViewTrack;
use quarterturn::terms::{Event, Role};

use crate::synthetic::{Noise, Phone, track};
use crate::{event_s, measure, swings};

/// Both views of the second sample swing; every phone hears one more strike `later_s` after the
/// golfer's own, as loud, and lists it first.
fn views(later_s: f64) -> [ViewTrack; 2] {
    let [_, swing] = swings();
    let noise = Noise {
        seed: 8,
        rotation_deg: 2.6,
        point_px: 4.0,
        alike_s: 0.1,
    };
    [Role::FaceOn, Role::DownTheLine].map(|role| {
        let mut view = track(&swing, &Phone::square(role), &noise);
        let own = view.strikes[0];
        view.strikes.insert(
            0,
            Strike {
                time_s: own.time_s + later_s,
                ..own
            },
        );
        view
    })
}

#[test]
fn a_second_strike_in_the_follow_through_changes_neither_clock_nor_impact() {
    let [_, swing] = swings();
    for later_s in [0.25, 0.4, 0.55, 0.7, 0.85] {
        let views = views(later_s);
        for tracks in [&views[..], &views[..1], &views[1..]] {
            let measured = measure(tracks);
            let off = event_s(&measured, Event::Impact) - swing.event_s("imp");
            let which = (later_s, tracks.len(), measured.result.views[0].role);
            assert!(off.abs() < 0.012, "{which:?}: impact off by {off:.3} s");
            let odd = measured.result.warnings.iter().find(|w| {
                ["odd_downswing", "impact_by_hands", "views_do_not_match"]
                    .contains(&w.code.as_str())
            });
            assert_eq!(odd, None, "{which:?}");
        }
    }
}

#[test]
fn a_strike_of_a_neighbour_alone_is_no_impact() {
    // Nor is every strike refused above: without the golfer's own, none fits.
    let mut views = views(0.7);
    for view in &mut views {
        view.strikes.truncate(1);
    }
    let measured = measure(&views[..1]);
    assert!(
        measured
            .result
            .warnings
            .iter()
            .any(|w| w.code == "impact_by_hands"),
        "{:?}",
        measured.result.warnings
    );
}
