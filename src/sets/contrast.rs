//! Two sets compared: what changed from the first to the second, and how many more swings would tell.

use serde::Serialize;

use super::figure::Figure;
use super::mean::{Sessions, difference, needed};
use super::number::Number;
use super::reading::{Share, SwingValue};
use super::set::{Filmed, Row, SwingSet};
use super::spread;
use crate::config::Pipeline;
use crate::interval::Ranged;
use crate::report::untold::CANT_TELL;
use crate::report::words::with_unit;
use crate::terms::Unit;

/// What can be said of a difference.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Word {
    /// The whole interval lies on one side of nought.
    Changed,
    /// It holds nought, and reaches no further than this to either side.
    NoChangeLargerThan(f64),
    /// Everything else.
    CantTell,
}

impl Word {
    /// `same`: a difference that may be larger than this can't be told to be none.
    pub fn of(figure: &Figure, same: f64) -> Self {
        match figure.told() {
            Some(t) if t.low > 0.0 || t.high < 0.0 => Self::Changed,
            Some(t) if t.high.max(-t.low) <= same => Self::NoChangeLargerThan(t.high.max(-t.low)),
            _ => Self::CantTell,
        }
    }

    /// In words, the bound rounded away from nought.
    pub fn words(self, unit: Unit) -> String {
        match self {
            Self::Changed => "changed".into(),
            Self::NoChangeLargerThan(most) => {
                let ten = 10_f64.powi(unit.decimals() as i32);
                let up = (most * ten).ceil() / ten;
                format!("no change larger than {}", with_unit(up, unit))
            }
            Self::CantTell => CANT_TELL.into(),
        }
    }
}

/// How many swings would tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum More {
    /// It is told.
    None,
    /// Each set would need so many in all.
    Swings(usize),
    /// More swings of this kind would not.
    NotByMore,
}

impl More {
    /// In words, for sets of `n` swings each; empty where nothing is needed.
    pub fn words(self, n: [usize; 2]) -> String {
        match self {
            Self::None => String::new(),
            Self::NotByMore => "more swings filmed like this would not tell".into(),
            Self::Swings(wanted) => {
                let fewer = n[0].min(n[1]);
                match wanted.saturating_sub(fewer) {
                    0 | 1 => "one more swing of each would probably tell".into(),
                    more => format!("about {more} more swings of each would probably tell"),
                }
            }
        }
    }
}

/// One number of both sets.
#[derive(Clone, Debug)]
pub struct Contrast {
    /// In the first set.
    pub first: Row,
    /// In the second.
    pub second: Row,
    /// Second mean less first.
    pub difference: Figure,
    /// What is said of it.
    pub word: Word,
    /// How many swings would tell it.
    pub more: More,
    /// Second spread less first.
    pub spread_difference: Figure,
    /// What is said of it.
    pub spread_word: Word,
}

/// Two sets, number by number.
#[derive(Clone, Debug)]
pub struct TwoSets {
    /// The first set.
    pub first: SwingSet,
    /// The second.
    pub second: SwingSet,
    /// Whether both were filmed in one session.
    pub sessions: Sessions,
    /// All numbers that a swing of either has.
    pub contrasts: Vec<Contrast>,
}

impl TwoSets {
    /// Compares them; reads nothing and writes nothing.
    pub fn new(first: SwingSet, second: SwingSet, pipeline: &Pipeline) -> Self {
        let filmed = Filmed::of(first.results().chain(second.results()), &pipeline.report);
        let sessions = if filmed.one_place {
            Sessions::One
        } else {
            Sessions::Two
        };
        let contrasts = Number::all()
            .into_iter()
            .map(|n| {
                let share = filmed.share(n, pipeline);
                let row = |set: &SwingSet| {
                    let own = Filmed::of(set.results(), &pipeline.report).share(n, pipeline);
                    set.row(n, own, pipeline)
                };
                contrast(row(&first), row(&second), share, sessions, pipeline)
            })
            .filter(|c| {
                [&c.first, &c.second]
                    .iter()
                    .any(|r| r.each.iter().any(|q| q.value.is_some()))
            })
            .collect();
        Self {
            first,
            second,
            sessions,
            contrasts,
        }
    }
}

fn contrast(
    first: Row,
    second: Row,
    share: Share,
    sessions: Sessions,
    pipeline: &Pipeline,
) -> Contrast {
    let number = first.number;
    let widest = number.widest(&pipeline.usable);
    let same = if number.unit() == Unit::Degrees {
        pipeline.report.compare_same_deg
    } else {
        pipeline.sets.same_share * widest
    };
    let (a, b) = (first.readings(), second.readings());
    let found = difference(&a, &b, share, sessions);
    // Twice as wide as one number may be: a difference of two such is still of use.
    let figure = Figure::within(found, 2.0 * widest);
    let word = Word::of(&figure, same);
    let more = match found {
        _ if word != Word::CantTell => More::None,
        Some(t) => asked(&a, &b, share, sessions, t, same, pipeline.sets.swings_most),
        None => More::NotByMore,
    };
    let spread_difference = match (first.spread.told(), second.spread.told()) {
        (Some(a), Some(b)) => Figure::within(Some(spread::difference(a, b)), widest),
        (None, _) => first.spread,
        (_, None) => second.spread,
    };
    Contrast {
        word,
        more,
        difference: figure,
        spread_word: Word::of(&spread_difference, same),
        spread_difference,
        first,
        second,
    }
}

/// Enough swings to call the difference that was found a change, or too small to matter, whichever is
/// less work.
fn asked(
    a: &[SwingValue],
    b: &[SwingValue],
    share: Share,
    sessions: Sessions,
    found: Ranged,
    same: f64,
    most: usize,
) -> More {
    let wanted = found.value.abs().max(same - found.value.abs());
    match needed((a, b), share, sessions, wanted, most) {
        Some(n) if n > a.len().min(b.len()) => More::Swings(n),
        // It would have been enough, were the two sets equally large.
        Some(n) => More::Swings(n.max(a.len().max(b.len()))),
        None => More::NotByMore,
    }
}
