//! What a user's pipeline file may hold, by comparison with the built-in one.

use toml::{Table, Value};

/// A value this many times the built-in one is a slip of the keyboard or of the unit, and some
/// sizes would be taken from memory at once.
const MOST_TIMES: f64 = 1000.0;

/// Numbers whose zero means something: never.
const MAY_BE_ZERO: [&str; 1] = ["pose.mirror_alternate_s"];

/// The first thing wrong with `own`: a name that `base` does not have, a value of another kind, a
/// number that is not finite, not on the built-in one's side of zero (or zero where that means nothing), or absurdly
/// large.
pub fn first_fault(own: &Table, base: &Table, prefix: &str) -> Option<String> {
    own.iter().find_map(|(key, value)| {
        let name = if prefix.is_empty() {
            key.clone()
        } else {
            format!("{prefix}.{key}")
        };
        let Some(known) = base.get(key) else {
            return Some(format!("{name} is not a name that is known"));
        };
        match (value, known) {
            (Value::Table(own), Value::Table(base)) => first_fault(own, base, &name),
            (Value::Integer(_) | Value::Float(_), Value::Integer(_) | Value::Float(_)) => {
                let zero = MAY_BE_ZERO.contains(&name.as_str());
                bad_number(value, known, zero).map(|why| format!("{name} {why}"))
            }
            _ if value.type_str() == known.type_str() => None,
            _ => Some(format!(
                "{name} is a {} where a {} is wanted",
                value.type_str(),
                known.type_str()
            )),
        }
    })
}

fn bad_number(value: &Value, known: &Value, may_be_zero: bool) -> Option<String> {
    let number = |v: &Value| match v {
        Value::Integer(i) => Some(*i as f64),
        Value::Float(f) => Some(*f),
        _ => None,
    };
    let (own, built_in) = (number(value)?, number(known)?);
    if !own.is_finite() {
        return Some("is not a finite number".into());
    }
    let wrong_side = if built_in < 0.0 {
        (own >= 0.0).then_some("below")
    } else if may_be_zero {
        (own < 0.0).then_some("at least")
    } else {
        (own <= 0.0).then_some("above")
    };
    if let Some(side) = wrong_side {
        return Some(format!("is {own}, and must be {side} zero"));
    }
    if own.abs() > MOST_TIMES * built_in.abs() {
        return Some(format!(
            "is {own}, more than a thousand times the built-in {built_in}"
        ));
    }
    if matches!((value, known), (Value::Float(_), Value::Integer(_))) && own.fract() != 0.0 {
        return Some(format!("is {own}, and must be a whole number"));
    }
    None
}
