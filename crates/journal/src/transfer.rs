//! Import: an export's lines made into a new journal with the same rows, the same chain and the same head.

use std::io::{BufRead, Read};
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::chain::{Chain, GENESIS, Hash, hex, unhex};
use crate::files::{Unfinished, WriterLock, remove_database};
use crate::store::{Prepared, Ready, Store, hash_of};
use crate::{Answer, Head, JournalError, Reader, envelope, schema};

/// One line of an export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ExportedRow {
    /// The row's number.
    pub ship_seq: i64,
    /// When the ship received it, microseconds since 1970 UTC.
    pub received_at_us: i64,
    /// What that time rests on.
    pub received_basis: String,
    /// The envelope byte for byte, as a string.
    pub body: String,
    /// The hash of the row before, in hexadecimal.
    pub previous_hash: String,
    /// The hash of this row, in hexadecimal.
    pub hash: String,
}

/// What was imported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ImportOutcome {
    /// How many rows.
    pub rows: i64,
    /// The end of the chain, as it was where they came from; null when there were none.
    pub head: Option<Head>,
}

/// The longest line that is looked at: a body of 64 kB with every byte escaped, and its frame.
const LONGEST_LINE: u64 = 1 << 20;
/// Rows in one transaction.
const BATCH: usize = 4_096;

/// Makes `target` from the lines of an export. There must be no journal, or one without rows.
///
/// # Errors
/// [`JournalError::BadLine`] at the first line that is not a row of one unbroken chain; [`JournalError::NotEmpty`];
/// then `target` is as it was.
pub fn import(target: impl AsRef<Path>, lines: impl BufRead) -> Result<ImportOutcome, JournalError> {
    let target = target.as_ref();
    assert_empty(target)?;
    let unfinished = Unfinished::for_target(target);
    let conn = schema::open_for_writing(unfinished.path())?;
    let mut store = Store::new(conn, unfinished.path())?;
    fill(&mut store, lines, target)?;
    let tip = store.tip();
    let failed = |source| JournalError::Sqlite { doing: "importing into", path: target.to_owned(), source };
    let conn = store.into_connection();
    conn.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0)).map_err(failed)?;
    drop(conn);
    let lock = target.exists().then(|| WriterLock::take(target)).transpose()?;
    assert_empty(target)?;
    remove_database(target);
    unfinished.put_in_place(target)?;
    drop(lock);
    let head = (tip.ship_seq > 0).then(|| Head { ship_seq: tip.ship_seq, hash: hex(&tip.hash) });
    Ok(ImportOutcome { rows: tip.ship_seq, head })
}

/// No file, an empty file, or a journal without rows.
fn assert_empty(target: &Path) -> Result<(), JournalError> {
    let size = std::fs::metadata(target).map_or(0, |data| data.len());
    if size == 0 {
        return Ok(());
    }
    let reader = Reader::open(target)?;
    match reader.count()? {
        0 => Ok(()),
        rows => Err(JournalError::NotEmpty { path: target.to_owned(), rows }),
    }
}

fn fill(store: &mut Store, mut lines: impl BufRead, target: &Path) -> Result<(), JournalError> {
    let mut chain = Chain::default();
    let (mut line, mut seq, mut previous) = (0, 0, GENESIS);
    let mut batch: Vec<Prepared> = Vec::new();
    let mut text = Vec::new();
    loop {
        text.clear();
        let io = |source| JournalError::Io { doing: "reading the export for", path: target.to_owned(), source };
        let read = lines.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut text).map_err(io)?;
        line += 1;
        if read > 0 && !text.trim_ascii().is_empty() {
            let bad = |why: String| JournalError::BadLine { line, why };
            seq += 1;
            let (ready, hash) = take(&mut chain, &text, seq, &previous).map_err(bad)?;
            previous = hash;
            batch.push(Ok(ready));
        }
        if batch.len() >= BATCH || (read == 0 && !batch.is_empty()) {
            let failed = |source| JournalError::Sqlite { doing: "importing into", path: target.to_owned(), source };
            let answers = store.keep(&[std::mem::take(&mut batch)]).map_err(failed)?;
            if let Some(answer) = answers.iter().flatten().find(|answer| !matches!(answer, Answer::Kept { .. })) {
                let why = format!("one of the rows up to here is there twice ({answer:?})");
                return Err(JournalError::BadLine { line, why });
            }
        }
        if read == 0 {
            return Ok(());
        }
    }
}

/// One line as a row that follows `previous`.
fn take(chain: &mut Chain, text: &[u8], seq: i64, previous: &Hash) -> Result<(Ready, Hash), String> {
    let row: ExportedRow = serde_json::from_slice(text).map_err(|error| format!("it is not a row ({error})"))?;
    if row.ship_seq != seq {
        return Err(format!("its row number is {}, {seq} should follow", row.ship_seq));
    }
    if unhex(&row.previous_hash) != Some(*previous) {
        return Err(format!("row {seq} does not follow the row before it"));
    }
    let copies = envelope::read(row.body.as_bytes()).map_err(|refused| format!("row {seq}: {}", refused.reason))?;
    let ready = Ready {
        copies,
        body: row.body.into_bytes(),
        received_at_us: row.received_at_us,
        received_basis: row.received_basis,
    };
    let hash = hash_of(chain, previous, seq, &ready);
    if unhex(&row.hash) != Some(hash) {
        return Err(format!("row {seq} does not fit its hash"));
    }
    Ok((ready, hash))
}
