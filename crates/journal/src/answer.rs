//! What goes to the writer and what comes back: an event's bytes with the time of their arrival, and
//! the word on whether they are kept.

use quantity::UtcInstant;
use serde::Serialize;

/// One event as it arrived. The time is an argument: the journal reads no clock of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Incoming {
    /// The envelope, byte for byte.
    pub bytes: Vec<u8>,
    /// When the ship received it, UTC.
    pub received_at: UtcInstant,
    /// What that time rests on, such as `satellite` or `computer`.
    pub received_basis: String,
}

/// What became of one event. `Kept` and `Known` are given only after the row is flushed to disk.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "answer", rename_all = "snake_case")]
pub enum Answer {
    /// A new row.
    Kept {
        /// Its ship sequence.
        ship_seq: i64,
    },
    /// The same id with the same bytes was there already.
    Known {
        /// The ship sequence of the row that holds it.
        ship_seq: i64,
    },
    /// It contradicts a row; both are kept, this one set aside and shown by `verify`.
    Conflict {
        /// The event's id.
        id: String,
        /// The ship sequence of the row that it contradicts.
        ship_seq: i64,
        /// In what it contradicts.
        reason: String,
    },
    /// It is no event; the device keeps it and shows it.
    Refused {
        /// The event's id, where one could be read.
        id: Option<String>,
        /// What is wrong with it.
        reason: String,
    },
}

impl Answer {
    /// Whether the event is in the chain, now or before.
    #[must_use]
    pub const fn is_stored(&self) -> bool {
        matches!(self, Self::Kept { .. } | Self::Known { .. })
    }

    /// The ship sequence of the row that holds the event, where one does.
    #[must_use]
    pub const fn ship_seq(&self) -> Option<i64> {
        match self {
            Self::Kept { ship_seq } | Self::Known { ship_seq } => Some(*ship_seq),
            Self::Conflict { .. } | Self::Refused { .. } => None,
        }
    }
}
