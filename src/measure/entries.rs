//! What a result says of the clips that it rests on and of the cameras that filmed them.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use super::prepare::Prepared;
use crate::camera::{CameraFit, FittedView};
use crate::interval::Z95;
use crate::math::series::nearest;
use crate::pair::ViewSeries;
use crate::result::{CameraEntry, Estimate, ViewEntry};
use crate::swing::EventTime;
use crate::terms::Event;

/// One entry a view, in their order.
pub fn view_entries(
    prepared: &Prepared,
    fit: &CameraFit,
    times: &BTreeMap<Event, EventTime>,
) -> Vec<ViewEntry> {
    let at = |event| times.get(&event).map(|t| t.time_s);
    let from = at(Event::Address).unwrap_or(f64::NEG_INFINITY);
    let to = at(Event::Finish).unwrap_or(f64::INFINITY);
    // A sampled still frame counts as read when its neighbour was.
    let neighbour_s = 2.2 * prepared.pipeline.pose.still_every_s;
    let each = prepared.views.iter().zip(&fit.views).enumerate();
    each.map(|(i, (view, fitted))| {
        let offset_s = if i == 0 { 0.0 } else { fit.offset_s };
        let file = view.file.file_name().unwrap_or_default();
        ViewEntry {
            role: view.role,
            file: file.to_string_lossy().into_owned(),
            sha256: view.sha256.clone(),
            filmed_unix_s: view.filmed_unix_s,
            fps: view.fps,
            offset_s,
            offset_half_width_s: (i > 0).then_some(Z95 * fit.offset_sigma_s),
            time_scale: view.time_scale,
            width: view.size_px.x as u32,
            height: view.size_px.y as u32,
            coverage: coverage(view, offset_s, &(from..=to), neighbour_s),
            camera: Some(camera_entry(view, fitted)),
        }
    })
    .collect()
}

/// Share of the frames within `span`, seconds on the result's clock, that have a reading within
/// `neighbour_s`; 0 where there are none.
fn coverage(view: &ViewSeries, offset_s: f64, span: &RangeInclusive<f64>, neighbour_s: f64) -> f64 {
    let seen = view.instants.iter().filter(|x| x.rotation.is_some());
    let read: Vec<f64> = seen.map(|x| x.time_s).collect();
    let covered = |t: &f64| nearest(&read, *t).is_some_and(|k| (read[k] - t).abs() < neighbour_s);
    let inside = view.frame_times_s.iter();
    let inside: Vec<f64> = inside
        .copied()
        .filter(|t| span.contains(&(t + offset_s)))
        .collect();
    let n = inside.iter().filter(|t| covered(t)).count();
    n as f64 / inside.len().max(1) as f64
}

fn camera_entry(view: &ViewSeries, fitted: &FittedView) -> CameraEntry {
    let angle = |value: f64, sigma: f64| {
        let (v, s) = (value.to_degrees(), Z95 * sigma.to_degrees());
        Estimate::new(v, v - s, v + s)
    };
    let m = fitted.camera.world_from_camera.inverse().into_inner();
    let from_file = view.focal_px.is_some();
    CameraEntry {
        focal_px: fitted.camera.focal_px,
        focal_from: if from_file { "file" } else { "swing and prior" }.to_owned(),
        azimuth_off_role: angle(fitted.attitude.azimuth, fitted.sigma.azimuth),
        pitch: angle(fitted.attitude.pitch, fitted.sigma.pitch),
        roll: angle(fitted.attitude.roll, fitted.sigma.roll),
        distance_m: Some(fitted.camera.position_m.norm()),
        camera_from_world: [0, 1, 2].map(|i| [m[(i, 0)], m[(i, 1)], m[(i, 2)]]),
    }
}
