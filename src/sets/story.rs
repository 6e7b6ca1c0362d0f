//! Words to the student: what was measured, in two sentences, from the numbers and their intervals
//! alone. No advice: that is the coach's, and a doctor's.

use super::contrast::{Contrast, TwoSets, Word};
use super::number::Number;
use super::set::{Row, SwingSet};
use crate::interval::Ranged;
use crate::report::words::degrees;
use crate::result::SwingResult;
use crate::terms::{Event, Measure};

/// The two turns that a student hears of.
const TURNS: [(Measure, &str); 2] = [
    (Measure::PelvisTurnFromAddress, "hips"),
    (Measure::ThoraxTurnFromAddress, "shoulders (rib cage)"),
];

/// "42° (between 37° and 46°)", all without a sign.
fn range(t: Ranged) -> String {
    let (a, b) = if t.value < 0.0 {
        (-t.high, -t.low)
    } else {
        (t.low, t.high)
    };
    format!(
        "{} (between {} and {})",
        degrees(t.value.abs()),
        degrees(a),
        degrees(b)
    )
}

/// Which way a turn from address goes, where its whole interval does.
fn way(t: Ranged) -> &'static str {
    if t.low > 0.0 {
        " away from the target"
    } else if t.high < 0.0 {
        " towards the target"
    } else {
        ""
    }
}

/// "your hips had turned 42° (…) away from the target and your shoulders …", or what can't be told.
fn turned(found: [Option<Ranged>; 2], verb: &str) -> String {
    let [hips, shoulders] = TURNS.map(|t| t.1);
    match found {
        [Some(h), Some(s)] if way(h) == way(s) => format!(
            "your {hips} {verb} {} and your {shoulders} {}{}",
            range(h),
            range(s),
            way(s)
        ),
        [Some(h), Some(s)] => format!(
            "your {hips} {verb} {}{} and your {shoulders} {}{}",
            range(h),
            way(h),
            range(s),
            way(s)
        ),
        [Some(one), None] => format!(
            "your {hips} {verb} {}{}; how far your {shoulders} turned can't be told",
            range(one),
            way(one)
        ),
        [None, Some(one)] => format!(
            "your {shoulders} {verb} {}{}; how far your {hips} turned can't be told",
            range(one),
            way(one)
        ),
        [None, None] => format!("it can't be told how far your {hips} and your {shoulders} turned"),
    }
}

/// Of one swing: the top, and the strike.
pub fn of_swing(swing: &SwingResult) -> String {
    let at = |event: Event| {
        TURNS.map(|(m, _)| {
            let (value, low, high) = Number::At(event, m).of(swing).told()?;
            Some(Ranged { value, low, high })
        })
    };
    format!(
        "At the top of this swing {}. At the ball {}.",
        turned(at(Event::Top), "had turned"),
        turned(at(Event::Impact), "had turned")
    )
}

/// Of a set: the mean at the top, and how alike the swings were.
pub fn of_set(set: &SwingSet, rows: &[Row]) -> String {
    let n = set.swings.len();
    if let [one] = set.swings.as_slice() {
        return of_swing(&one.swing);
    }
    let row = |m: Measure| rows.iter().find(|r| r.number == Number::At(Event::Top, m));
    let means = TURNS.map(|(m, _)| row(m)?.mean.told());
    let spreads = TURNS.map(|(m, name)| (name, row(m).and_then(|r| r.spread.told())));
    format!(
        "At the top, over these {n} swings, {}. From swing to swing {}.",
        turned(means, "had turned on average"),
        alike(spreads)
    )
}

fn alike(spreads: [(&str, Option<Ranged>); 2]) -> String {
    let told: Vec<String> = spreads
        .iter()
        .filter_map(|(name, s)| {
            let s = (*s)?;
            Some(if s.low < 0.5 {
                // It may be nothing at all.
                format!(
                    "your {name} differed by no more than about {}",
                    degrees(s.high.ceil())
                )
            } else {
                format!(
                    "your {name} differed by about {} (between {} and {})",
                    degrees(s.value),
                    degrees(s.low),
                    degrees(s.high)
                )
            })
        })
        .collect();
    let lost: Vec<&str> = spreads
        .iter()
        .filter(|s| s.1.is_none())
        .map(|s| s.0)
        .collect();
    match (told.as_slice(), lost.as_slice()) {
        ([], _) => "how much you differed can't be told from these films".into(),
        (all, []) => all.join(" and "),
        (all, lost) => format!(
            "{}; of your {} it can't be told",
            all.join(" and "),
            lost.join(" and ")
        ),
    }
}

/// Of two sets: what changed at the top, and how alike the swings of each were.
pub fn of_two(two: &TwoSets) -> String {
    let find = |m: Measure| {
        two.contrasts
            .iter()
            .find(|c| c.first.number == Number::At(Event::Top, m))
    };
    let parts: Vec<String> = TURNS
        .iter()
        .map(|(m, name)| changed(find(*m), name))
        .collect();
    let separation = find(Measure::Separation)
        .map(second_sentence)
        .unwrap_or_else(|| "How far apart they were turned can't be told.".into());
    format!(
        "At the top, with \"{}\" set against \"{}\", {}. {separation}",
        two.second.name,
        two.first.name,
        parts.join(" and ")
    )
}

fn changed(c: Option<&Contrast>, name: &str) -> String {
    let Some(c) = c else {
        return format!("it can't be told whether your {name} turned differently");
    };
    match (c.word, c.difference.told()) {
        (Word::Changed, Some(t)) => {
            let more = if t.value > 0.0 { "further" } else { "less far" };
            format!("your {name} turned {more} by {}", range(t))
        }
        (Word::NoChangeLargerThan(most), _) => {
            format!(
                "your {name} turned equally far, to within {}",
                degrees(most.ceil())
            )
        }
        _ => format!("it can't be told whether your {name} turned differently"),
    }
}

fn second_sentence(c: &Contrast) -> String {
    match (c.word, c.difference.told()) {
        (Word::Changed, Some(t)) => {
            let more = if t.value > 0.0 { "more" } else { "less" };
            format!("Your shoulders (rib cage) were turned {more} against your hips, by {}.", range(t))
        }
        (Word::NoChangeLargerThan(most), _) => format!(
            "How far your shoulders (rib cage) were turned against your hips was the same, to within {}.",
            degrees(most.ceil())
        ),
        _ => "Whether your shoulders (rib cage) were turned differently against your hips can't be told.".into(),
    }
}
