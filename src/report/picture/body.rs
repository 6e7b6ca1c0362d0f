//! Hips and shoulders (rib cage) as bars seen in perspective, joints as points.

use nalgebra::Vector3;

use super::{Canvas, Ink};
use crate::body::{OverlayFrame, SegmentPose};
use crate::config::ReportConfig;
use crate::pose::TorsoPoint as P;

/// Limbs drawn as thin lines, from point to point.
const LIMBS: [(P, P); 10] = [
    (P::HipL, P::KneeL),
    (P::KneeL, P::AnkleL),
    (P::HipR, P::KneeR),
    (P::KneeR, P::AnkleR),
    (P::ShoulderL, P::ElbowL),
    (P::ElbowL, P::WristL),
    (P::ShoulderR, P::ElbowR),
    (P::ElbowR, P::WristR),
    (P::ShoulderL, P::ShoulderR),
    (P::HipL, P::HipR),
];

const JOINTS: [P; 14] = [
    P::HipL,
    P::HipR,
    P::KneeL,
    P::KneeR,
    P::AnkleL,
    P::AnkleR,
    P::ShoulderL,
    P::ShoulderR,
    P::ElbowL,
    P::ElbowR,
    P::WristL,
    P::WristR,
    P::Neck,
    P::Head,
];

/// Draws one frame's body. `scale` is canvas pixels per display pixel of the clip.
pub fn draw_body(canvas: &mut Canvas, frame: &OverlayFrame, scale: f64, config: &ReportConfig) {
    let unit = canvas.unit();
    if frame.points_px.len() == P::COUNT {
        let at = |p: P| {
            let q = (*frame.points_px.get(p as usize)?)?;
            Some([(q[0] * scale) as f32, (q[1] * scale) as f32])
        };
        for (a, b) in LIMBS.into_iter().filter_map(|(a, b)| at(a).zip(at(b))) {
            canvas.line(&[a, b], unit * 0.22, Ink::CASING, 150);
            canvas.line(&[a, b], unit * 0.11, Ink::PAPER, 200);
        }
        for p in JOINTS.into_iter().filter_map(at) {
            canvas.disc(p, unit * 0.23, Ink::CASING, 220);
            canvas.disc(p, unit * 0.15, Ink::PAPER, 255);
        }
    }
    let looks = [
        (config.pelvis_half_width_m, Ink::PELVIS, false),
        (config.thorax_half_width_m, Ink::THORAX, true),
    ];
    for (segment, (half_m, rgb, slit)) in frame.segments.iter().zip(looks) {
        if let Some(pose) = segment {
            draw_bar(canvas, pose, half_m, rgb, slit, scale);
        }
    }
}

/// A bar along the segment's left-right axis: thicker where it is nearer, a ball at the lead end,
/// a pointer towards the golfer's front.
fn draw_bar(
    canvas: &mut Canvas,
    pose: &SegmentPose,
    half_m: f64,
    rgb: [u8; 3],
    slit: bool,
    scale: f64,
) {
    let unit = canvas.unit();
    let at = |p: [f64; 3]| {
        let q = pose.project(p);
        [(q[0] * scale) as f32, (q[1] * scale) as f32]
    };
    // Thickness follows the perspective, so that the near end is told from the far one.
    let near = |p: [f64; 3]| {
        let z = (pose.camera_from_segment * Vector3::from(p)).z;
        // The picture's own shrinking is too small to see at 3 m or more: twice it is drawn.
        (1.0 - 2.0 * z / pose.depth_m.max(0.5)).clamp(0.5, 1.8) as f32
    };
    let (trail, lead) = ([-half_m, 0.0, 0.0], [half_m, 0.0, 0.0]);
    let (a, b) = (at(trail), at(lead));
    let (wa, wb) = (unit * 0.36 * near(trail), unit * 0.36 * near(lead));
    let front = at([0.0, -0.6 * half_m, 0.0]);
    let middle = at([0.0, 0.0, 0.0]);
    canvas.line(&[middle, front], unit * 0.42, Ink::CASING, 220);
    canvas.line(&[middle, front], unit * 0.2, rgb, 255);
    canvas.disc(front, unit * 0.26, Ink::CASING, 220);
    canvas.disc(front, unit * 0.16, rgb, 255);
    let casing = unit * 0.16;
    taper(canvas, a, b, wa + casing, wb + casing, Ink::CASING);
    canvas.disc(b, wb * 1.5 + casing, Ink::CASING, 230);
    taper(canvas, a, b, wa, wb, rgb);
    if slit {
        canvas.line(&[a, b], unit * 0.14, Ink::CASING, 255);
    }
    canvas.disc(b, wb * 1.5, rgb, 255);
    canvas.disc(b, wb * 0.6, Ink::CASING, 255);
}

fn taper(canvas: &mut Canvas, a: [f32; 2], b: [f32; 2], wa: f32, wb: f32, rgb: [u8; 3]) {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx.hypot(dy);
    canvas.disc(a, wa, rgb, 235);
    if length < 0.5 {
        return;
    }
    let (nx, ny) = (-dy / length, dx / length);
    canvas.polygon(
        &[
            [a[0] + nx * wa, a[1] + ny * wa],
            [b[0] + nx * wb, b[1] + ny * wb],
            [b[0] - nx * wb, b[1] - ny * wb],
            [a[0] - nx * wa, a[1] - ny * wa],
        ],
        rgb,
        235,
    );
}
