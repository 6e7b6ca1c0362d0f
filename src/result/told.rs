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
        TypedIn::from(self).or(next.into()).into()
    }

    /// Puts what is said into what was typed in; all else there stays.
    pub fn fill(&self, typed: &mut TypedIn) {
        *typed = TypedIn::from(self.clone()).or(std::mem::take(typed));
    }
}

impl From<TypedIn> for Told {
    fn from(typed: TypedIn) -> Self {
        Self {
            player: typed.player,
            lesson: typed.lesson,
            label: typed.label,
            club: typed.club,
        }
    }
}

impl From<Told> for TypedIn {
    fn from(told: Told) -> Self {
        Self {
            player: told.player,
            lesson: told.lesson,
            label: told.label,
            club: told.club,
            ..Self::default()
        }
    }
}
