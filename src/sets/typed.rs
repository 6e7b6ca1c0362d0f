//! Ball speeds and carries as typed: their mean, where all are in one unit.

use super::set::SwingSet;
use crate::math::stats::bounds;
use crate::report::words::decimal;
use crate::result::TypedIn;

/// A number that was typed with its unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Typed {
    /// As typed, without its unit.
    pub value: f64,
    /// As typed.
    pub unit: String,
}

/// "52 m/s", "52,5 m/s", "142yd"; `None` for anything else.
pub fn parse(text: &str) -> Option<Typed> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ','))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let value: f64 = number.replace(',', ".").parse().ok()?;
    let unit = unit.trim();
    let plain = !unit.chars().any(|c| c.is_ascii_digit());
    (value.is_finite() && !unit.is_empty() && plain && unit.len() <= 12).then(|| Typed {
        value,
        unit: unit.to_owned(),
    })
}

/// What was typed of one thing in a set.
#[derive(Clone, Debug, PartialEq)]
pub struct TypedMean {
    /// Of which thing.
    pub name: &'static str,
    /// Of how many swings it was typed.
    pub n: usize,
    /// Mean, least and most, with their unit; `None` where units differ or something is no number.
    pub mean: Option<(f64, f64, f64, String)>,
}

impl TypedMean {
    /// "58.3 m/s in the mean of 4, from 56 to 60 m/s".
    pub fn words(&self) -> String {
        match &self.mean {
            _ if self.n == 0 => "not typed in".into(),
            None => format!("typed in for {}, in several units or without one", self.n),
            Some((mean, ..)) if self.n == 1 => {
                format!("{} {}, typed in for one", short(*mean), self.unit())
            }
            Some((mean, least, most, unit)) => format!(
                "{} {unit} in the mean of {}, from {} to {} {unit}",
                decimal(*mean, 1),
                self.n,
                short(*least),
                short(*most)
            ),
        }
    }

    fn unit(&self) -> &str {
        self.mean.as_ref().map_or("", |m| &m.3)
    }
}

fn short(v: f64) -> String {
    decimal(v, usize::from(v.fract().abs() > 0.05))
}

/// Ball speed and carry of a set.
pub fn means(set: &SwingSet) -> Vec<TypedMean> {
    let speed = |t: &TypedIn| t.ball_speed.clone();
    let carry = |t: &TypedIn| t.carry.clone();
    let of = |name, get: &dyn Fn(&TypedIn) -> Option<String>| {
        let texts: Vec<String> = set.results().filter_map(|s| get(&s.typed_in)).collect();
        TypedMean {
            name,
            n: texts.len(),
            mean: mean_of(&texts),
        }
    };
    vec![of("ball speed", &speed), of("carry", &carry)]
}

fn mean_of(texts: &[String]) -> Option<(f64, f64, f64, String)> {
    let all: Vec<Typed> = texts.iter().map(|t| parse(t)).collect::<Option<_>>()?;
    let unit = all.first()?.unit.clone();
    if all.iter().any(|t| t.unit != unit) {
        return None;
    }
    let values = || all.iter().map(|t| t.value);
    let (least, most) = bounds(values())?;
    Some((values().sum::<f64>() / all.len() as f64, least, most, unit))
}
