//! placeholder
use crate::{envelope::Event, state::Book};
use quantity::UtcInstant;
/// An event with its place in the journal.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The ship's sequence.
    pub ship_seq: i64,
    /// The event.
    pub event: Event,
}
/// Folds.
#[must_use]
pub fn fold(_events: &[Logged], _now: Option<UtcInstant>) -> Book {
    Book { voyages: Vec::new(), doubts: Vec::new() }
}
