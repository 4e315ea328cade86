//! How the journal fails, in sentences that say what is wrong and what to do.

use std::path::PathBuf;

/// Why something could not be done with a journal.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// There is no file of that name.
    #[error("there is no journal at {}; nothing was written. Check the path.", path.display())]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{} is not a journal of this program ({why}); nothing in it was changed. Check the path.", path.display())]
    NotAJournal {
        /// The file.
        path: PathBuf,
        /// How it can be told.
        why: String,
    },
    /// The file was made by a later program.
    #[error("{} has layout {found}, this program knows {known}; nothing in it was changed. Use the newer program.", path.display())]
    TooNew {
        /// The file.
        path: PathBuf,
        /// Its layout number.
        found: i64,
        /// The layout number of this program.
        known: i64,
    },
    /// Another process writes it.
    #[error("another program is writing {} already; this one wrote nothing. Stop the other one first.", path.display())]
    Busy {
        /// The journal.
        path: PathBuf,
    },
    /// The target is there already.
    #[error("{} is there already and is not overwritten; give another name.", path.display())]
    Exists {
        /// The file in the way.
        path: PathBuf,
    },
    /// The operating system said no.
    #[error("{doing} {} failed ({source}); nothing was half-written.", path.display())]
    Io {
        /// What was being done.
        doing: &'static str,
        /// With which file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// SQLite said no.
    #[error("{doing} {} failed ({source}); rows kept before are untouched. Run `gangion journal verify` on it.", path.display())]
    Sqlite {
        /// What was being done.
        doing: &'static str,
        /// With which file.
        path: PathBuf,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// The writer has stopped and takes nothing more.
    #[error("THE JOURNAL HAS STOPPED: {why}. Nothing of this was kept; everything acknowledged before is. {advice}")]
    Stopped {
        /// What happened.
        why: String,
        /// What to do.
        advice: &'static str,
    },
    /// The last row does not fit its own hash, or rows are broken that must not be copied.
    #[error("{} is broken ({faults} faults; first: {first}); nothing was written. Run `gangion journal verify` and put a good backup in place.", path.display())]
    Broken {
        /// The journal.
        path: PathBuf,
        /// How many faults were found.
        faults: usize,
        /// The first of them.
        first: String,
    },
    /// A line of an export cannot be taken.
    #[error("line {line} of the export is not taken: {why}. Nothing was imported.")]
    BadLine {
        /// Line number, from 1.
        line: u64,
        /// What is wrong with it.
        why: String,
    },
    /// The target of an import has rows.
    #[error("{} holds {rows} rows; an import goes into an empty journal only. Nothing was changed; give another name.", path.display())]
    NotEmpty {
        /// The journal.
        path: PathBuf,
        /// How many rows it has.
        rows: i64,
    },
    /// The SQLite that was linked loses rows when a checkpoint races a reset of its log.
    #[error(
        "SQLite {found} is older than 3.51.3 and can lose rows; the journal was not opened. Use a properly built program."
    )]
    OldSqlite {
        /// Its version.
        found: String,
    },
}
