//! Reading: the rows in their order, the newest of each device, the head of the chain, the export.

use std::io::Write;
use std::path::{Path, PathBuf};

use quantity::UtcInstant;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Row};
use serde::Serialize;

use crate::chain::{Chain, Hash, hex};
use crate::files::Unfinished;
use crate::schema::{self, ROW_COLUMNS, ROW_WIDTH};
use crate::{ExportedRow, JournalError, SetAside};

/// How many rows are fetched at a time, so that no reader holds the log back for long.
const PAGE_ROWS: i64 = 512;

/// A connection that reads one journal.
#[derive(Debug)]
pub struct Reader {
    conn: Connection,
    path: PathBuf,
}

/// One row as the fold needs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredRow {
    /// Its number in the journal, from 1.
    pub ship_seq: i64,
    /// When the ship received it.
    pub received_at: UtcInstant,
    /// The envelope, byte for byte as it came.
    pub body: Vec<u8>,
}

/// The newest event of one device.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DeviceHead {
    /// The device's id.
    pub device: String,
    /// Its highest sequence number.
    pub last_seq: i64,
    /// The hash of that row, in hexadecimal.
    pub hash: String,
}

/// The end of the chain.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Head {
    /// The last row's number.
    pub ship_seq: i64,
    /// Its hash, in hexadecimal.
    pub hash: String,
}

/// The last row, and whether it fits its own hash.
pub(crate) struct LastRow {
    pub(crate) ship_seq: i64,
    pub(crate) hash: Hash,
    pub(crate) fits: bool,
}

impl Reader {
    /// Opens a journal for reading.
    ///
    /// # Errors
    /// [`JournalError::Missing`], [`JournalError::NotAJournal`] or [`JournalError::TooNew`].
    pub fn open(path: impl AsRef<Path>) -> Result<Self, JournalError> {
        let path = path.as_ref().to_owned();
        Ok(Self { conn: schema::open_for_reading(&path)?, path })
    }

    /// All rows in the order of the chain.
    #[must_use]
    pub fn rows(&self) -> Rows<'_> {
        self.rows_after(0)
    }

    /// The rows after a ship sequence, in the order of the chain.
    #[must_use]
    pub fn rows_after(&self, ship_seq: i64) -> Rows<'_> {
        Rows { reader: self, after: ship_seq, page: Vec::new().into_iter(), ended: false }
    }

    /// The newest event of every device, by device id.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn device_heads(&self) -> Result<Vec<DeviceHead>, JournalError> {
        let read = || -> rusqlite::Result<Vec<DeviceHead>> {
            self.conn
                .prepare_cached("SELECT device, last_seq, hash FROM device_heads ORDER BY device")?
                .query_map([], |row| {
                    let hash: Vec<u8> = row.get(2)?;
                    Ok(DeviceHead { device: row.get(0)?, last_seq: row.get(1)?, hash: hex(&hash) })
                })?
                .collect()
        };
        read().map_err(|source| self.failed("reading the devices of", source))
    }

    /// The end of the chain; none in an empty journal.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn head(&self) -> Result<Option<Head>, JournalError> {
        let last = Self::last_row(&self.conn).map_err(|source| self.failed("reading", source))?;
        Ok(last.map(|last| Head { ship_seq: last.ship_seq, hash: hex(&last.hash) }))
    }

    /// Writes one JSON object a line, a row each, and returns how many. Events set aside are not in it.
    ///
    /// # Errors
    /// When the file cannot be read or `out` cannot be written.
    pub fn export(&self, out: &mut impl Write) -> Result<u64, JournalError> {
        let failed = |source| self.failed("reading", source);
        let mut select = self
            .conn
            .prepare("SELECT ship_seq, received_at_us, received_basis, body, previous_hash, hash FROM rows ORDER BY ship_seq")
            .map_err(failed)?;
        let mut rows = select.query([]).map_err(failed)?;
        let mut count = 0;
        while let Some(row) = rows.next().map_err(failed)? {
            let line = exported(row).map_err(failed)?;
            let io = |source| JournalError::Io { doing: "writing the export of", path: self.path.clone(), source };
            serde_json::to_writer(&mut *out, &line).map_err(|error| io(error.into()))?;
            out.write_all(b"\n").map_err(io)?;
            count += 1;
        }
        let io = |source| JournalError::Io { doing: "writing the export of", path: self.path.clone(), source };
        out.flush().map_err(io)?;
        Ok(count)
    }

    /// Writes the export to a new file, flushed; an unfinished one never bears the name.
    ///
    /// # Errors
    /// [`JournalError::Exists`] when `target` is there already; then as [`Reader::export`].
    pub fn export_to(&self, target: &Path) -> Result<u64, JournalError> {
        if target.exists() {
            return Err(JournalError::Exists { path: target.to_owned() });
        }
        let unfinished = Unfinished::for_target(target);
        let io = |source| JournalError::Io { doing: "making", path: target.to_owned(), source };
        let file = std::fs::File::create_new(unfinished.path()).map_err(io)?;
        let count = self.export(&mut std::io::BufWriter::new(file))?;
        unfinished.put_in_place(target)?;
        Ok(count)
    }

    /// How many events are set aside because they contradict a row.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn set_aside_count(&self) -> Result<u64, JournalError> {
        let count = self.conn.query_row("SELECT count(*) FROM set_aside", [], |row| row.get::<_, i64>(0));
        count.map(i64::unsigned_abs).map_err(|source| self.failed("reading", source))
    }

    /// The events that are set aside because they contradict a row, in the order in which they came.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn set_aside(&self) -> Result<Vec<SetAside>, JournalError> {
        let read = crate::verify::read_set_aside(&self.conn).map_err(|source| self.failed("reading", source))?;
        Ok(read.0)
    }

    /// The last row of the chain.
    pub(crate) fn last_row(conn: &Connection) -> rusqlite::Result<Option<LastRow>> {
        let text = format!("SELECT {ROW_COLUMNS} FROM rows ORDER BY ship_seq DESC LIMIT 1");
        let mut chain = Chain::default();
        conn.query_row(&text, [], |row| {
            let computed = hash_row(&mut chain, &columns_of(row)?);
            let stored: Vec<u8> = row.get(ROW_WIDTH - 1)?;
            let hash = Hash::try_from(stored.as_slice()).unwrap_or_default();
            Ok(LastRow { ship_seq: row.get(1)?, hash, fits: hash == computed })
        })
        .optional()
    }

    /// How many rows there are.
    pub(crate) fn count(&self) -> Result<i64, JournalError> {
        let count = self.conn.query_row("SELECT count(*) FROM rows", [], |row| row.get(0));
        count.map_err(|source| self.failed("reading", source))
    }

    pub(crate) const fn connection(&self) -> &Connection {
        &self.conn
    }

    /// Where the file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn failed(&self, doing: &'static str, source: rusqlite::Error) -> JournalError {
        JournalError::Sqlite { doing, path: self.path.clone(), source }
    }

    fn page_after(&self, ship_seq: i64) -> rusqlite::Result<Vec<StoredRow>> {
        self.conn
            .prepare_cached(
                "SELECT ship_seq, received_at_us, body FROM rows WHERE ship_seq > ?1 ORDER BY ship_seq LIMIT ?2",
            )?
            .query_map([ship_seq, PAGE_ROWS], |row| {
                let received_at = UtcInstant::from_micros_clamped(row.get(1)?);
                Ok(StoredRow { ship_seq: row.get(0)?, received_at, body: row.get(2)? })
            })?
            .collect()
    }
}

