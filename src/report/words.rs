//! Names, sentences and numbers as a coach reads them.

use crate::result::{Estimate, Event, Measure, Moment, Quantity};

/// The name of a measure for people.
pub fn name(measure: Measure) -> &'static str {
    match measure {
        Measure::PelvisTurnFromAddress => "Hip turn",
        Measure::ThoraxTurnFromAddress => "Shoulder turn (rib cage)",
        Measure::Separation => "Separation",
        Measure::SeparationFromAddress => "Separation, less address",
        Measure::PelvisTurn => "Hips to the target line",
        Measure::ThoraxTurn => "Shoulders (rib cage) to the target line",
        Measure::PelvisSideBend => "Hip side bend",
        Measure::PelvisForwardBend => "Hip forward bend",
        Measure::ThoraxSideBend => "Shoulder (rib cage) side bend",
        Measure::ThoraxForwardBend => "Shoulder (rib cage) forward bend",
        Measure::LeadKneeFlexion => "Lead knee bend",
        Measure::TrailKneeFlexion => "Trail knee bend",
        Measure::ShoulderLineTurnFromAddress => "Turn of the line between the shoulder joints",
    }
}

/// One sentence that says what a measure is and what its sign means.
pub fn explain(measure: Measure) -> &'static str {
    match measure {
        Measure::PelvisTurnFromAddress => {
            "How far the hips have turned since address, seen from above: plus is away from the target (closed), minus is towards it (open)."
        }
        Measure::ThoraxTurnFromAddress => {
            "How far the rib cage has turned since address, seen from above: plus is away from the target (closed), minus is towards it (open)."
        }
        Measure::Separation => {
            "Shoulder turn (rib cage) less hip turn: plus means that the shoulders are more closed than the hips."
        }
        Measure::SeparationFromAddress => {
            "Shoulder turn (rib cage) since address less hip turn since address: free of how the player stood and of where the phone stood."
        }
        Measure::PelvisTurn => {
            "Where the hips point against the target line, seen from above: 0° is square to it, plus is closed, minus is open."
        }
        Measure::ThoraxTurn => {
            "Where the rib cage points against the target line, seen from above: 0° is square to it, plus is closed, minus is open."
        }
        Measure::PelvisSideBend => {
            "How far the hips are tipped sideways after their turn is taken out: plus is towards the lead side."
        }
        Measure::PelvisForwardBend => {
            "How far the hips are tipped forward after turn and side bend are taken out: plus is towards the ball."
        }
        Measure::ThoraxSideBend => {
            "How far the rib cage is tipped sideways after its turn is taken out: plus is towards the lead side."
        }
        Measure::ThoraxForwardBend => {
            "How far the rib cage is tipped forward after turn and side bend are taken out: plus is towards the ball."
        }
        Measure::LeadKneeFlexion => "How far the knee nearer the target is bent: 0° is straight.",
        Measure::TrailKneeFlexion => {
            "How far the knee farther from the target is bent: 0° is straight."
        }
        Measure::ShoulderLineTurnFromAddress => {
            "Turn of the line through the two shoulder joints since address: the shoulder blades slide, so it runs ahead of the rib cage at the top."
        }
    }
}

/// What more and less of a measure mean, where "above" and "below" alone could mislead.
pub fn more_less(measure: Measure, around: f64) -> Option<(&'static str, &'static str)> {
    match measure {
        Measure::PelvisTurnFromAddress
        | Measure::ThoraxTurnFromAddress
        | Measure::PelvisTurn
        | Measure::ThoraxTurn
        | Measure::ShoulderLineTurnFromAddress => Some(if around < 0.0 {
            ("less open", "more open")
        } else {
            ("more closed", "less closed")
        }),
        _ => None,
    }
}

/// The name of an event for people.
pub fn event(event: Event) -> &'static str {
    match event {
        Event::Address => "Address",
        Event::Top => "Top",
        Event::Impact => "Impact",
        Event::Finish => "Finish",
    }
}

/// A whole number of degrees with a real minus sign.
pub fn degrees(value: f64) -> String {
    format!("{}°", whole(value))
}

fn whole(value: f64) -> String {
    let rounded = value.round();
    if rounded < 0.0 {
        format!("−{}", -rounded)
    } else {
        format!("{}", rounded.abs())
    }
}

/// "41° (37 to 45)", or why there is no number.
pub fn estimate(e: &Estimate) -> String {
    match e.parts() {
        Some((deg, low, high)) => {
            format!("{} ({} to {})", degrees(deg), whole(low), whole(high))
        }
        None => "not observable".to_owned(),
    }
}

/// A value with `digits` decimals and a real minus sign.
pub fn decimal(value: f64, digits: usize) -> String {
    let text = format!("{:.digits$}", value.abs());
    let zero = text.chars().all(|c| matches!(c, '0' | '.'));
    if value < 0.0 && !zero {
        format!("−{text}")
    } else {
        text
    }
}

/// "0.81 s (0.78 to 0.84)", or why there is no number.
pub fn quantity(q: &Quantity, digits: usize) -> String {
    let unit = match q.unit.as_str() {
        "" | "1" | "ratio" => String::new(),
        "%" => " %".to_owned(),
        unit => format!(" {unit}"),
    };
    match (q.value, q.low, q.high) {
        (Some(v), Some(low), Some(high)) => format!(
            "{}{unit} ({} to {})",
            decimal(v, digits),
            decimal(low, digits),
            decimal(high, digits)
        ),
        _ => "not observable".to_owned(),
    }
}

/// Decimals that suit a unit.
pub fn digits(unit: &str) -> usize {
    match unit {
        "s" => 2,
        "" | "1" | "ratio" => 1,
        _ => 0,
    }
}

/// "1.35 s (1.33 to 1.37)", or that it was not found.
pub fn moment(m: &Moment) -> String {
    match (m.s, m.low, m.high) {
        (Some(s), Some(low), Some(high)) => format!(
            "{} s ({} to {})",
            decimal(s, 2),
            decimal(low, 2),
            decimal(high, 2)
        ),
        _ => "not found".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_carry_unit_interval_and_a_real_minus() {
        assert_eq!(estimate(&Estimate::new(41.2, 36.9, 45.4)), "41° (37 to 45)");
        assert_eq!(estimate(&Estimate::new(-0.4, -3.2, 2.6)), "0° (−3 to 3)");
        assert_eq!(estimate(&Estimate::default()), "not observable");
        assert_eq!(decimal(-0.001, 2), "0.00");
    }
}
