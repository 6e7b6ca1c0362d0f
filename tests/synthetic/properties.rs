//! What must not change a measure: a mirror, the clock's zero, where the world's origin lies.

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};
use proptest::prelude::*;
use quarterturn::body::{ViewReadings, fuse, triangulate};
use quarterturn::camera::{Attitude, Camera};
use quarterturn::config::{Pipeline, Segment};
use quarterturn::math::rotation::{log, wrap};
use quarterturn::measure::Measured;
use quarterturn::pair::RotationSample;
use quarterturn::swing::turn_and_rate;
use quarterturn::terms::{Event, Handedness, Measure, Role};

use crate::synthetic::{Noise, Phone, Swing, mirrored, track};
use crate::{degrees, event_s, measure, swings};

const NOISE: Noise = Noise {
    seed: 5,
    rotation_deg: 2.6,
    point_px: 4.0,
    alike_s: 0.0,
};

fn phones() -> [Phone; 2] {
    [
        Phone::square(Role::FaceOn).round_the_golfer(5.0),
        Phone {
            starts_s: 0.1,
            ..Phone::square(Role::DownTheLine).round_the_golfer(-4.0)
        },
    ]
}

fn tracks(swing: &Swing, phones: &[Phone]) -> Vec<quarterturn::pose::ViewTrack> {
    phones.iter().map(|p| track(swing, p, &NOISE)).collect()
}

/// Largest difference of any measure at any event, degrees, and its name.
fn largest_difference(a: &Measured, b: &Measured) -> (f64, String) {
    let mut worst = (0.0, String::new());
    for event in Event::ALL {
        for m in Measure::ALL {
            let (x, y) = (a.result.at[&event].get(&m), b.result.at[&event].get(&m));
            let (Some(x), Some(y)) = (x.and_then(|e| e.deg), y.and_then(|e| e.deg)) else {
                assert_eq!(
                    x.and_then(|e| e.deg),
                    y.and_then(|e| e.deg),
                    "{m} at {event}"
                );
                continue;
            };
            let apart = wrap((x - y).to_radians()).abs().to_degrees();
            if apart > worst.0 {
                worst = (apart, format!("{m} at {event}: {x} and {y}"));
            }
        }
    }
    worst
}

#[test]
fn a_mirrored_pair_of_views_is_a_left_hander_with_the_same_measures() {
    let [_, swing] = swings();
    let right = tracks(&swing, &phones());
    let left: Vec<_> = right.iter().map(mirrored).collect();
    let (a, b) = (measure(&right), measure(&left));
    assert_eq!(a.result.handedness, Handedness::Right);
    assert_eq!(b.result.handedness, Handedness::Left);
    let worst = largest_difference(&a, &b);
    assert!(worst.0 < 0.05, "{}", worst.1);
    for event in Event::ALL {
        assert!(
            (event_s(&a, event) - event_s(&b, event)).abs() < 1e-3,
            "{event}"
        );
    }
    // The mirror is not simply passed over: the plain views of a left-hander turn the other way.
    assert!(degrees(&a, Event::Top, Measure::ThoraxTurnFromAddress) > 60.0);
}

#[test]
fn a_clock_that_starts_elsewhere_shifts_events_and_nothing_else() {
    let [_, swing] = swings();
    // At exactly 60 frames a second the still window ends on a frame, and whether that frame counts
    // is left to rounding, which the shift changes: the finish then moves by up to three frames.
    let plain = tracks(&swing, &phones().map(|p| Phone { fps: 59.94, ..p }));
    let mut shifted = plain.clone();
    for t in &mut shifted {
        for o in &mut t.observations {
            o.time_s += 7.25;
        }
        for s in &mut t.strikes {
            s.time_s += 7.25;
        }
    }
    let (a, b) = (measure(&plain), measure(&shifted));
    let worst = largest_difference(&a, &b);
    assert!(worst.0 < 0.01, "{}", worst.1);
    for event in Event::ALL {
        let moved = event_s(&b, event) - event_s(&a, event);
        assert!((moved - 7.25).abs() < 1e-4, "{event} moved by {moved}");
    }
}

#[test]
fn one_phone_that_started_later_changes_its_offset_and_nothing_else() {
    let [_, swing] = swings();
    let plain = tracks(&swing, &phones());
    let mut late = plain.clone();
    for o in &mut late[1].observations {
        o.time_s -= 0.4;
    }
    for s in &mut late[1].strikes {
        s.time_s -= 0.4;
    }
    let (a, b) = (measure(&plain), measure(&late));
    let worst = largest_difference(&a, &b);
    assert!(worst.0 < 0.1, "{}", worst.1);
    let moved = b.result.views[1].offset_s - a.result.views[1].offset_s;
    assert!((moved - 0.4).abs() < 1e-3, "{moved}");
}

