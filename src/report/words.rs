//! Names, sentences and numbers as a coach reads them.

use super::untold::{CANT_TELL, short};
use crate::result::{Estimate, Moment, Quantity, Why};
use crate::terms::{Measure, Unit};

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
    with_unit(value, Unit::Degrees)
}

/// "41° (37 to 45)", or that it can't be told.
pub fn estimate(e: &Estimate) -> String {
    or_cant_tell(e.told(), Unit::Degrees)
}

/// The same with the reason behind "can't tell".
pub fn estimate_or_why(e: &Estimate) -> String {
    or_why(estimate(e), e.untold())
}

/// Of another number.
pub fn quantity_or_why(q: &Quantity) -> String {
    or_why(quantity(q), q.untold())
}

fn or_why(told: String, why: Option<Why>) -> String {
    why.map_or(told, |w| format!("{CANT_TELL}: {}", short(w)))
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

/// "0.81 s (0.78 to 0.84)", or that it can't be told.
pub fn quantity(q: &Quantity) -> String {
    or_cant_tell(q.told(), q.unit)
}

/// "42°", "0.81 s".
pub fn with_unit(value: f64, unit: Unit) -> String {
    format!("{}{}", decimal(value, unit.decimals()), unit.suffix())
}

/// A value and the ends of its interval: "41° (37 to 45)".
pub fn with_interval((value, low, high): (f64, f64, f64), unit: Unit) -> String {
    let [low, high] = [low, high].map(|v| decimal(v, unit.decimals()));
    format!("{} ({low} to {high})", with_unit(value, unit))
}

fn or_cant_tell(told: Option<(f64, f64, f64)>, unit: Unit) -> String {
    told.map_or_else(|| CANT_TELL.to_owned(), |t| with_interval(t, unit))
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

/// So many of a thing: "1 swing", "5 swings".
pub fn counted(n: usize, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_carry_unit_interval_and_a_real_minus() {
        assert_eq!(estimate(&Estimate::new(41.2, 36.9, 45.4)), "41° (37 to 45)");
        assert_eq!(estimate(&Estimate::new(-0.4, -3.2, 2.6)), "0° (−3 to 3)");
        assert_eq!(estimate(&Estimate::default()), "can't tell");
        let wide = Estimate::new(10.0, -20.0, 40.0).because(Why::OneView);
        assert_eq!(estimate(&wide), "can't tell");
        assert_eq!(estimate_or_why(&wide), "can't tell: one view");
        assert_eq!(decimal(-0.001, 2), "0.00");
        let ratio = Quantity::of(Estimate::new(3.02, 2.7, 3.41), Unit::BackToDown);
        assert_eq!(quantity(&ratio), "3.0 to 1 (2.7 to 3.4)");
    }
}
