//! Names, sentences and numbers as a coach reads them.

use crate::result::{Estimate, Moment, Quantity};
use crate::terms::Measure;

/// What more and less of a measure about `around` degrees mean, where "above" and "below" alone
/// could mislead.
pub fn more_less(measure: Measure, around: f64) -> Option<(&'static str, &'static str)> {
    let words = measure.spec().more_less?;
    Some(if around < 0.0 {
        words.minus
    } else {
        words.plus
    })
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
pub fn quantity(q: &Quantity) -> String {
    let told = |v| decimal(v, q.unit.decimals());
    match (q.value, q.low, q.high) {
        (Some(v), Some(low), Some(high)) => {
            format!(
                "{}{} ({} to {})",
                told(v),
                q.unit.suffix(),
                told(low),
                told(high)
            )
        }
        _ => "not observable".to_owned(),
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
    use crate::terms::Unit;

    #[test]
    fn numbers_carry_unit_interval_and_a_real_minus() {
        assert_eq!(estimate(&Estimate::new(41.2, 36.9, 45.4)), "41° (37 to 45)");
        assert_eq!(estimate(&Estimate::new(-0.4, -3.2, 2.6)), "0° (−3 to 3)");
        assert_eq!(estimate(&Estimate::default()), "not observable");
        assert_eq!(decimal(-0.001, 2), "0.00");
        let ratio = Quantity {
            value: Some(3.02),
            low: Some(2.7),
            high: Some(3.41),
            unit: Unit::BackToDown,
        };
        assert_eq!(quantity(&ratio), "3.0 to 1 (2.7 to 3.4)");
    }
}
