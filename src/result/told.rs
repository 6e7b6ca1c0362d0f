//! What is said of a swing before it is measured.

use serde::{Deserialize, Serialize};

use super::typed_in::{Lesson, TypedIn};

/// What names, the corrections file and options say of a swing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// Whose swing it is.
    pub player: Option<String>,
    /// The day of the lesson.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lesson: Option<Lesson>,
    /// What was tried.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// With which club.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub club: Option<String>,
}

impl Told {
    /// This, and what `next` says where this says nothing.
    pub fn or(self, next: Self) -> Self {
        Self {
            player: self.player.or(next.player),
            lesson: self.lesson.or(next.lesson),
            label: self.label.or(next.label),
            club: self.club.or(next.club),
        }
    }

    /// Puts what is said into what was typed in; all else there stays.
    pub fn fill(&self, typed: &mut TypedIn) {
        let put = |from: &Option<String>, to: &mut Option<String>| {
            if from.is_some() {
                to.clone_from(from);
            }
        };
        put(&self.player, &mut typed.player);
        put(&self.label, &mut typed.label);
        put(&self.club, &mut typed.club);
        typed.lesson = self.lesson.or(typed.lesson);
    }
}
