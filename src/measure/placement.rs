//! The body under a placement of the cameras: the fit's own, or one moved a little.

use super::prepare::Prepared;
use crate::body::{ViewReadings, WorldJoint, fuse, knee_flexion, triangulate};
use crate::camera::{Attitude, Camera, CameraFit, PARAMETERS};
use crate::config::{Pipeline, Segment};
use crate::math::series::between;
use crate::pair::{Instant, RotationSample, ViewSeries};
use crate::pose::{TorsoPoint, landmark};
use crate::swing::{Body, Limbs, line_turn};

/// Attitudes and offset that a body is built with: the fit's, or moved a little.
#[derive(Clone, Debug)]
pub struct Placement {
    pub cameras: Vec<Camera>,
    pub offset_s: f64,
}

impl Placement {
    pub fn of(fit: &CameraFit) -> Self {
        Self {
            cameras: fit.views.iter().map(|v| v.camera).collect(),
            offset_s: fit.offset_s,
        }
    }

    /// The fit with parameter `k` of its covariance moved by `step`.
    pub fn moved(fit: &CameraFit, prepared: &Prepared, k: usize, step: f64) -> Self {
        let mut p = Self::of(fit);
        for (v, camera) in p.cameras.iter_mut().enumerate() {
            camera.position_m += fit.places.fixed_view::<3, 1>(3 * v, k) * step;
        }
        let view = k / PARAMETERS;
        match (fit.views.get(view), prepared.views.get(view)) {
            (Some(fitted), Some(series)) => {
                let mut a: Attitude = fitted.attitude;
                match k % PARAMETERS {
                    0 => a.azimuth += step,
                    1 => a.pitch += step,
                    2 => a.roll += step,
                    _ => p.cameras[view].focal_px *= step.exp(),
                }
                p.cameras[view].world_from_camera = a.world_from_camera(series.role);
            }
            _ => p.offset_s += step,
        }
        p
    }
}

/// Builds the body from the views under a placement.
pub fn build_body(prepared: &Prepared, placement: &Placement, pipeline: &Pipeline) -> Body {
    let samples: Vec<Vec<RotationSample>> = prepared
        .views
        .iter()
        .map(|v| {
            v.instants
                .iter()
                .filter_map(|i| i.rotation.clone())
                .collect()
        })
        .collect();
    let readings: Vec<ViewReadings<'_>> = samples
        .iter()
        .zip(&placement.cameras)
        .enumerate()
        .map(|(i, (s, camera))| ViewReadings {
            role: prepared.views[i].role,
            samples: s,
            camera,
            offset_s: if i == 0 { 0.0 } else { placement.offset_s },
        })
        .collect();
    let from_s = prepared.swings.first().map_or(0.0, |s| s.begins_s());
    let of = |segment| {
        fuse(
            &readings,
            segment,
            from_s,
            &pipeline.learned,
            &pipeline.body,
        )
    };
    let (pelvis, of_pelvis) = of(Segment::Pelvis);
    let (thorax, of_thorax) = of(Segment::Thorax);
    Body {
        pelvis,
        thorax,
        beliefs: [of_pelvis, of_thorax],
        limbs: limbs(prepared, placement, pipeline),
        limb_half_s: pipeline.swing.limb_half_window_s,
    }
}

/// Joints of two views in the world.
pub struct WorldJoints<'a> {
    pub views: &'a [ViewSeries],
    pub placement: &'a Placement,
    /// When the second view's instants are, seconds on its own clock.
    times_b: Vec<f64>,
    max_gap_s: f64,
}

impl<'a> WorldJoints<'a> {
    pub fn new(views: &'a [ViewSeries], placement: &'a Placement, max_gap_s: f64) -> Self {
        let times_b = |v: &ViewSeries| v.instants.iter().map(|i| i.time_s).collect();
        Self {
            views,
            placement,
            times_b: views.get(1).map_or_else(Vec::new, times_b),
            max_gap_s,
        }
    }

    /// A joint at an instant of the first view; `None` where the second does not see it.
    pub fn at(&self, instant: &Instant, joint: TorsoPoint) -> Option<WorldJoint> {
        let [_, second] = self.views else { return None };
        let t = instant.time_s - self.placement.offset_s;
        let (i, next, f) = between(&self.times_b, t, self.max_gap_s)?;
        let seen = |k: usize| second.instants.get(k)?.point(joint);
        let (pa, sigma_a) = instant.point(joint)?;
        let (p0, sigma_b) = seen(i)?;
        let (p1, _) = seen(next)?;
        let pb = p0 + (p1 - p0) * f;
        let [a, b] = self.placement.cameras.as_slice() else {
            return None;
        };
        triangulate(&[(a, pa, sigma_a), (b, pb, sigma_b)])
    }
}

fn limbs(prepared: &Prepared, placement: &Placement, pipeline: &Pipeline) -> Limbs {
    let mut out = Limbs::default();
    let Some(first) = prepared.views.first() else {
        return out;
    };
    let joints = WorldJoints::new(&prepared.views, placement, pipeline.body.max_gap_s);
    for instant in &first.instants {
        out.time_s.push(instant.time_s);
        if prepared.views.len() > 1 {
            use TorsoPoint as P;
            let at = |joint| joints.at(instant, joint);
            let knee = |hip, knee, ankle| knee_flexion(&at(hip)?, &at(knee)?, &at(ankle)?);
            out.series[0].push(knee(P::HipL, P::KneeL, P::AnkleL));
            out.series[1].push(knee(P::HipR, P::KneeR, P::AnkleR));
            let shoulders = at(P::ShoulderL).zip(at(P::ShoulderR));
            out.series[2].push(shoulders.and_then(|(l, t)| line_turn(&l, &t)));
        } else {
            let sigma = pipeline.swing.single_view_knee_sigma_deg.to_radians();
            for side in 0..2 {
                out.series[side].push(world_knee(instant, side).map(|v| (v, sigma * sigma)));
            }
            out.series[2].push(None);
        }
    }
    out
}

/// Knee flexion from the landmark network's own 3D points, radians.
fn world_knee(instant: &Instant, side: usize) -> Option<f64> {
    let at = |l: [usize; 2]| instant.world_m.get(l[side]);
    let (hip, knee, ankle) = (
        at(landmark::HIP)?,
        at(landmark::KNEE)?,
        at(landmark::ANKLE)?,
    );
    let u = (hip - knee).try_normalize(1e-6)?;
    let w = (ankle - knee).try_normalize(1e-6)?;
    Some(std::f64::consts::PI - u.dot(&w).clamp(-1.0, 1.0).acos())
}
