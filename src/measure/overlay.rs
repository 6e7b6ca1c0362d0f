//! The fused body as each view's camera sees it, for drawing.

use nalgebra::{Matrix3, Vector2, Vector3};

use super::prepare::Prepared;
use crate::body::{Overlay, OverlayFrame, SegmentPose};
use crate::camera::{CameraFit, camera_from_crop};
use crate::interval::Estimator;
use crate::pair::{Instant, ViewSeries};
use crate::pose::{TorsoPoint, landmark};

/// Half-width of the smoothing of drawn points, in frames that were read: enough to stop the eye's
/// flicker.
const SMOOTH_FRAMES: usize = 2;
/// Frames farther away than this, seconds, show another pose.
const SMOOTH_S: f64 = 0.04;

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

fn smoothed_points(view: &ViewSeries, i: usize) -> Vec<Option<[f64; 2]>> {
    let flip = |x: f64| if view.mirrored { view.size_px.x - x } else { x };
    let a = i.saturating_sub(SMOOTH_FRAMES);
    let b = (i + SMOOTH_FRAMES + 1).min(view.instants.len());
    let now_s = view.instants[i].time_s;
    let near: Vec<&Instant> = view.instants[a..b]
        .iter()
        .filter(|n| (n.time_s - now_s).abs() <= SMOOTH_S)
        .collect();
    // Limbs without a trunk are no body to draw.
    if near.iter().all(|n| n.point(TorsoPoint::HipL).is_none()) {
        return Vec::new();
    }
    (0..TorsoPoint::COUNT)
        .map(|p| {
            // Mirroring swapped the sides: swap them back for the picture.
            let source = if view.mirrored {
                TorsoPoint::swapped(p)
            } else {
                p
            };
            let source = TorsoPoint::ALL[source];
            let seen: Vec<Vector2<f64>> = near
                .iter()
                .filter_map(|n| n.point(source).map(|s| s.0))
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
        let at = |p: TorsoPoint| points_px.get(p as usize).copied().flatten();
        let (a, b) = (at(a)?, at(b)?);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clip::ClipInfo;
    use crate::pose::{Keypoint, Observation, Person, Region, TorsoReading, ViewTrack};
    use crate::terms::Role;

    const WIDTH: f64 = 400.0;

    /// One frame of a track in which everything is somewhere else: landmark i at (i, 100), point i
    /// of the torso network at (i, 300); the landmark `hidden` is out of the picture.
    fn track(hidden: usize, torso: bool) -> ViewTrack {
        let landmarks = (0..landmark::COUNT)
            .map(|i| Keypoint {
                x_px: i as f64,
                y_px: 100.0,
                visibility: 1.0,
                presence: if i == hidden { 0.0 } else { 1.0 },
            })
            .collect();
        let torso = torso.then(|| TorsoReading {
            region: Region::default(),
            crop_from_segment: [Matrix3::identity(); 2],
            log_sigma: [[-3.0; 3]; 2],
            points_px: (0..TorsoPoint::COUNT).map(|i| [i as f64, 300.0]).collect(),
            scale_px: vec![[1.0; 2]; TorsoPoint::COUNT],
        });
        ViewTrack {
            info: ClipInfo {
                width: WIDTH as u32,
                height: 500,
                fps: 60.0,
                ..ClipInfo::default()
            },
            observations: vec![Observation {
                person: Some(Person {
                    landmarks,
                    torso,
                    ..Person::default()
                }),
                ..Observation::default()
            }],
            ..ViewTrack::default()
        }
    }

    /// A right-hander's and a left-hander's view of the same picture are drawn alike.
    fn drawn(hidden: usize, torso: bool) -> Vec<Option<[f64; 2]>> {
        let [right, left] = [false, true].map(|mirror| {
            let view = ViewSeries::new(&track(hidden, torso), Role::FaceOn, 1.0, mirror, 0.01);
            smoothed_points(&view, 0)
        });
        assert_eq!(right, left);
        right
    }

    #[test]
    fn limbs_are_the_landmark_networks_and_the_trunk_the_torso_networks_whichever_hand() {
        use TorsoPoint as P;
        let points = drawn(landmark::WRIST[1], true);
        assert_eq!(points.len(), P::COUNT);
        for (p, i) in [
            (P::KneeL, landmark::KNEE[0]),
            (P::KneeR, landmark::KNEE[1]),
            (P::AnkleL, landmark::ANKLE[0]),
            (P::AnkleR, landmark::ANKLE[1]),
            (P::ElbowL, landmark::ELBOW[0]),
            (P::ElbowR, landmark::ELBOW[1]),
            (P::WristL, landmark::WRIST[0]),
        ] {
            assert_eq!(points[p as usize], Some([i as f64, 100.0]), "{p:?}");
        }
        assert_eq!(points[P::WristR as usize], None, "hidden");
        for p in [P::HipL, P::HipR, P::ShoulderL, P::ShoulderR, P::Head] {
            assert_eq!(
                points[p as usize],
                Some([p as usize as f64, 300.0]),
                "{p:?}"
            );
        }
    }

    #[test]
    fn without_a_trunk_no_limbs_are_drawn() {
        assert_eq!(drawn(landmark::NOSE, false), Vec::new());
    }
}
