//! The append-only journal: one SQLite file in which every event of the ship is kept, byte for byte,
//! in the order of its arrival, each row chained to the one before by SHA-256.
//!
//! One process writes ([`Journal`], one thread, group commit, every acknowledgement after a flush);
//! any number read ([`Reader`]). [`verify`](Reader::verify) recomputes the chain and names what is
//! broken; everything beside the rows can be thrown away and rebuilt from them.
//!
//! Sources: SQLite documentation, "Write-Ahead Logging", "PRAGMA Statements" and "How To Corrupt An
//! SQLite Database File" (sqlite.org); SHA-256 by FIPS 180-4 (NIST 2015).

mod answer;
mod backup;
mod chain;
mod derived;
mod envelope;
mod error;
mod files;
mod reader;
mod schema;
mod store;
mod transfer;
mod verdict;
mod verify;
mod writer;

pub use answer::{Answer, Incoming};
pub use backup::{BackupOutcome, backup};
pub use chain::{GENESIS, Hash};
pub use derived::{RebuildOutcome, rebuild};
pub use envelope::MAX_BODY_BYTES;
pub use error::JournalError;
pub use reader::{DeviceHead, Head, Reader, StoredRow};
pub use transfer::{ExportedRow, ImportOutcome, import};
pub use verdict::{Fault, Known, KnownError, SequenceGap, SetAside, Verdict};
pub use writer::{Journal, Options, Writer};
