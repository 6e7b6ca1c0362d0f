//! OpenCV: projection, triangulation and camera pose.

use nalgebra::{Rotation3, Vector3};
use quarterturn::body::triangulate;
use quarterturn::camera::{Attitude, Camera};
use quarterturn::terms::Role;
use serde_json::Value;

use crate::reference::{geometry, list, matrix3, number, vector2, vector3};

/// A camera from this project's own words: role, azimuth, pitch, roll, place.
fn by_attitude(c: &Value) -> Camera {
    let radians = |key: &str| number(&c[key]).to_radians();
    let role = match c["role"].as_str() {
        Some("face_on") => Role::FaceOn,
        _ => Role::DownTheLine,
    };
    Camera {
        focal_px: number(&c["focal_px"]),
        centre_px: vector2(&c["centre_px"]),
        world_from_camera: Attitude {
            azimuth: radians("azimuth_deg"),
            pitch: radians("pitch_deg"),
            roll: radians("roll_deg"),
        }
        .world_from_camera(role),
        position_m: vector3(&c["position_m"]),
    }
}

/// The same camera from OpenCV's pose.
fn by_pose(c: &Value, rvec: &Value, tvec: &Value) -> Camera {
    let to_camera = Rotation3::from_scaled_axis(vector3(rvec));
    Camera {
        focal_px: number(&c["focal_px"]),
        centre_px: vector2(&c["centre_px"]),
        world_from_camera: to_camera.inverse(),
        position_m: -(to_camera.inverse() * vector3(tvec)),
    }
}

#[test]
fn pixels_are_those_of_project_points() {
    let g = geometry();
    for (c, pixels) in list(&g["cameras"]).iter().zip(list(&g["pixels"])) {
        let camera = by_attitude(c);
        let turned = camera.world_from_camera.matrix() - matrix3(&c["world_from_camera"]);
        assert!(turned.norm() < 1e-9, "attitude of {c}");
        for (point, seen) in list(&g["points_m"]).iter().zip(list(pixels)) {
            let ours = camera.project(&vector3(point)).expect("in front");
            assert!((ours - vector2(seen)).norm() < 1e-6, "{ours} {seen}");
        }
    }
}

#[test]
fn a_ray_through_a_pixel_of_project_points_meets_its_point() {
    let g = geometry();
    for (c, pixels) in list(&g["cameras"]).iter().zip(list(&g["pixels"])) {
        let camera = by_attitude(c);
        for (point, seen) in list(&g["points_m"]).iter().zip(list(pixels)) {
            let to_point = vector3(point) - camera.position_m;
            let ray = camera.ray(&vector2(seen));
            assert!(ray.cross(&to_point).norm() < 1e-8);
            assert!(ray.dot(&to_point) > 0.0);
        }
    }
}

/// Without noise the points are the same. With two pixels of noise (8 mm at 4 m) the two methods
/// differ: OpenCV makes an algebraic misfit small, ours the weighed distances from the rays. They
/// part by less than the noise.
#[test]
fn points_are_those_of_triangulate_points() {
    let g = geometry();
    let cameras: Vec<Camera> = list(&g["cameras"]).iter().map(by_attitude).collect();
    for case in list(&g["triangulated"]) {
        let noise = number(&case["noise_px"]);
        let pick = |k: usize| &cameras[case["cameras"][k].as_u64().expect("an index") as usize];
        let (a, b) = (pick(0), pick(1));
        let limit_m = if noise == 0.0 { 1e-6 } else { 0.008 };
        for (i, theirs) in list(&case["points_m"]).iter().enumerate() {
            let ours = triangulate(&[
                (a, vector2(&case["pixels"][0][i]), 2.0),
                (b, vector2(&case["pixels"][1][i]), 2.0),
            ])
            .expect("crossing rays");
            let apart = (ours.at - vector3(theirs)).norm();
            assert!(apart < limit_m, "{apart} m with {noise} px of noise");
        }
    }
}

/// The stated covariance holds for OpenCV's points too: their squared distances from the truth in
/// units of it are those of three degrees of freedom.
#[test]
fn the_covariance_of_a_point_is_as_wide_as_its_errors() {
    let g = geometry();
    let cameras: Vec<Camera> = list(&g["cameras"]).iter().map(by_attitude).collect();
    let mut distances = Vec::new();
    for case in list(&g["triangulated"]) {
        let noise = number(&case["noise_px"]);
        if noise == 0.0 {
            continue;
        }
        let pick = |k: usize| &cameras[case["cameras"][k].as_u64().expect("an index") as usize];
        for (i, point) in list(&g["points_m"]).iter().enumerate() {
            let ours = triangulate(&[
                (pick(0), vector2(&case["pixels"][0][i]), noise),
                (pick(1), vector2(&case["pixels"][1][i]), noise),
            ])
            .expect("crossing rays");
            let error = vector3(&case["points_m"][i]) - vector3(point);
            let inverse = ours.covariance.try_inverse().expect("a covariance");
            distances.push((error.transpose() * inverse * error)[0]);
        }
    }
    let mean = distances.iter().sum::<f64>() / distances.len() as f64;
    assert!(
        (1.8..4.5).contains(&mean),
        "{mean} over {}",
        distances.len()
    );
}

#[test]
fn a_pose_of_solve_pnp_means_the_same_camera_here() {
    let g = geometry();
    for pose in list(&g["poses"]) {
        let c = &g["cameras"][pose["camera"].as_u64().expect("an index") as usize];
        let found = by_pose(c, &pose["rvec"], &pose["tvec"]);
        let mut squares = 0.0;
        let points = list(&g["points_m"]);
        for (i, point) in points.iter().enumerate() {
            let ours = found.project(&vector3(point)).expect("in front");
            assert!((ours - vector2(&pose["reprojected"][i])).norm() < 1e-6);
            squares += (ours - vector2(&pose["seen"][i])).norm_squared();
        }
        let rms = (squares / points.len() as f64).sqrt();
        assert!((rms - number(&pose["rms_px"])).abs() < 1e-6);
        // Fourteen points with a pixel of noise fix a camera to a few centimetres and tenths of
        // a degree.
        let made = by_attitude(c);
        assert!((found.position_m - made.position_m).norm() < 0.05);
        let ahead = |k: &Camera| k.world_from_camera * Vector3::z();
        assert!(ahead(&found).angle(&ahead(&made)).to_degrees() < 0.6);
    }
}