#[test]
fn phones_moved_together_round_the_golfer_keep_the_turn_from_address() {
    let [_, swing] = swings();
    let near = measure(&tracks(&swing, &phones()));
    let moved = phones().map(|p| p.round_the_golfer(6.0));
    let far = measure(&tracks(&swing, &moved));
    for m in [
        Measure::PelvisTurnFromAddress,
        Measure::ThoraxTurnFromAddress,
    ] {
        let apart = degrees(&near, Event::Top, m) - degrees(&far, Event::Top, m);
        assert!(apart.abs() < 0.5, "{m}: {apart}");
    }
}

/// A rigid move that keeps the vertical: a turn about Z, then a shift.
fn moved(camera: &Camera, turn: &Rotation3<f64>, shift: &Vector3<f64>) -> Camera {
    Camera {
        world_from_camera: turn * camera.world_from_camera,
        position_m: turn * camera.position_m + shift,
        ..*camera
    }
}

fn readings() -> Vec<RotationSample> {
    (0..30)
        .map(|i| {
            let t = f64::from(i) / 60.0;
            let turned = |a: f64| Rotation3::from_euler_angles(0.4, 0.1, a * t);
            RotationSample {
                time_s: t,
                crop_centre_px: Vector2::new(250.0 + 2.0 * t, 500.0),
                crop_from_segment: [turned(1.5), turned(3.0)],
                sigma: [[0.05, 0.08, 0.06]; 2],
            }
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn cameras_moved_with_the_world_move_the_body_with_it(
        degrees in -180.0..180.0f64, x in -20.0..20.0f64, y in -20.0..20.0f64, z in -2.0..2.0f64,
        px in 100.0..440.0f64, py in 200.0..700.0f64,
    ) {
        let turn = Rotation3::from_axis_angle(&Vector3::z_axis(), degrees.to_radians());
        let shift = Vector3::new(x, y, z);
        let before = phones().map(|p| p.camera());
        let after = [moved(&before[0], &turn, &shift), moved(&before[1], &turn, &shift)];

        let seen = [Vector2::new(px, py), Vector2::new(280.0, py)];
        let joint = |c: &[Camera; 2]| triangulate(&[(&c[0], seen[0], 2.0), (&c[1], seen[1], 3.0)]);
        let (a, b) = (joint(&before).expect("a point"), joint(&after).expect("a point"));
        prop_assert!((turn * a.at + shift - b.at).norm() < 1e-6);
        let turned: Matrix3<f64> = turn.matrix() * a.covariance * turn.matrix().transpose();
        prop_assert!((turned - b.covariance).norm() < 1e-9);

        let pipeline = Pipeline::default();
        let samples = readings();
        for segment in [Segment::Pelvis, Segment::Thorax] {
            let read = |camera: &Camera| {
                let view = ViewReadings { role: Role::FaceOn, samples: &samples, camera, offset_s: 0.0 };
                fuse(&[view], segment, 0.1, &pipeline.learned, &pipeline.body).0
            };
            let (a, b) = (read(&before[0]), read(&after[0]));
            for t in [0.1, 0.25, 0.4] {
                let (ra, rb) = (a.at(t).expect("inside"), b.at(t).expect("inside"));
                let apart = turn * ra.world_from_segment * rb.world_from_segment.inverse();
                prop_assert!(log(&apart).norm() < 1e-6);
                let ((ta, wa), (tb, wb)) =
                    (turn_and_rate(&a, t).expect("a turn"), turn_and_rate(&b, t).expect("a turn"));
                // Turn is positive the other way round than the world's Z.
                prop_assert!(wrap(ta - degrees.to_radians() - tb).abs() < 1e-6);
                prop_assert!((wa - wb).abs() < 1e-6);
            }
        }
    }
}

#[test]
fn a_level_camera_turned_round_the_golfer_still_looks_at_them() {
    for role in Role::ALL {
        for degrees in [-12.0, 0.0, 12.0] {
            let camera = Phone::square(role).round_the_golfer(degrees).camera();
            let straight = Phone::square(role).camera();
            let golfer = Vector3::new(0.0, 0.0, 1.0);
            let (a, b) = (
                camera.project(&golfer).expect("ahead"),
                straight.project(&golfer).expect("ahead"),
            );
            assert!((a - b).norm() < 1e-6);
            let attitude = Attitude {
                azimuth: degrees.to_radians(),
                ..Attitude::default()
            };
            let expected = attitude.world_from_camera(role);
            assert!(log(&(expected * camera.world_from_camera.inverse())).norm() < 1e-9);
        }
    }
}
