//! The append-only journal: one SQLite file, chained and verifiable
