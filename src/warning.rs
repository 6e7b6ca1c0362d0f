//! Something a coach should know about a result, told with a stable code and one plain sentence.
#![warn(missing_docs)]

use serde::{Deserialize, Serialize};

use crate::terms::Event;

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
