//! Words over a picture: the running turns, the event's caption, the line of time.

use super::{Canvas, Ink, Readings};
use crate::report::words;

/// The running turns with their intervals, on a plate in the upper left corner.
pub fn draw_readings(canvas: &mut Canvas, readings: &Readings) {
    let u = canvas.unit();
    let rows = [
        ("hips", readings.pelvis, Some((Ink::PELVIS, false))),
        (
            "shoulders (rib cage)",
            readings.thorax,
            Some((Ink::THORAX, true)),
        ),
        ("separation", readings.separation, None),
    ];
    let lines: Vec<String> = rows
        .iter()
        .map(|(name, e, _)| format!("{name} {}", words::estimate(e)))
        .collect();
    let widest = lines
        .iter()
        .map(|l| canvas.text_width(l, u))
        .fold(0.0, f32::max);
    let (pad, row) = (u * 0.5, u * 1.3);
    canvas.plate(
        0.0,
        0.0,
        widest + u * 2.0 + pad * 2.0,
        row * 3.0 + pad * 1.4,
        Ink::CASING,
        205,
    );
    for (i, (line, (_, _, swatch))) in lines.iter().zip(rows).enumerate() {
        let y = pad + i as f32 * row;
        if let Some((rgb, slit)) = swatch {
            let (x0, x1, ym) = (pad + u * 0.3, pad + u * 1.4, y + u * 0.55);
            canvas.line(&[[x0, ym], [x1, ym]], u * 0.55, rgb, 255);
            if slit {
                canvas.line(&[[x0, ym], [x1, ym]], u * 0.16, Ink::CASING, 255);
            }
        }
        canvas.text(line, pad + u * 1.9, y, u, Ink::PAPER);
    }
}

/// The event's name and time, large, above the line of time.
pub fn draw_caption(canvas: &mut Canvas, text: &str) {
    let u = canvas.unit();
    let size = u * 1.5;
    let width = canvas.text_width(text, size);
    let (w, h) = (canvas.width() as f32, canvas.height() as f32);
    let (x, y) = (u, h - u * 4.6);
    canvas.plate(
        x - u * 0.6,
        y - u * 0.35,
        (width + u * 1.2).min(w),
        size * 1.4,
        Ink::CASING,
        215,
    );
    canvas.text(text, x, y, size, Ink::PAPER);
}

/// Where the picture lies in the swing: events as marks, the present moment as a disc.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    pub from_s: f64,
    pub to_s: f64,
    /// Moments and names, in order of time.
    pub events: Vec<(f64, &'static str)>,
}

pub fn draw_timeline(canvas: &mut Canvas, timeline: &Timeline, now_s: f64) {
    let u = canvas.unit();
    let (w, h) = (canvas.width() as f32, canvas.height() as f32);
    let (left, right, y) = (u, w - u, h - u * 1.9);
    canvas.plate(0.0, h - u * 2.7, w, u * 2.7, Ink::CASING, 205);
    let x = |t: f64| {
        let share = (t - timeline.from_s) / (timeline.to_s - timeline.from_s).max(1e-6);
        left + (right - left) * share.clamp(0.0, 1.0) as f32
    };
    canvas.line(&[[left, y], [right, y]], u * 0.12, Ink::PAPER, 160);
    let small = u * 0.78;
    let mut free = 0.0_f32;
    for (t, name) in &timeline.events {
        let at = x(*t);
        canvas.line(
            &[[at, y - u * 0.4], [at, y + u * 0.4]],
            u * 0.14,
            Ink::PAPER,
            255,
        );
        let half = canvas.text_width(name, small) / 2.0;
        // A name that would run into the one before it moves right, or off the picture not at all.
        let start = (at - half).max(free).min(w - 2.0 * half - u * 0.2);
        canvas.text(name, start, y + u * 0.6, small, Ink::PAPER);
        free = start + 2.0 * half + u * 0.4;
    }
    canvas.disc([x(now_s), y], u * 0.4, Ink::CASING, 255);
    canvas.disc([x(now_s), y], u * 0.3, Ink::PAPER, 255);
}
