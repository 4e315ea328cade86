//! Backup while the ship goes on writing: one consistent copy, verified before it gets its name.
//!
//! Source: SQLite documentation, "Using the SQLite Online Backup API".

use std::path::{Path, PathBuf};

use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};
use serde::Serialize;

use crate::files::Unfinished;
use crate::{Head, JournalError, Reader};

/// What was copied.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BackupOutcome {
    /// The copy.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub path: PathBuf,
    /// How many rows it has, all verified.
    pub rows: u64,
    /// The end of its chain; null for an empty journal.
    pub head: Option<Head>,
    /// Its size in bytes.
    pub size_bytes: u64,
}

/// Copies a journal to a new file and verifies the copy.
///
/// # Errors
/// [`JournalError::Exists`] when `target` is there already; [`JournalError::Broken`] when the journal does not
/// verify: then there is no copy.
pub fn backup(journal: impl AsRef<Path>, target: impl AsRef<Path>) -> Result<BackupOutcome, JournalError> {
    let target = target.as_ref();
    let source = Reader::open(journal)?;
    if target.exists() {
        return Err(JournalError::Exists { path: target.to_owned() });
    }
    let unfinished = Unfinished::for_target(target);
    let failed = |source| JournalError::Sqlite { doing: "copying to", path: target.to_owned(), source };
    copy(source.connection(), unfinished.path()).map_err(failed)?;
    let reader = Reader::open(unfinished.path())?;
    let verdict = reader.verify(&[])?;
    if let Some(first) = verdict.faults.first() {
        let row = first.ship_seq.map_or_else(String::new, |seq| format!("row {seq}: "));
        let first = format!("{row}{}", first.what);
        return Err(JournalError::Broken { path: source.path().to_owned(), faults: verdict.faults.len(), first });
    }
    let head = reader.head()?;
    drop(reader);
    unfinished.put_in_place(target)?;
    let size_bytes = std::fs::metadata(target).map_or(0, |data| data.len());
    Ok(BackupOutcome { path: target.to_owned(), rows: verdict.rows, head, size_bytes })
}

fn copy(source: &Connection, target: &Path) -> rusqlite::Result<()> {
    let mut made = Connection::open(target)?;
    {
        let backup = Backup::new(source, &mut made)?;
        // All pages in one step: one snapshot, whatever the ship writes meanwhile.
        let mut tries = 0;
        loop {
            match backup.step(-1)? {
                StepResult::Done => break,
                _ if tries == 100 => return Err(rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(5), None)),
                _ => {
                    tries += 1;
                    std::thread::sleep(std::time::Duration::from_millis(50));
                }
            }
        }
    }
    // One file and nothing beside it, so that it can be carried away.
    made.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))?;
    Ok(())
}
