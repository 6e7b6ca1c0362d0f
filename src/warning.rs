//! Something a coach should know about a result, told with a stable code and one plain sentence.
#![warn(missing_docs)]

use serde::{Deserialize, Serialize};

use crate::terms::Event;

// Codes of the warnings that decide whether a number is of use (src/result/usable.rs): whoever warns and
// whoever judges has them from here.

/// The views contradict each other at a moment.
pub const VIEWS_DISAGREE: &str = "views_disagree";
/// A clip's pictures are unlike those that the networks know.
pub const ODD_PICTURES: &str = "odd_pictures";
/// A clip's clock is in doubt.
pub const ODD_DOWNSWING: &str = "odd_downswing";
/// A camera seems to stand far from its place.
pub const ROLE_DOUBT: &str = "role_doubt";

/// One warning. `code` is stable and machine-readable (`single_view`), `text` is for people.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Warning {
    /// Stable, for programs.
    pub code: String,
    /// For people.
    pub text: String,
    /// The moment that it is about, where it is about one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Event>,
}

impl Warning {
    /// A warning with its code and its sentence.
    pub fn new(code: &str, text: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            text: text.into(),
            at: None,
        }
    }

    /// A warning about one moment.
    pub fn at(event: Event, code: &str, text: impl Into<String>) -> Self {
        Self {
            at: Some(event),
            ..Self::new(code, text)
        }
    }
}
