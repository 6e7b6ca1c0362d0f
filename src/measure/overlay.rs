//! The fused body as each view's camera sees it, for drawing.

use nalgebra::{Matrix3, Vector2, Vector3};

use super::estimate::Estimator;
use super::prepare::Prepared;
use crate::body::{Overlay, OverlayFrame, SegmentPose};
use crate::camera::{CameraFit, camera_from_crop};
use crate::pair::{Instant, ViewSeries};
use crate::pose::{TorsoPoint, landmark};

/// Half-width of the smoothing of drawn points, in frames: enough to stop the eye's flicker.
const SMOOTH_FRAMES: usize = 2;

/// One overlay a view, in the picture as it was filmed (a left-hander is mirrored back).
pub fn overlays(prepared: &Prepared, fit: &CameraFit, estimator: &Estimator<'_>) -> Vec<Overlay> {
    prepared
        .views
        .iter()
        .enumerate()
        .map(|(v, view)| Overlay {
            role: view.role,
            file: view.file.clone(),
            frames: (0..view.instants.len())
                .map(|i| frame(view, v, i, fit, estimator))
                .collect(),
        })
        .collect()
}

fn smoothed_points(view: &ViewSeries, i: usize) -> Vec<[f64; 2]> {
    let flip = |x: f64| if view.mirrored { view.size_px.x - x } else { x };
    let a = i.saturating_sub(SMOOTH_FRAMES);
    let b = (i + SMOOTH_FRAMES + 1).min(view.instants.len());
    let near = &view.instants[a..b];
    (0..TorsoPoint::COUNT)
        .map_while(|p| {
            // Mirroring swapped the sides: swap them back for the picture.
            let source = if view.mirrored {
                TorsoPoint::swapped(p)
            } else {
                p
            };
            let seen: Vec<Vector2<f64>> = near
                .iter()
                .filter_map(|n: &Instant| n.points.get(source).copied().flatten().map(|s| s.0))
                .collect();
            let n = seen.len() as f64;
            (n > 0.0).then(|| {
                let mean = seen.iter().fold(Vector2::zeros(), |s, p| s + p) / n;
                [flip(mean.x), mean.y]
            })
        })
        .collect()
}

/// The landmarks of the face, as filmed.
fn face_points(view: &ViewSeries, instant: &Instant) -> Vec<[f64; 2]> {
    let flip = |x: f64| if view.mirrored { view.size_px.x - x } else { x };
    instant
        .landmarks
        .iter()
        .take(landmark::FACE)
        .filter_map(|seen| seen.map(|(at, _)| [flip(at.x), at.y]))
        .collect()
}

fn frame(
    view: &ViewSeries,
    v: usize,
    i: usize,
    fit: &CameraFit,
    estimator: &Estimator<'_>,
) -> OverlayFrame {
    let instant = &view.instants[i];
    let time_s = instant.time_s + if v == 0 { 0.0 } else { fit.offset_s };
    let points_px = smoothed_points(view, i);
    let camera = &fit.views[v].camera;
    // Pixels a metre at the golfer: by the camera's distance from the golfer's feet.
    let depth_m = camera.position_m.xy().norm().max(0.5);
    let px_per_m = camera.focal_px / depth_m;
    let middle = |a: TorsoPoint, b: TorsoPoint| -> Option<[f64; 2]> {
        let (a, b) = (points_px.get(a as usize)?, points_px.get(b as usize)?);
        Some([(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0])
    };
    let pose = |fused: &crate::body::Fused, centre: Option<[f64; 2]>| -> Option<SegmentPose> {
        let centre_px = centre?;
        let state = fused.at(time_s)?;
        let unflipped = if view.mirrored {
            view.size_px.x - centre_px[0]
        } else {
            centre_px[0]
        };
        let ray = camera.ray_in_camera(&Vector2::new(unflipped, centre_px[1]));
        let world_from_looking = camera.world_from_camera * camera_from_crop(&ray);
        let m = (world_from_looking.inverse() * state.world_from_segment).into_inner();
        // Mirror the picture only: the drawn lead axis stays the lead axis.
        let f = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, 1.0));
        Some(SegmentPose {
            centre_px,
            px_per_m,
            depth_m,
            camera_from_segment: if view.mirrored { f * m } else { m },
        })
    };
    OverlayFrame {
        index: instant.index,
        clip_time_s: instant.time_s * view.time_scale,
        time_s,
        segments: [
            pose(
                &estimator.body.pelvis,
                middle(TorsoPoint::HipL, TorsoPoint::HipR),
            ),
            pose(
                &estimator.body.thorax,
                middle(TorsoPoint::ShoulderL, TorsoPoint::ShoulderR),
            ),
        ],
        points_px,
        face_px: face_points(view, instant),
    }
}
