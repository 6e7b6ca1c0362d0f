//! The plan view: hips and shoulders seen from above, as bars on a clock face of degrees.

use std::fmt::Write;

use super::svg::{escape, n};
use crate::report::words;
use crate::result::Estimate;
use crate::terms::Handedness;

/// One bar of the clock.
pub struct ClockBar<'a> {
    pub label: &'a str,
    /// Turn from address, degrees.
    pub turn: Estimate,
    /// Class for the stroke: `pelvis` or `thorax`.
    pub class: &'a str,
    /// Length from the middle, of 100.
    pub reach: f64,
}

/// The face: address is the level line, the ball below, the target to the side it is on when one
/// faces the golfer. Wedges at the lead ends are the intervals.
pub fn clock(title: &str, bars: &[ClockBar], hand: Handedness) -> String {
    let side = match hand {
        Handedness::Right => 1.0,
        Handedness::Left => -1.0,
    };
    let at = |deg: f64, r: f64| {
        let a = deg.to_radians();
        (side * r * a.cos(), r * a.sin())
    };
    let told: Vec<String> = bars
        .iter()
        .map(|b| format!("{} {}", b.label, words::estimate_or_why(&b.turn)))
        .collect();
    let mut out = format!(
        "<svg class=\"clock\" role=\"img\" aria-label=\"{}\" viewBox=\"-170 -126 340 258\">",
        escape(&format!("{title}, seen from above: {}", told.join("; ")))
    );
    out.push_str("<circle class=\"face\" r=\"100\"/><path class=\"level\" d=\"M-100 0H100\"/>");
    for i in 0..12 {
        let deg = f64::from(i) * 30.0;
        let ((x1, y1), (x2, y2)) = (
            at(deg, 100.0),
            at(deg, if i % 3 == 0 { 90.0 } else { 94.0 }),
        );
        let _ = write!(
            out,
            "<path class=\"axis\" d=\"M{} {}L{} {}\"/>",
            n(x1),
            n(y1),
            n(x2),
            n(y2)
        );
    }
    for deg in [30.0, 60.0, 90.0, -30.0, -60.0, -90.0_f64] {
        let (x, y) = at(deg, 118.0);
        let _ = write!(
            out,
            "<text class=\"tick\" x=\"{}\" y=\"{}\">{}</text>",
            n(x),
            n(y + 6.0),
            if deg == 90.0 {
                "90° ball".to_owned()
            } else {
                words::degrees(deg)
            }
        );
    }
    let _ = write!(
        out,
        "<text class=\"place\" x=\"{}\" y=\"6\" text-anchor=\"{}\">target</text>",
        n(side * 104.0),
        if side > 0.0 { "start" } else { "end" }
    );
    for bar in bars {
        let Some((deg, low, high)) = bar.turn.told() else {
            continue;
        };
        let r = bar.reach;
        // The wedge reaches past the bar, which would hide it.
        let w = r + 12.0;
        let ((ax, ay), (bx, by)) = (at(low, w), at(high, w));
        let large = i32::from((high - low).abs() > 180.0);
        let sweep = i32::from(side > 0.0);
        let _ = write!(
            out,
            "<path class=\"wedge {}\" d=\"M0 0L{} {}A{r} {r} 0 {large} {sweep} {} {}Z\"/>",
            bar.class,
            n(ax),
            n(ay),
            n(bx),
            n(by),
            r = n(w)
        );
        let (lx, ly) = at(deg, r);
        let _ = write!(
            out,
            "<path class=\"bar {c}\" d=\"M{} {}L{} {}\"/><circle class=\"lead {c}\" cx=\"{}\" cy=\"{}\" r=\"5\"/>",
            n(-lx),
            n(-ly),
            n(lx),
            n(ly),
            n(lx),
            n(ly),
            c = bar.class
        );
    }
    out.push_str("</svg>");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(deg: f64, hand: Handedness) -> String {
        clock(
            "Top",
            &[ClockBar {
                label: "hips",
                turn: Estimate::new(deg, deg - 5.0, deg + 5.0),
                class: "pelvis",
                reach: 60.0,
            }],
            hand,
        )
    }

    #[test]
    fn closed_turns_the_lead_end_to_the_ball_for_either_hand() {
        for hand in [Handedness::Right, Handedness::Left] {
            assert!(drawn(90.0, hand).contains("cx=\"0\" cy=\"60\""));
            assert!(drawn(-90.0, hand).contains("cx=\"0\" cy=\"-60\""));
        }
        assert!(drawn(0.0, Handedness::Right).contains("cx=\"60\" cy=\"0\""));
        assert!(drawn(0.0, Handedness::Left).contains("cx=\"-60\" cy=\"0\""));
    }
}
