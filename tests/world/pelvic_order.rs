//! Baker 2001: the order of pelvic rotations. Read as rotation, obliquity, tilt, a level pelvis is
//! level however far it has turned; read as tilt, obliquity, rotation, the same pelvis shows an
//! obliquity that is not there. The second order's angles are SciPy's.

use nalgebra::Rotation3;
use quarterturn::math::rotation::SegmentAngles;

use crate::reference::{geometry, list, matrix3, number, numbers};

/// Tilt, obliquity and rotation, degrees, in the order that this project does not use.
fn tilt_first(r: &Rotation3<f64>) -> [f64; 3] {
    let m = r.matrix();
    [
        (-m[(1, 2)]).atan2(m[(2, 2)]).to_degrees(),
        m[(0, 2)].asin().to_degrees(),
        m[(0, 1)].atan2(m[(0, 0)]).to_degrees(),
    ]
}

#[test]
fn rotation_obliquity_tilt_gives_back_how_the_pelvis_stands() {
    for case in list(&geometry()["pelves"]) {
        let r = Rotation3::from_matrix_unchecked(matrix3(&case["matrix"]));
        let a = SegmentAngles::decompose(&r).expect("no pole");
        for (found, key) in [
            (a.turn, "rotation_deg"),
            (a.side, "obliquity_deg"),
            (a.forward, "tilt_deg"),
        ] {
            assert!(
                (found.to_degrees() - number(&case[key])).abs() < 1e-6,
                "{key} of {case}"
            );
        }
        // What the order is chosen for: turn is where the left-right axis points on the ground.
        let lead = r * nalgebra::Vector3::x();
        assert!((a.turn + lead.y.atan2(lead.x)).abs() < 1e-9);
    }
}

#[test]
fn the_other_order_shows_a_level_pelvis_up_to_ten_degrees_oblique() {
    let mut worst: f64 = 0.0;
    for case in list(&geometry()["pelves"]) {
        let turn = number(&case["rotation_deg"]);
        let own = SegmentAngles {
            turn: turn.to_radians(),
            side: number(&case["obliquity_deg"]).to_radians(),
            forward: number(&case["tilt_deg"]).to_radians(),
        }
        .compose();
        let other = tilt_first(&own);
        for (a, b) in other
            .iter()
            .zip(numbers(&case["tilt_obliquity_rotation_deg"]))
        {
            assert!((a - b).abs() < 1e-6, "{a} {b} in {case}");
        }
        // The published range: walking pelves, turned up to 30°.
        if number(&case["obliquity_deg"]) == 0.0 && turn.abs() <= 30.0 {
            worst = worst.max(other[1].abs());
        }
    }
    assert!((9.0..=10.5).contains(&worst), "{worst}");
}

#[test]
fn at_the_top_of_a_golf_swing_the_other_order_is_further_off_still() {
    let top = SegmentAngles {
        turn: 45f64.to_radians(),
        side: 0.0,
        forward: 18f64.to_radians(),
    };
    let other = tilt_first(&top.compose());
    assert!(other[1].abs() > 12.0, "{other:?}");
    let ours = SegmentAngles::decompose(&top.compose()).expect("no pole");
    assert!(ours.side.abs() < 1e-12);
}
