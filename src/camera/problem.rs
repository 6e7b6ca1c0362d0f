//! The unknowns of the camera search and their order in the parameter vector.

use nalgebra::{DVector, Vector2, Vector3};

use super::model::{Attitude, Camera};
use super::view_data::{STILL_POINTS, StillPoint, ViewData};
use crate::config::CameraConfig;

/// Unknowns of one camera: azimuth, pitch, roll (radians), log of focal length, place (metres).
pub const PER_VIEW: usize = 7;
/// Unknowns of one still point: place, metres.
pub const PER_POINT: usize = 3;

/// Where each unknown stands in the parameter vector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    views: usize,
}

impl Layout {
    pub fn view(self, v: usize) -> usize {
        v * PER_VIEW
    }

    pub fn point(self, p: StillPoint) -> usize {
        self.views * PER_VIEW + p as usize * PER_POINT
    }

    /// Index of the second view's time offset; there is one only with two views.
    pub fn offset(self) -> Option<usize> {
        (self.views == 2).then(|| self.views * PER_VIEW + STILL_POINTS * PER_POINT)
    }

    pub fn size(self) -> usize {
        self.views * PER_VIEW + STILL_POINTS * PER_POINT + usize::from(self.views == 2)
    }
}

/// Everything that the search is given.
#[derive(Clone, Debug)]
pub struct Problem<'a> {
    /// What each view saw; one or two.
    pub views: &'a [ViewData],
    /// Priors and weights.
    pub config: &'a CameraConfig,
    /// Metres; typed in or the prior's.
    pub stature_m: f64,
    /// Standard deviation of the stature over its value.
    pub stature_spread: f64,
    /// First guess of the second view's offset (seconds to add to its clock) and its sigma.
    pub offset_s: f64,
    /// Standard deviation of that guess, seconds.
    pub offset_sigma_s: f64,
}

impl Problem<'_> {
    pub(super) fn layout(&self) -> Layout {
        Layout {
            views: self.views.len(),
        }
    }

    /// Focal length and the standard deviation of its logarithm: the file's word, else the prior.
    pub fn focal_prior(&self, v: usize) -> (f64, f64) {
        let view = &self.views[v];
        match view.focal_px {
            Some(f) => (f, self.config.focal_metadata_spread),
            None => (
                self.config.focal_prior_over_long_side * view.size_px.max(),
                self.config.focal_prior_spread,
            ),
        }
    }

    /// Attitude of view `v` at parameters `x`.
    pub fn attitude(&self, x: &DVector<f64>, v: usize) -> Attitude {
        let i = self.layout().view(v);
        Attitude {
            azimuth: x[i],
            pitch: x[i + 1],
            roll: x[i + 2],
        }
    }

    /// Camera of view `v` at parameters `x`.
    pub fn camera(&self, x: &DVector<f64>, v: usize) -> Camera {
        let i = self.layout().view(v);
        let view = &self.views[v];
        Camera {
            focal_px: x[i + 3].exp(),
            centre_px: Vector2::new(view.size_px.x / 2.0, view.size_px.y / 2.0),
            world_from_camera: self.attitude(x, v).world_from_camera(view.role),
            position_m: Vector3::new(x[i + 4], x[i + 5], x[i + 6]),
        }
    }

    /// Place of a still point at parameters `x`, metres in the world.
    pub fn point(&self, x: &DVector<f64>, p: StillPoint) -> Vector3<f64> {
        let i = self.layout().point(p);
        Vector3::new(x[i], x[i + 1], x[i + 2])
    }

    /// Prior place and spread (metres, by axis) of each still point at address, from stature.
    ///
    /// Ankle height 0.039, hip height 0.53 of stature: Drillis and Contini (1966) as tabled in
    /// Winter, Biomechanics and Motor Control of Human Movement; hips lowered by flexed knees.
    /// Stance, toes and head: common practice, no source.
    pub fn point_prior(&self, p: StillPoint) -> (Vector3<f64>, Vector3<f64>) {
        use StillPoint as P;
        let (at, spread) = match p {
            P::AnkleLead => ([0.14, 0.0, 0.039], [0.047, 0.03, 0.009]),
            P::AnkleTrail => ([-0.14, 0.0, 0.039], [0.047, 0.03, 0.009]),
            P::ToeLead => ([0.163, -0.058, 0.007], [0.052, 0.035, 0.007]),
            P::ToeTrail => ([-0.163, -0.058, 0.007], [0.052, 0.035, 0.007]),
            P::HipMiddle => ([0.0, 0.04, 0.49], [0.05, 0.06, 0.02]),
            P::Head => ([0.0, -0.18, 0.86], [0.06, 0.10, 0.035]),
        };
        let at = Vector3::from(at) * self.stature_m;
        let mut spread = Vector3::from(spread) * self.stature_m;
        spread.z = spread.z.hypot(at.z * self.stature_spread);
        (at, spread)
    }

    /// Where the search starts: cameras level, where they are expected, at the prior's height and distance.
    pub fn start(&self) -> DVector<f64> {
        let layout = self.layout();
        let mut x = DVector::zeros(layout.size());
        for p in StillPoint::ALL {
            let (at, _) = self.point_prior(p);
            for k in 0..3 {
                x[layout.point(p) + k] = at[k];
            }
        }
        for (v, view) in self.views.iter().enumerate() {
            let i = layout.view(v);
            let (focal, _) = self.focal_prior(v);
            x[i + 3] = focal.ln();
            // Distance from the picture height between hips and ankles.
            let hip = view.still[StillPoint::HipMiddle as usize].map(|(p, _)| p.y);
            let ankle = view.still[StillPoint::AnkleLead as usize]
                .or(view.still[StillPoint::AnkleTrail as usize])
                .map(|(p, _)| p.y);
            let distance = match (hip, ankle) {
                (Some(h), Some(a)) if a - h > 1.0 => {
                    (focal * 0.45 * self.stature_m / (a - h)).clamp(1.0, 15.0)
                }
                _ => self.config.distance_prior_m,
            };
            x[i] = view.azimuth;
            let expected = Attitude {
                azimuth: view.azimuth,
                ..Attitude::default()
            };
            let ahead = expected.world_from_camera(view.role) * Vector3::z();
            x[i + 4] = -ahead.x * distance;
            x[i + 5] = -ahead.y * distance;
            x[i + 6] = self.config.height_prior_m;
            // Pitch so that the hips are where they are seen.
            if let Some((p, _)) = view.still[StillPoint::HipMiddle as usize] {
                let below = (p.y - view.size_px.y / 2.0) / focal;
                let elevation = (0.49 * self.stature_m - self.config.height_prior_m) / distance;
                x[i + 1] = elevation.atan() + below.atan();
            }
        }
        if let Some(i) = layout.offset() {
            x[i] = self.offset_s;
        }
        x
    }
}
