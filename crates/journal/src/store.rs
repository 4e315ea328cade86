//! Rows into the file: one transaction for a group of events, each kept, known, or set aside.

use std::path::Path;

use rusqlite::config::DbConfig;
use rusqlite::types::{ToSql, ToSqlOutput, ValueRef};
use rusqlite::{Connection, OptionalExtension, Transaction, params};

use crate::chain::{Chain, GENESIS, Hash};
use crate::envelope::{Copies, NotTaken};
use crate::{Answer, JournalError, Reader};

/// An event ready for the file, or the word on why it is not.
pub(crate) type Prepared = Result<Ready, NotTaken>;

/// An event whose envelope has been read.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub(crate) copies: Copies,
    pub(crate) body: Vec<u8>,
    pub(crate) received_at_us: i64,
    pub(crate) received_basis: String,
}

/// Where the chain stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Tip {
    pub(crate) ship_seq: i64,
    pub(crate) hash: Hash,
}

/// The open file with the end of its chain.
#[derive(Debug)]
pub(crate) struct Store {
    conn: Connection,
    tip: Tip,
    chain: Chain,
}

impl Store {
    /// Takes over a connection; the last row must fit its hash, or nothing may be chained to it.
    pub(crate) fn new(conn: Connection, path: &Path) -> Result<Self, JournalError> {
        let failed = |source| JournalError::Sqlite { doing: "reading the last row of", path: path.to_owned(), source };
        let tip = Reader::last_row(&conn).map_err(failed)?;
        let tip = match tip {
            None => Tip { ship_seq: 0, hash: GENESIS },
            Some(last) if last.fits => Tip { ship_seq: last.ship_seq, hash: last.hash },
            Some(last) => {
                let first = format!("row {} does not fit its hash", last.ship_seq);
                return Err(JournalError::Broken { path: path.to_owned(), faults: 1, first });
            }
        };
        Ok(Self { conn, tip, chain: Chain::default() })
    }

    /// Keeps several deliveries in one transaction and flushes once; on an error nothing of it is kept.
    pub(crate) fn keep(&mut self, deliveries: &[Vec<Prepared>]) -> rusqlite::Result<Vec<Vec<Answer>>> {
        let mut tip = self.tip;
        let transaction = self.conn.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        let mut answers = Vec::with_capacity(deliveries.len());
        for delivery in deliveries {
            let mut given = Vec::with_capacity(delivery.len());
            for event in delivery {
                given.push(match event {
                    Ok(ready) => keep_one(&transaction, &mut self.chain, &mut tip, ready)?,
                    Err(NotTaken { id, reason }) => Answer::Refused { id: id.clone(), reason: reason.clone() },
                });
            }
            answers.push(given);
        }
        transaction.commit()?;
        self.tip = tip;
        Ok(answers)
    }

    /// Leaves the file as it is: after a failed flush not even the log is copied into it.
    pub(crate) fn give_up(self) {
        let _ = self.conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
    }

    pub(crate) const fn tip(&self) -> Tip {
        self.tip
    }

    pub(crate) fn into_connection(self) -> Connection {
        self.conn
    }
}

fn keep_one(tx: &Transaction<'_>, chain: &mut Chain, tip: &mut Tip, ready: &Ready) -> rusqlite::Result<Answer> {
    let ship_seq = tip.ship_seq + 1;
    let hash = hash_of(chain, &tip.hash, ship_seq, ready);
    let Copies { device, device_seq, .. } = &ready.copies;
    let mut insert = tx.prepare_cached(
        "INSERT INTO rows (previous_hash, ship_seq, received_at_us, received_basis, id, device, device_seq, kind, version,
            happened_at_us, happened_basis, boot, monotonic_ms, person, set_id, haul_id, body, hash)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18) ON CONFLICT DO NOTHING",
    )?;
    let columns = columns(ship_seq, ready).map(Plain);
    let mut values: Vec<&dyn ToSql> = vec![&tip.hash];
    values.extend(columns.iter().map(|column| column as &dyn ToSql));
    values.push(&hash);
    if insert.execute(&values[..])? == 0 {
        return repeat_or_conflict(tx, ready);
    }
    *tip = Tip { ship_seq, hash };
    let mut raise = tx.prepare_cached(
        "UPDATE device_heads SET last_seq = ?2, ship_seq = ?3, hash = ?4 WHERE device = ?1 AND last_seq < ?2",
    )?;
    if raise.execute(params![device, device_seq, ship_seq, hash])? == 0 {
        tx.prepare_cached(
            "INSERT INTO device_heads (device, last_seq, ship_seq, hash) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
        )?
        .execute(params![device, device_seq, ship_seq, hash])?;
    }
    Ok(Answer::Kept { ship_seq })
}