/// The rows of a journal, one after the other; see [`Reader::rows`].
#[derive(Debug)]
pub struct Rows<'a> {
    reader: &'a Reader,
    after: i64,
    page: std::vec::IntoIter<StoredRow>,
    ended: bool,
}

impl Iterator for Rows<'_> {
    type Item = Result<StoredRow, JournalError>;

    fn next(&mut self) -> Option<Self::Item> {
        if let Some(row) = self.page.next() {
            self.after = row.ship_seq;
            return Some(Ok(row));
        }
        if self.ended {
            return None;
        }
        match self.reader.page_after(self.after) {
            Ok(page) => {
                self.ended = page.is_empty();
                self.page = page.into_iter();
                let row = self.page.next()?;
                self.after = row.ship_seq;
                Some(Ok(row))
            }
            Err(source) => {
                self.ended = true;
                Some(Err(self.reader.failed("reading", source)))
            }
        }
    }
}

/// The columns of a row selected by [`ROW_COLUMNS`], as they are stored.
pub(crate) fn columns_of<'a>(row: &'a Row<'_>) -> rusqlite::Result<[ValueRef<'a>; ROW_WIDTH]> {
    let mut columns = [ValueRef::Null; ROW_WIDTH];
    for (place, column) in columns.iter_mut().enumerate() {
        *column = row.get_ref(place)?;
    }
    Ok(columns)
}

/// The hash that a row should have.
pub(crate) fn hash_row(chain: &mut Chain, columns: &[ValueRef<'_>; ROW_WIDTH]) -> Hash {
    chain.begin(columns[0]);
    columns[1..ROW_WIDTH - 1].iter().for_each(|column| chain.column(*column));
    chain.end()
}

fn exported(row: &Row<'_>) -> rusqlite::Result<ExportedRow> {
    let body: Vec<u8> = row.get(3)?;
    let body = String::from_utf8(body)
        .map_err(|error| rusqlite::Error::FromSqlConversionFailure(3, rusqlite::types::Type::Blob, Box::new(error)))?;
    Ok(ExportedRow {
        ship_seq: row.get(0)?,
        received_at_us: row.get(1)?,
        received_basis: row.get(2)?,
        body,
        previous_hash: hex(&row.get::<_, Vec<u8>>(4)?),
        hash: hex(&row.get::<_, Vec<u8>>(5)?),
    })
}
