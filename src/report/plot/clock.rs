//! The plan view: hips and shoulders seen from above, as bars on a clock face of degrees.

use maud::{Markup, html};

use super::svg::n;
use crate::report::words;
use crate::result::Estimate;
use crate::terms::Handedness;

/// The face: address is the level line, the ball below, the target to the side it is on when one
/// faces the golfer. Wedges at the lead ends are the intervals. Turns are from address.
pub fn clock(title: &str, hips: Estimate, shoulders: Estimate, hand: Handedness) -> Markup {
    // Names for those who can't see them, classes of the strokes, lengths from the middle, of 100.
    let bars = [
        ("shoulders (rib cage)", shoulders, "thorax", 84.0),
        ("hips", hips, "pelvis", 56.0),
    ];
    let side = hand.side();
    let at = |deg: f64, r: f64| {
        let a = deg.to_radians();
        (side * r * a.cos(), r * a.sin())
    };
    let told: Vec<String> = bars
        .iter()
        .map(|(name, turn, ..)| format!("{name} {}", words::estimate_or_why(turn)))
        .collect();
    let label = format!("{title}, seen from above: {}", told.join("; "));
    html! {
        svg.clock role="img" aria-label=(label) viewBox="-170 -126 340 258" {
            circle.face r="100" {}
            path.level d="M-100 0H100" {}
            @for i in 0..12 {
                @let deg = f64::from(i) * 30.0;
                @let (x1, y1) = at(deg, 100.0);
                @let (x2, y2) = at(deg, if i % 3 == 0 { 90.0 } else { 94.0 });
                path.axis d=(format!("M{} {}L{} {}", n(x1), n(y1), n(x2), n(y2))) {}
            }
            @for deg in [30.0, 60.0, 90.0, -30.0, -60.0, -90.0_f64] {
                @let (x, y) = at(deg, 118.0);
                text.tick x=(n(x)) y=(n(y + 6.0)) { (words::degrees(deg)) @if deg == 90.0 { " ball" } }
            }
            text.place x=(n(side * 104.0)) y="6" text-anchor=(if side > 0.0 { "start" } else { "end" }) { "target" }
            @for (_, turn, class, reach) in bars {
                @if let Some((deg, low, high)) = turn.told() {
                    // The wedge reaches past the bar, which would hide it.
                    @let w = reach + 12.0;
                    @let ((ax, ay), (bx, by)) = (at(low, w), at(high, w));
                    @let large = i32::from((high - low).abs() > 180.0);
                    @let sweep = i32::from(side > 0.0);
                    @let arc = format!("A{r} {r} 0 {large} {sweep} {} {}Z", n(bx), n(by), r = n(w));
                    path class=(format!("wedge {}", class)) d=(format!("M0 0L{} {}{arc}", n(ax), n(ay))) {}
                    @let (lx, ly) = at(deg, reach);
                    path class=(format!("bar {}", class)) d=(format!("M{} {}L{} {}", n(-lx), n(-ly), n(lx), n(ly))) {}
                    circle class=(format!("lead {}", class)) cx=(n(lx)) cy=(n(ly)) r="5" {}
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(deg: f64, hand: Handedness) -> String {
        let hips = Estimate::new(deg, deg - 5.0, deg + 5.0);
        clock("Top", hips, Estimate::default(), hand).into_string()
    }

    #[test]
    fn closed_turns_the_lead_end_to_the_ball_for_either_hand() {
        for hand in [Handedness::Right, Handedness::Left] {
            assert!(drawn(90.0, hand).contains("cx=\"0\" cy=\"56\""));
            assert!(drawn(-90.0, hand).contains("cx=\"0\" cy=\"-56\""));
        }
        assert!(drawn(0.0, Handedness::Right).contains("cx=\"56\" cy=\"0\""));
        assert!(drawn(0.0, Handedness::Left).contains("cx=\"-56\" cy=\"0\""));
    }
}