/// The event was not inserted: it is there already, or it contradicts what is there.
fn repeat_or_conflict(tx: &Transaction<'_>, ready: &Ready) -> rusqlite::Result<Answer> {
    let Copies { id, device, device_seq, .. } = &ready.copies;
    let same_id: Option<(i64, bool)> = tx
        .prepare_cached("SELECT ship_seq, body = ?2 FROM rows WHERE id = ?1")?
        .query_row(params![id, ready.body], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let (against, reason) = match same_id {
        Some((ship_seq, true)) => return Ok(Answer::Known { ship_seq }),
        Some((ship_seq, false)) => (ship_seq, format!("id {id} is there already with other bytes, as row {ship_seq}")),
        None => {
            let ship_seq: i64 = tx
                .prepare_cached("SELECT ship_seq FROM rows WHERE device = ?1 AND device_seq = ?2")?
                .query_row(params![device, device_seq], |row| row.get(0))?;
            (
                ship_seq,
                format!("number {device_seq} of device {device} is used already by row {ship_seq} with another id"),
            )
        }
    };
    set_aside(tx, ready, against, &reason)?;
    Ok(Answer::Conflict { id: id.clone(), ship_seq: against, reason })
}

fn set_aside(tx: &Transaction<'_>, ready: &Ready, against: i64, reason: &str) -> rusqlite::Result<()> {
    let Copies { id, device, device_seq, .. } = &ready.copies;
    let mut chain = Chain::default();
    chain.begin(ValueRef::Null);
    chain.column(ValueRef::Blob(&ready.body));
    let body_hash = chain.end();
    let columns = [
        ValueRef::Integer(against),
        ValueRef::Text(reason.as_bytes()),
        ValueRef::Integer(ready.received_at_us),
        ValueRef::Text(ready.received_basis.as_bytes()),
        ValueRef::Text(id.as_bytes()),
        ValueRef::Text(device.as_bytes()),
        ValueRef::Integer(*device_seq),
        ValueRef::Blob(&ready.body),
        ValueRef::Blob(&body_hash),
    ];
    chain.begin(ValueRef::Null);
    columns.iter().for_each(|column| chain.column(*column));
    let hash = chain.end();
    let columns = columns.map(Plain);
    let mut values: Vec<&dyn ToSql> = columns.iter().map(|column| column as &dyn ToSql).collect();
    values.push(&hash);
    tx.prepare_cached(
        "INSERT INTO set_aside (against_ship_seq, reason, received_at_us, received_basis, id, device, device_seq, body,
            body_hash, hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) ON CONFLICT DO NOTHING",
    )?
    .execute(&values[..])?;
    Ok(())
}

/// The hash of an event as row `ship_seq` after `previous`.
pub(crate) fn hash_of(chain: &mut Chain, previous: &Hash, ship_seq: i64, ready: &Ready) -> Hash {
    chain.begin(ValueRef::Blob(previous));
    columns(ship_seq, ready).into_iter().for_each(|column| chain.column(column));
    chain.end()
}

/// Every column between the previous hash and the hash, in the order of [`crate::schema::ROW_COLUMNS`].
fn columns(ship_seq: i64, ready: &Ready) -> [ValueRef<'_>; 16] {
    let copies = &ready.copies;
    [
        ValueRef::Integer(ship_seq),
        ValueRef::Integer(ready.received_at_us),
        ValueRef::Text(ready.received_basis.as_bytes()),
        ValueRef::Text(copies.id.as_bytes()),
        ValueRef::Text(copies.device.as_bytes()),
        ValueRef::Integer(copies.device_seq),
        ValueRef::Text(copies.kind.as_bytes()),
        ValueRef::Integer(copies.version),
        ValueRef::Integer(copies.happened_at_us),
        ValueRef::Text(copies.happened_basis.as_bytes()),
        text_or_null(copies.boot.as_deref()),
        copies.monotonic_ms.map_or(ValueRef::Null, ValueRef::Integer),
        text_or_null(copies.person.as_deref()),
        text_or_null(copies.set_id.as_deref()),
        text_or_null(copies.haul_id.as_deref()),
        ValueRef::Blob(&ready.body),
    ]
}

fn text_or_null(text: Option<&str>) -> ValueRef<'_> {
    text.map_or(ValueRef::Null, |text| ValueRef::Text(text.as_bytes()))
}

/// A borrowed value as a parameter.
struct Plain<'a>(ValueRef<'a>);

impl ToSql for Plain<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(self.0))
    }
}
