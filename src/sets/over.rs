//! One player's lessons in a row.

use std::collections::{BTreeMap, BTreeSet};

use super::contrast::{Contrast, TwoSets};
use super::number::Number;
use super::select::same;
use super::set::{Row, SetSwing, SwingSet};
use crate::config::Pipeline;
use crate::report::words::counted;
use crate::result::Lesson;
use crate::terms::{Event, Measure};

/// The swings of one lesson with one label.
#[derive(Clone, Debug)]
pub struct Stage {
    /// Its day.
    pub lesson: Lesson,
    /// Its swings, named by their label; an empty name where they have none.
    pub set: SwingSet,
    /// Every number of it.
    pub rows: Vec<Row>,
}

impl Stage {
    /// "2026-05-14, hips held, 5 swings".
    pub fn title(&self) -> String {
        let swings = counted(self.set.swings.len(), "swing");
        let label = if self.set.name.is_empty() {
            String::new()
        } else {
            format!(", {}", self.set.name)
        };
        format!("{}{label}, {swings}", self.lesson)
    }

    /// One number of it.
    pub fn row(&self, number: Number) -> Option<&Row> {
        self.rows.iter().find(|r| r.number == number)
    }

    /// Notes of its swings, each once.
    pub fn notes(&self) -> Vec<String> {
        let all: BTreeSet<String> = self
            .set
            .results()
            .filter_map(|s| s.typed_in.notes.clone())
            .collect();
        all.into_iter().collect()
    }
}

/// What changed from the first lesson with a label to the last.
#[derive(Clone, Debug)]
pub struct Change {
    /// Which lessons.
    pub title: String,
    /// The headline measures at the top.
    pub contrasts: Vec<Contrast>,
}

/// One player's lessons.
#[derive(Clone, Debug)]
pub struct Course {
    /// As the newest swing spells the name.
    pub player: String,
    /// By day, then by label.
    pub stages: Vec<Stage>,
    /// Of labels that more than one lesson has.
    pub changes: Vec<Change>,
    /// How many swings have no day.
    pub undated: usize,
}

impl Course {
    /// Of one player among all swings; `None` where there are none.
    pub fn of(player: &str, all: &[SetSwing], pipeline: &Pipeline) -> Option<Self> {
        let is = |s: &&SetSwing| same(s.swing.typed_in.player()) == same(player);
        let own: Vec<&SetSwing> = all.iter().filter(is).collect();
        let newest = own.iter().max_by_key(|s| s.swing.lesson())?;
        let name = newest.swing.typed_in.player.clone().unwrap_or_default();
        let mut groups: BTreeMap<(Lesson, String), Vec<SetSwing>> = BTreeMap::new();
        let mut undated = 0;
        for s in own {
            let label = same(s.swing.typed_in.label());
            match s.swing.lesson() {
                Some(day) => groups.entry((day, label)).or_default().push(s.clone()),
                None => undated += 1,
            }
        }
        let stages: Vec<Stage> = groups
            .into_iter()
            .map(|((lesson, _), swings)| {
                let label = swings.first().and_then(|s| s.swing.typed_in.label.clone());
                let set = SwingSet {
                    name: label.unwrap_or_default().trim().to_owned(),
                    swings,
                };
                let rows = set.rows(pipeline);
                Stage { lesson, set, rows }
            })
            .collect();
        let changes = changes(&stages, pipeline);
        Some(Self {
            player: name.trim().to_owned(),
            stages,
            changes,
            undated,
        })
    }

    /// How many days.
    pub fn lessons(&self) -> usize {
        self.stages
            .iter()
            .map(|s| s.lesson)
            .collect::<BTreeSet<_>>()
            .len()
    }

    /// How many swings.
    pub fn swings(&self) -> usize {
        self.stages.iter().map(|s| s.set.swings.len()).sum()
    }
}

fn changes(stages: &[Stage], pipeline: &Pipeline) -> Vec<Change> {
    let labels: BTreeSet<String> = stages.iter().map(|s| same(&s.set.name)).collect();
    labels
        .iter()
        .filter_map(|label| {
            let mut own = stages.iter().filter(|s| same(&s.set.name) == *label);
            let (first, last) = (own.next()?, own.next_back()?);
            let two = TwoSets::new(first.set.clone(), last.set.clone(), pipeline);
            let headline = |c: &Contrast| {
                Measure::headlines().any(|(m, _)| c.first.number == Number::At(Event::Top, m))
            };
            let shown = if first.set.name.is_empty() {
                "Swings without a label"
            } else {
                first.set.name.as_str()
            };
            Some(Change {
                title: format!("{shown}, {} to {}, at the top", first.lesson, last.lesson),
                contrasts: two.contrasts.into_iter().filter(headline).collect(),
            })
        })
        .collect()
}
