//! A pinhole camera in the world.
//!
//! Camera frame: x right, y down, z into the scene; principal point at the picture's centre,
//! square pixels, no distortion (phones correct theirs in the file).

use nalgebra::{Matrix3, Rotation3, Vector2, Vector3};

use crate::config::Segment;
use crate::pair::RotationSample;
use crate::terms::Role;

/// Attitude of a camera against its role, radians.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Attitude {
    /// Viewing direction against the role's, positive counter-clockwise seen from above.
    pub azimuth: f64,
    /// Positive looking up.
    pub pitch: f64,
    /// Positive when the camera is turned clockwise as seen by the photographer.
    pub roll: f64,
}

/// Viewing direction of a camera exactly in its role, azimuth about Z from X, radians:
/// face-on looks along +Y (from −Y, where the ball is), down-the-line along +X.
pub fn role_azimuth(role: Role) -> f64 {
    match role {
        Role::FaceOn => std::f64::consts::FRAC_PI_2,
        Role::DownTheLine => 0.0,
    }
}

impl Attitude {
    /// `world_from_camera`.
    pub fn world_from_camera(&self, role: Role) -> Rotation3<f64> {
        // Camera axes when looking along +X, level: right = −Y, down = −Z, ahead = +X.
        let level = Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[
            -Vector3::y(),
            -Vector3::z(),
            Vector3::x(),
        ]));
        Rotation3::from_axis_angle(&Vector3::z_axis(), role_azimuth(role) + self.azimuth)
            * level
            * Rotation3::from_axis_angle(&Vector3::x_axis(), self.pitch)
            * Rotation3::from_axis_angle(&Vector3::z_axis(), self.roll)
    }
}

/// A camera with its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// Focal length, pixels of the display picture.
    pub focal_px: f64,
    /// Principal point, pixels.
    pub centre_px: Vector2<f64>,
    /// Turns the camera's axes (right, down, ahead) into the world's.
    pub world_from_camera: Rotation3<f64>,
    /// Metres in the world.
    pub position_m: Vector3<f64>,
}

impl Camera {
    /// `world_from_segment` in a sample, and its covariance (of the rotation vector in the world).
    pub fn world_from_segment(
        &self,
        sample: &RotationSample,
        segment: Segment,
    ) -> (Rotation3<f64>, Matrix3<f64>) {
        let ray = self.ray_in_camera(&sample.crop_centre_px);
        let world_from_crop = self.world_from_camera * camera_from_crop(&ray);
        let s = sample.sigma[segment as usize];
        let variance = Matrix3::from_diagonal(&Vector3::new(s[0] * s[0], s[1] * s[1], s[2] * s[2]));
        let w = world_from_crop.matrix();
        (
            world_from_crop * sample.crop_from_segment[segment as usize],
            w * variance * w.transpose(),
        )
    }

    /// Picture position of a world point, pixels; `None` behind the camera.
    pub fn project(&self, world_m: &Vector3<f64>) -> Option<Vector2<f64>> {
        let p = self.world_from_camera.inverse() * (world_m - self.position_m);
        (p.z > 1e-3).then(|| self.centre_px + Vector2::new(p.x, p.y) * (self.focal_px / p.z))
    }

    /// Unit ray in the camera frame through a pixel.
    pub fn ray_in_camera(&self, px: &Vector2<f64>) -> Vector3<f64> {
        let d = (px - self.centre_px) / self.focal_px;
        Vector3::new(d.x, d.y, 1.0).normalize()
    }

    /// Unit ray in the world through a pixel.
    pub fn ray(&self, px: &Vector2<f64>) -> Vector3<f64> {
        self.world_from_camera * self.ray_in_camera(px)
    }
}

/// `camera_from_crop`: undoes the turn of the torso network's crop camera, which looks through the
/// crop's centre (`ray`, unit, in the camera frame) with its x axis along the picture's.
pub fn camera_from_crop(ray: &Vector3<f64>) -> Rotation3<f64> {
    let x = (Vector3::x() - ray * ray.x).normalize();
    let y = ray.cross(&x);
    Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[x, y, *ray]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_camera_in_role_sees_up_as_up_and_the_golfer_ahead() {
        for (role, place, right) in [
            (Role::FaceOn, Vector3::new(0.0, -4.0, 1.0), Vector3::x()),
            (
                Role::DownTheLine,
                Vector3::new(-4.0, 0.0, 1.0),
                -Vector3::y(),
            ),
        ] {
            let camera = Camera {
                focal_px: 1000.0,
                centre_px: Vector2::new(270.0, 480.0),
                world_from_camera: Attitude::default().world_from_camera(role),
                position_m: place,
            };
            let middle = camera.project(&Vector3::new(0.0, 0.0, 1.0)).expect("ahead");
            assert!((middle - camera.centre_px).norm() < 1e-9);
            let head = camera.project(&Vector3::new(0.0, 0.0, 1.7)).expect("ahead");
            assert!(head.y < middle.y);
            let side = camera
                .project(&(Vector3::new(0.0, 0.0, 1.0) + right * 0.1))
                .expect("ahead");
            assert!(side.x > middle.x, "{role}");
        }
    }

    #[test]
    fn looking_up_lowers_the_scene_in_the_picture() {
        let up = Attitude {
            pitch: 0.1,
            ..Attitude::default()
        }
        .world_from_camera(Role::FaceOn);
        assert!((up * Vector3::z()).z > 0.0);
    }

    #[test]
    fn the_crop_camera_looks_along_its_ray_with_a_level_x_axis() {
        let ray = Vector3::new(0.2, -0.1, 1.0).normalize();
        let r = camera_from_crop(&ray);
        assert!((r * Vector3::z() - ray).norm() < 1e-12);
        assert!((r * Vector3::x()).y.abs() < 0.05);
        assert!((r.matrix().determinant() - 1.0).abs() < 1e-12);
    }
}
