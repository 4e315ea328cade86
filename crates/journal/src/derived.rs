//! Derived tables and indexes: dropped, and made again from the rows alone.

use std::path::Path;

use serde::Serialize;

use crate::files::WriterLock;
use crate::schema::{self, DEVICE_HEADS};
use crate::{Head, Journal, JournalError};

/// What a rebuild found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RebuildOutcome {
    /// How many rows the journal has; none of them was touched.
    pub rows: i64,
    /// How many devices have sent events.
    pub devices: u64,
    /// The end of the chain; null in an empty journal.
    pub head: Option<Head>,
}

/// Drops and rebuilds everything in the file that is not a row.
///
/// # Errors
/// [`JournalError::Missing`] without a file, [`JournalError::Busy`] while another process writes it.
pub fn rebuild(path: impl AsRef<Path>) -> Result<RebuildOutcome, JournalError> {
    let path = path.as_ref();
    if !path.is_file() {
        return Err(JournalError::Missing { path: path.to_owned() });
    }
    // Looked at first, so that nothing is written beside a file that is no journal.
    drop(Journal::open_read_only(path)?);
    let lock = WriterLock::take(path)?;
    let mut conn = schema::open_for_writing(path)?;
    let mut make = || -> rusqlite::Result<()> {
        let transaction = conn.transaction()?;
        transaction.execute_batch("DROP TABLE IF EXISTS device_heads")?;
        transaction.execute_batch(DEVICE_HEADS)?;
        transaction.execute_batch(
            "REINDEX;
             INSERT INTO device_heads (device, last_seq, ship_seq, hash)
             SELECT rows.device, rows.device_seq, rows.ship_seq, rows.hash
             FROM (SELECT device, max(device_seq) AS last_seq FROM rows GROUP BY device) AS newest
             JOIN rows ON rows.device = newest.device AND rows.device_seq = newest.last_seq",
        )?;
        transaction.commit()
    };
    make().map_err(|source| JournalError::Sqlite { doing: "rebuilding", path: path.to_owned(), source })?;
    drop(conn);
    drop(lock);
    let reader = Journal::open_read_only(path)?;
    Ok(RebuildOutcome { rows: reader.count()?, devices: reader.device_heads()?.len() as u64, head: reader.head()? })
}
