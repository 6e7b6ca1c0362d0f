//! Two views that do not belong together.

use quarterturn::pose::ViewTrack;
use quarterturn::terms::Role;

use crate::synthetic::{Noise, Phone, track};
use crate::{measure, swings};

/// A face-on and a down-the-line view of the sample swings `face_on` and `down_the_line`.
fn pair(face_on: usize, down_the_line: usize, seed: u64) -> [ViewTrack; 2] {
    let swings = swings();
    let noise = Noise {
        seed,
        rotation_deg: 2.6,
        point_px: 4.0,
        alike_s: 0.1,
    };
    let phones = [
        Phone::square(Role::FaceOn).round_the_golfer(4.0),
        Phone::square(Role::DownTheLine).round_the_golfer(-5.0),
    ];
    [
        track(&swings[face_on], &phones[0], &noise),
        track(&swings[down_the_line], &phones[1], &noise),
    ]
}

fn codes(tracks: &[ViewTrack]) -> Vec<String> {
    let measured = measure(tracks);
    measured
        .result
        .warnings
        .into_iter()
        .map(|w| w.code)
        .collect()
}

#[test]
fn two_swings_that_look_alike_are_no_pair() {
    for (a, b) in [(0, 1), (1, 0)] {
        let codes = codes(&pair(a, b, 3));
        for code in ["views_do_not_match", "single_view"] {
            assert!(codes.iter().any(|c| c == code), "{a} and {b}: {codes:?}");
        }
    }
}

#[test]
fn each_of_two_swings_is_measured_alone_and_both_results_are_given() {
    let pair = pair(1, 0, 3);
    let mixed = measure(&pair);
    let other = mixed.other.as_deref().expect("the other clip's result");
    for (result, own, role) in [
        (&mixed.result, &pair[..1], Role::FaceOn),
        (&other.result, &pair[1..], Role::DownTheLine),
    ] {
        assert_eq!(result.views.len(), 1);
        assert_eq!(result.views[0].role, role);
        assert_eq!(result.at, measure(own).result.at);
        assert!(
            result
                .warnings
                .iter()
                .any(|w| w.code == "views_do_not_match")
        );
    }
}

#[test]
fn two_views_of_one_swing_are_a_pair() {
    for swing in 0..2 {
        for seed in 0..5 {
            let codes = codes(&pair(swing, swing, seed));
            assert!(
                !codes.iter().any(|c| c == "views_do_not_match"),
                "swing {swing}, seed {seed}: {codes:?}"
            );
        }
    }
}
