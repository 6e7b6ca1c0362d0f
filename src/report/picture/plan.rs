//! The plan view as an inset: both bars seen from above, with their intervals as wedges.

use super::{Canvas, Ink, Readings};
use crate::result::Estimate;
use crate::terms::Handedness;

/// Draws the inset into the lower right corner, above the line of time.
pub fn draw_plan(canvas: &mut Canvas, readings: &Readings, hand: Handedness) {
    if readings.pelvis.told().is_none() && readings.thorax.told().is_none() {
        return;
    }
    let u = canvas.unit();
    let r = u * 3.6;
    let centre = [
        canvas.width() as f32 - r - u * 0.8,
        canvas.height() as f32 - r - u * 3.4,
    ];
    let side = hand.side() as f32;
    let at = |deg: f64, reach: f32| {
        let a = deg.to_radians() as f32;
        [
            centre[0] + side * reach * a.cos(),
            centre[1] + reach * a.sin(),
        ]
    };
    canvas.disc(centre, r * 1.12, Ink::CASING, 205);
    canvas.ring(centre, r, u * 0.08, Ink::PAPER, 170);
    canvas.line(&[at(0.0, r), at(180.0, r)], u * 0.06, Ink::PAPER, 120);
    for i in 0..12 {
        let deg = f64::from(i) * 30.0;
        let inner = if i % 3 == 0 { 0.86 } else { 0.92 };
        canvas.line(&[at(deg, r), at(deg, r * inner)], u * 0.1, Ink::PAPER, 220);
    }
    let bars = [
        (readings.thorax, r * 0.86, Ink::THORAX, true),
        (readings.pelvis, r * 0.58, Ink::PELVIS, false),
    ];
    for (turn, reach, rgb, slit) in bars {
        draw_turn(canvas, &turn, reach, rgb, slit, &at);
    }
}

fn draw_turn(
    canvas: &mut Canvas,
    turn: &Estimate,
    reach: f32,
    rgb: [u8; 3],
    slit: bool,
    at: &dyn Fn(f64, f32) -> [f32; 2],
) {
    let Some((deg, low, high)) = turn.told() else {
        return;
    };
    let u = canvas.unit();
    let mut wedge = vec![at(0.0, 0.0)];
    let steps = 12;
    for i in 0..=steps {
        wedge.push(at(
            low + (high - low) * f64::from(i) / f64::from(steps),
            reach * 1.14,
        ));
    }
    // The wedge reaches past the bar, which would hide it.
    canvas.polygon(&wedge, rgb, 130);
    canvas.line(&[at(deg + 180.0, reach), at(deg, reach)], u * 0.5, rgb, 255);
    if slit {
        canvas.line(
            &[at(deg + 180.0, reach), at(deg, reach)],
            u * 0.14,
            Ink::CASING,
            255,
        );
    }
    canvas.disc(at(deg, reach), u * 0.42, rgb, 255);
    canvas.disc(at(deg, reach), u * 0.16, Ink::CASING, 255);
}
