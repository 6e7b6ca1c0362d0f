//! Body proportions as limits of plausibility, for the rendered golfer and for the camera search's
//! prior of where an adult's feet, hips and head are.

use nalgebra::Vector3;
use quarterturn::camera::{Problem, StillPoint};
use quarterturn::config::Pipeline;

use crate::reference::{number, sample_at, sixth_lesson, vector3};

/// Shares of stature: Drillis and Contini 1966 as tabled by Winter, quoted from memory.
const THIGH: f64 = 0.245;
const SHANK: f64 = 0.246;
const ANKLE_HEIGHT: f64 = 0.039;
const HIP_HEIGHT: f64 = 0.530;
const UPPER_ARM: f64 = 0.186;
const FOREARM: f64 = 0.146;

/// A share's plausible reach for bodies that are no average: legs, and arms, whose shoulder joint
/// the table and a body model put in different places.
const LEG_REACH: f64 = 0.15;
const ARM_REACH: f64 = 0.22;

fn joints() -> (f64, serde_json::Value) {
    let truth = sixth_lesson();
    let address = number(&truth["events"]["addr"]);
    (
        number(&truth["stature_m"]),
        sample_at(&truth, address)["joints"].clone(),
    )
}

#[test]
fn the_rendered_golfers_limbs_are_an_adults() {
    let (stature, joints) = joints();
    let length = |a: &str, b: &str, side: &str| {
        let at = |j: &str| vector3(&joints[format!("{j}_{side}")]);
        (at(a) - at(b)).norm() / stature
    };
    for side in ["lead", "trail"] {
        for (a, b, share, reach) in [
            ("hip", "knee", THIGH, LEG_REACH),
            ("knee", "ankle", SHANK, LEG_REACH),
            ("shoulder", "elbow", UPPER_ARM, ARM_REACH),
            ("elbow", "wrist", FOREARM, ARM_REACH),
        ] {
            let found = length(a, b, side);
            assert!(
                (found / share - 1.0).abs() < reach,
                "{side} {a} to {b}: {found:.3} of stature, tabled {share}"
            );
        }
    }
}

/// Harrington et al. 2007, coefficients from memory: hip joint centre from the middle of the ASIS,
/// mm; `width` between the
/// ASIS, `depth` from their middle to that of the PSIS. Forward, up, to the side.
fn hip_centre_mm(width: f64, depth: f64) -> Vector3<f64> {
    Vector3::new(
        -0.24 * depth - 9.9,
        -0.30 * width - 10.9,
        0.33 * width + 7.3,
    )
}

/// The published regression, turned round: the rendered golfer's hips stand as far apart as those
/// of a pelvis of adult width (220 to 300 mm between the ASIS; from memory).
#[test]
fn the_rendered_hips_fit_an_adult_pelvis_by_harringtons_regression() {
    let (_, joints) = joints();
    let apart_mm = 1000.0 * (vector3(&joints["hip_lead"]) - vector3(&joints["hip_trail"])).norm();
    let (narrow, wide) = (hip_centre_mm(220.0, 145.0), hip_centre_mm(300.0, 145.0));
    assert!(
        (2.0 * narrow.z..=2.0 * wide.z).contains(&apart_mm),
        "{apart_mm} mm"
    );
    // Behind and below the ASIS.
    assert!(narrow.x < 0.0 && narrow.y < 0.0);
}

#[test]
fn the_camera_searchs_prior_stands_as_adults_do() {
    let pipeline = Pipeline::default();
    let problem = Problem {
        views: &[],
        config: &pipeline.camera,
        stature_m: 1.75,
        stature_spread: 0.05,
        offset_s: 0.0,
        offset_sigma_s: 1.0,
    };
    let (ankle, ankle_spread) = problem.point_prior(StillPoint::AnkleLead);
    let tabled = ANKLE_HEIGHT * 1.75;
    assert!(
        (ankle.z - tabled).abs() < 2.0 * ankle_spread.z,
        "{}",
        ankle.z
    );
    // Knees flexed by 20 to 30 degrees and a bowed pelvis lower the hips by up to a tenth.
    let (hips, _) = problem.point_prior(StillPoint::HipMiddle);
    let lowered = hips.z / (HIP_HEIGHT * 1.75);
    assert!((0.88..1.0).contains(&lowered), "{lowered}");
    let (head, _) = problem.point_prior(StillPoint::Head);
    assert!(head.z > hips.z && head.z < 1.75);
}
