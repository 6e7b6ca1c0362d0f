//! Which swings of a folder of results make a set.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::set::{SetSwing, SwingSet};
use crate::result::{Lesson, SwingResult, folders_in};

/// What is asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Whose swings; small and capital letters are the same.
    pub player: Option<String>,
    /// Of which day; the newest that has any when left out.
    pub lesson: Option<Lesson>,
    /// With which label; any when left out.
    pub label: Option<String>,
    /// These and no others, by their folders' names.
    pub swings: Vec<String>,
}

/// Why there is no set.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoSet {
    /// Nothing is of this kind.
    #[error("no measured swing is {0}. Look at the names in the library, or measure such swings.")]
    NoSwing(String),
    /// A swing that was named is not there.
    #[error("{0}: there is no measured swing of this name. Look at the names in the library.")]
    Unknown(String),
}

/// Texts as they are compared: without blanks at the ends, in small letters.
pub fn same(text: &str) -> String {
    text.trim().to_lowercase()
}

/// Every readable result in a folder. Hidden folders, links and what can't be read are passed over.
pub fn read(results: &Path) -> Vec<SetSwing> {
    read_of(folders_in(results))
}

/// The readable ones of these folders, by lesson, in the order of filming, then of names.
pub fn read_of(folders: impl Iterator<Item = (String, PathBuf)>) -> Vec<SetSwing> {
    let mut found: Vec<SetSwing> = folders
        .filter_map(|(id, folder)| SetSwing::read(id, folder))
        .collect();
    let filmed = |s: &SetSwing| {
        let first = s.swing.views.iter().find_map(|v| v.filmed_unix_s);
        first.unwrap_or(f64::INFINITY)
    };
    found.sort_by(|a, b| {
        a.swing
            .lesson()
            .cmp(&b.swing.lesson())
            .then_with(|| filmed(a).total_cmp(&filmed(b)))
            .then_with(|| in_order(&a.id).cmp(&in_order(&b.id)))
    });
    found
}

/// A name as people sort it: 2 before 10.
fn in_order(name: &str) -> Vec<(String, u64)> {
    let mut parts: Vec<(String, u64)> = Vec::new();
    let (mut text, mut digits) = (String::new(), String::new());
    for c in name.chars() {
        if c.is_ascii_digit() {
            digits.push(c);
            continue;
        }
        if !digits.is_empty() {
            let number = std::mem::take(&mut digits).parse().unwrap_or(u64::MAX);
            parts.push((std::mem::take(&mut text), number));
        }
        text.push(c);
    }
    parts.push((text, digits.parse().unwrap_or(0)));
    parts
}

impl Wanted {
    fn takes(&self, swing: &SwingResult) -> bool {
        let is = |want: &Option<String>, have: &Option<String>| {
            want.as_deref()
                .is_none_or(|w| same(w) == same(have.as_deref().unwrap_or("")))
        };
        is(&self.player, &swing.typed_in.player)
            && is(&self.label, &swing.typed_in.label)
            && self.lesson.is_none_or(|l| swing.lesson() == Some(l))
    }

    /// In a few words, for people: "of Student 7, hips held, 2026-05-14".
    pub fn words(&self) -> String {
        let day = self.lesson.map(|l| l.to_string());
        let player = self.player.as_ref().map(|p| format!("of {p}"));
        let label = self.label.as_ref().map(|l| match l.trim() {
            "" => "without a label".to_owned(),
            l => format!("labelled \"{l}\""),
        });
        let parts: Vec<String> = [player, label, day].into_iter().flatten().collect();
        if parts.is_empty() {
            "there".into()
        } else {
            parts.join(", ")
        }
    }

    /// The set among all swings.
    ///
    /// # Errors
    /// Where there is no such swing.
    pub fn choose(&self, all: &[SetSwing]) -> Result<SwingSet, NoSet> {
        if !self.swings.is_empty() {
            let by_id: BTreeMap<&str, &SetSwing> = all.iter().map(|s| (s.id.as_str(), s)).collect();
            let mut swings: Vec<SetSwing> = Vec::new();
            for id in &self.swings {
                let found = by_id
                    .get(id.as_str())
                    .ok_or_else(|| NoSet::Unknown(id.clone()))?;
                if swings.iter().all(|s| s.id != *id) {
                    swings.push((*found).clone());
                }
            }
            let name = format!("{} chosen swings", swings.len());
            return Ok(SwingSet { name, swings });
        }
        let mut swings: Vec<SetSwing> = all
            .iter()
            .filter(|s| self.takes(&s.swing))
            .cloned()
            .collect();
        if self.lesson.is_none() {
            let newest = swings.iter().filter_map(|s| s.swing.lesson()).max();
            swings.retain(|s| s.swing.lesson() == newest);
        }
        let Some(first) = swings.first() else {
            return Err(NoSet::NoSwing(self.words()));
        };
        let name = match (&self.label, &first.swing.typed_in.label) {
            // As the swings spell it.
            (Some(_), Some(label)) => label.trim().to_owned(),
            (Some(_), None) => "no label".into(),
            (None, _) => "all swings".into(),
        };
        Ok(SwingSet { name, swings })
    }
}
