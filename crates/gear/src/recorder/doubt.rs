//! A doubt about a recorder: something a person should know; never a reason to drop or change readings silently.

use serde::Serialize;

/// What is doubtful, whom it concerns, and a sentence in plain words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Doubt {
    /// A word for programs, such as `gap` or `upside_down`.
    pub kind: String,
    /// What it concerns: a file, a stretch, the set.
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
