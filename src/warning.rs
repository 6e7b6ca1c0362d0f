//! Something a coach should know about a result, told with a stable code and one plain sentence.

use serde::{Deserialize, Serialize};

/// One warning. `code` is stable and machine-readable (`single_view`), `text` is for people.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Warning {
    pub code: String,
    pub text: String,
}

impl Warning {
    pub fn new(code: &str, text: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            text: text.into(),
        }
    }
}
