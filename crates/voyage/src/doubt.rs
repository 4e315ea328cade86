//! A doubt: something in the record that may not be as it stands. Doubts are data, never refusals.

use serde::Serialize;

/// What is doubtful, whom it concerns, and a sentence in plain words.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Doubt {
    /// A word for programs, such as `float_passed`.
    pub kind: String,
    /// What it concerns, such as `place 38`, `basket 12` or an event's id.
    pub concerns: String,
    /// The sentence for people.
    pub text: String,
}

impl Doubt {
    /// A doubt from its three parts.
    #[must_use]
    pub fn new(kind: &str, concerns: impl Into<String>, text: impl Into<String>) -> Self {
        Self { kind: kind.to_owned(), concerns: concerns.into(), text: text.into() }
    }
}
