//! The body under a placement of the cameras: the fit's own, or one moved a little.

use super::prepare::Prepared;
use crate::body::{ViewReadings, WorldJoints, fuse, knee_flexion, knee_of_one_view};
use crate::camera::{Attitude, Camera, CameraFit, PARAMETERS};
use crate::config::{Pipeline, Segment};
use crate::pair::{RotationSample, ViewSeries};
use crate::pose::TorsoPoint;
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

    /// The joints that these cameras see in the world.
    pub fn joints<'a>(&'a self, views: &'a [ViewSeries], pipeline: &Pipeline) -> WorldJoints<'a> {
        WorldJoints::new(views, &self.cameras, self.offset_s, pipeline.body.max_gap_s)
    }
}

/// The body under each parameter of the cameras' covariance moved by half a standard deviation, with
/// that step.
pub fn moved_bodies(prepared: &Prepared, fit: &CameraFit, pipeline: &Pipeline) -> Vec<(Body, f64)> {
    (0..fit.covariance.nrows())
        .map(|k| {
            let step = fit.covariance[(k, k)].max(0.0).sqrt().max(1e-6) * 0.5;
            let placement = Placement::moved(fit, prepared, k, step);
            (build_body(prepared, &placement, pipeline), step)
        })
        .collect()
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

fn limbs(prepared: &Prepared, placement: &Placement, pipeline: &Pipeline) -> Limbs {
    let mut out = Limbs::default();
    let Some(first) = prepared.views.first() else {
        return out;
    };
    let joints = placement.joints(&prepared.views, pipeline);
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
                let knee = knee_of_one_view(instant, side);
                out.series[side].push(knee.map(|v| (v, sigma * sigma)));
            }
            out.series[2].push(None);
        }
    }
    out
}
