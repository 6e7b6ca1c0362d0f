//! One set: its swings, and for every number its mean and its spread.

use std::path::PathBuf;

use super::figure::{Figure, NO_SWING, TOO_FEW};
use super::mean::mean;
use super::number::Number;
use super::reading::{Share, SwingValue};
use super::spread::spread;
use crate::config::{Pipeline, ReportConfig};
use crate::report::compare::Errors;
use crate::result::{Lesson, Quantity, SwingResult, read_swing};
use crate::terms::ViewMode;

/// A measured swing, by its folder's name.
#[derive(Clone, Debug)]
pub struct SetSwing {
    /// Its folder's name.
    pub id: String,
    /// Where its files are.
    pub folder: PathBuf,
    /// What was measured.
    pub swing: SwingResult,
}

impl SetSwing {
    /// From its folder; `None` where that holds no readable result.
    pub fn read(id: String, folder: PathBuf) -> Option<Self> {
        let swing = read_swing(&folder.join("swing.json")).ok()?;
        Some(Self { id, folder, swing })
    }
}

/// Swings that belong together, at least one.
#[derive(Clone, Debug)]
pub struct SwingSet {
    /// What it is called: its label, or how it was chosen.
    pub name: String,
    /// In the order of filming.
    pub swings: Vec<SetSwing>,
}

/// One number of a set.
#[derive(Clone, Debug)]
pub struct Row {
    /// Which one.
    pub number: Number,
    /// Of each swing, in the set's order.
    pub each: Vec<Quantity>,
    /// The mean over many such swings; of one swing, its own value.
    pub mean: Figure,
    /// The standard deviation from swing to swing, the measurement's own taken off.
    pub spread: Figure,
}

impl Row {
    /// What can be told of single swings.
    pub fn readings(&self) -> Vec<SwingValue> {
        self.each
            .iter()
            .filter_map(|q| Some(SwingValue::new(q.told()?)))
            .collect()
    }

    /// How many swings tell it.
    pub fn counted(&self) -> usize {
        self.each.iter().filter(|q| q.told().is_some()).count()
    }
}

/// How the swings of a set were filmed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Filmed {
    /// With which views, where all have the same.
    pub mode: Option<ViewMode>,
    /// Whether all are one named player's, filmed alike from one place on one day.
    pub one_place: bool,
}

impl Filmed {
    /// Of any swings.
    pub fn of<'a>(
        mut swings: impl Iterator<Item = &'a SwingResult>,
        config: &ReportConfig,
    ) -> Self {
        let Some(first) = swings.next() else {
            return Self {
                mode: None,
                one_place: false,
            };
        };
        let mode_of = |s: &SwingResult| ViewMode::of(s.views.iter().map(|v| v.role));
        let mode = mode_of(first);
        let mut found = Self {
            mode: Some(mode),
            one_place: true,
        };
        for other in swings {
            if mode_of(other) != mode {
                found.mode = None;
            }
            let alike = matches!(Errors::of(first, other, config), Errors::Shared(_));
            found.one_place &= alike && first.lesson() == other.lesson();
        }
        found
    }

    /// What the swings share of the errors of a number.
    pub fn share(&self, number: Number, pipeline: &Pipeline) -> Share {
        match (self.mode, number) {
            (Some(mode), Number::At(event, measure)) => {
                Share::learnt(&pipeline.learned, mode, measure, event, self.one_place)
            }
            _ => Share::UNKNOWN,
        }
    }
}

impl SwingSet {
    /// All results.
    pub fn results(&self) -> impl Iterator<Item = &SwingResult> {
        self.swings.iter().map(|s| &s.swing)
    }

    /// The lesson, where all swings are of one.
    pub fn lesson(&self) -> Option<Lesson> {
        let mut days = self.results().map(SwingResult::lesson);
        let first = days.next()??;
        days.all(|d| d == Some(first)).then_some(first)
    }

    /// Every number that at least one swing has.
    pub fn rows(&self, pipeline: &Pipeline) -> Vec<Row> {
        let filmed = Filmed::of(self.results(), &pipeline.report);
        Number::all()
            .into_iter()
            .map(|n| self.row(n, filmed.share(n, pipeline), pipeline))
            .filter(|r| r.each.iter().any(|q| q.value.is_some()))
            .collect()
    }

    /// One number, with what its swings share of the errors.
    pub fn row(&self, number: Number, share: Share, pipeline: &Pipeline) -> Row {
        let mut row = Row {
            number,
            each: self.results().map(|s| number.of(s)).collect(),
            mean: NO_SWING,
            spread: NO_SWING,
        };
        let readings = row.readings();
        let widest = number.widest(&pipeline.usable);
        row.mean = Figure::within(mean(&readings, share), widest);
        row.spread = if readings.is_empty() {
            NO_SWING
        } else if readings.len() < pipeline.sets.spread_fewest {
            TOO_FEW
        } else {
            let most = widest * pipeline.sets.spread_width_share;
            Figure::within(spread(&readings, share), most)
        };
        row
    }
}
