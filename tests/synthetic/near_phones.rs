//! Two phones that stand nearer to each other than face-on and down-the-line do, or both on one side:
//! still two views of one swing.

use quarterturn::terms::{Event, Measure, Role};

use crate::synthetic::{Noise, Phone, track};
use crate::{degrees, measure, swings};

/// Each phone's role and how far round the golfer it stands from there, degrees. Down-the-line lies
/// 90° clockwise of face-on seen from above.
const PLACES: [[(Role, f64); 2]; 4] = [
    [(Role::FaceOn, -27.5), (Role::DownTheLine, 27.5)],
    [(Role::FaceOn, 0.0), (Role::FaceOn, -35.0)],
    [(Role::FaceOn, 15.0), (Role::FaceOn, -20.0)],
    [(Role::DownTheLine, 35.0), (Role::DownTheLine, 0.0)],
];

#[test]
fn phones_35_degrees_apart_are_two_views_of_one_swing() {
    let (mut all, mut inside, mut pairs, mut n) = (Vec::new(), 0, 0, 0);
    for (k, swing) in swings().iter().enumerate() {
        for (j, places) in PLACES.iter().enumerate() {
            let views: Vec<_> = places
                .iter()
                .enumerate()
                .map(|(i, (role, round))| {
                    let noise = Noise {
                        seed: (100 * k + 10 * j + i) as u64,
                        rotation_deg: 2.6,
                        point_px: 4.0,
                        alike_s: 0.1,
                    };
                    let phone = Phone::square(*role).round_the_golfer(*round);
                    let mut view = track(swing, &phone, &noise);
                    // Two files, whatever their roles.
                    view.sha256 = format!("view {i}");
                    view
                })
                .collect();
            let measured = measure(&views);
            n += 1;
            pairs += usize::from(measured.result.views.len() == 2);
            for (measure, field) in [
                (Measure::PelvisTurnFromAddress, "pelvis_turn"),
                (Measure::ThoraxTurnFromAddress, "thorax_turn"),
            ] {
                let truth = swing.since_address(field, "top");
                let e = measured.result.at[&Event::Top][&measure];
                let off = degrees(&measured, Event::Top, measure) - truth;
                let holds = |(low, high): (f64, f64)| (low..=high).contains(&truth);
                inside += usize::from(e.low.zip(e.high).is_some_and(holds));
                println!(
                    "swing {k}, {places:?}: {measure} off by {off:+.1}, {:?} to {:?}",
                    e.low, e.high
                );
                all.push(off.abs());
            }
        }
    }
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    let worst = all.iter().copied().fold(0.0, f64::max);
    println!(
        "{pairs} of {n} measured as pairs; mean {mean:.2}, worst {worst:.1} degrees; {inside} of {} inside",
        all.len()
    );
    assert_eq!(pairs, n, "measured as pairs");
    assert!(mean < 3.0 && worst < 8.0, "mean {mean}, worst {worst}");
    assert!(inside + 1 >= all.len(), "{inside} of {}", all.len());
}
