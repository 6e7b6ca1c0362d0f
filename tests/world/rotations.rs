//! SciPy's `Rotation`: R = Rz(−turn) · Ry(side) · Rx(forward) is its intrinsic "ZYX" sequence with
//! the angles (−turn, side, forward).

use nalgebra::Rotation3;
use quarterturn::math::rotation::{SegmentAngles, log, nearest_rotation, wrap};

use crate::reference::{geometry, list, matrix3, number, vector3};

fn angles(case: &serde_json::Value) -> SegmentAngles {
    let radians = |key: &str| number(&case[key]).to_radians();
    SegmentAngles {
        turn: radians("turn_deg"),
        side: radians("side_deg"),
        forward: radians("forward_deg"),
    }
}

#[test]
fn composing_gives_scipys_matrix() {
    let cases = geometry();
    assert!(list(&cases["rotations"]).len() >= 20);
    for case in list(&cases["rotations"]) {
        let difference = angles(case).compose().matrix() - matrix3(&case["matrix"]);
        assert!(difference.norm() < 1e-9, "{case}");
    }
}

#[test]
fn decomposing_gives_scipys_angles() {
    for case in list(&geometry()["rotations"]) {
        let r = Rotation3::from_matrix_unchecked(matrix3(&case["matrix"]));
        let (found, expected) = (SegmentAngles::decompose(&r).expect("no pole"), angles(case));
        for (a, b) in [
            (found.turn, expected.turn),
            (found.side, expected.side),
            (found.forward, expected.forward),
        ] {
            assert!(wrap(a - b).abs() < 1e-9, "{a} {b} in {case}");
        }
    }
}

#[test]
fn the_rotation_vector_is_scipys() {
    for case in list(&geometry()["rotations"]) {
        let r = nearest_rotation(&matrix3(&case["matrix"])).expect("a rotation");
        assert!((log(&r) - vector3(&case["rotvec"])).norm() < 1e-9, "{case}");
    }
}
