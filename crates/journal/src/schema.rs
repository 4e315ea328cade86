//! The layout of the file and how a connection is opened: STRICT tables, triggers that forbid changes,
//! a write-ahead log with a flush at every commit.
//!
//! Source: SQLite documentation, "PRAGMA Statements", "STRICT Tables", "Write-Ahead Logging".

use std::path::Path;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};

use crate::JournalError;
use crate::files::beside;

/// "Gang" as a big-endian number: how the file says what it is (`file`'s magic and `PRAGMA application_id`).
pub(crate) const APPLICATION_ID: i64 = 0x4761_6e67;
/// The layout of the tables.
pub(crate) const LAYOUT: i64 = 1;
/// SQLite up to 3.51.2 can lose committed rows when a checkpoint races a reset of the log.
const OLDEST_SQLITE: i32 = 3_051_003;

/// Every object of the file: kind, name, and the text that made it. `verify` compares them.
pub(crate) const OBJECTS: &[(&str, &str)] = &[
    (
        "rows",
        "CREATE TABLE rows (
    ship_seq INTEGER PRIMARY KEY,
    received_at_us INTEGER NOT NULL,
    received_basis TEXT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    device TEXT NOT NULL,
    device_seq INTEGER NOT NULL,
    kind TEXT NOT NULL,
    version INTEGER NOT NULL,
    happened_at_us INTEGER NOT NULL,
    happened_basis TEXT NOT NULL,
    boot TEXT,
    monotonic_ms INTEGER,
    person TEXT,
    set_id TEXT,
    haul_id TEXT,
    body BLOB NOT NULL,
    previous_hash BLOB NOT NULL,
    hash BLOB NOT NULL,
    UNIQUE (device, device_seq)
) STRICT",
    ),
    (
        "set_aside",
        "CREATE TABLE set_aside (
    number INTEGER PRIMARY KEY,
    against_ship_seq INTEGER NOT NULL,
    reason TEXT NOT NULL,
    received_at_us INTEGER NOT NULL,
    received_basis TEXT NOT NULL,
    id TEXT NOT NULL,
    device TEXT NOT NULL,
    device_seq INTEGER NOT NULL,
    body BLOB NOT NULL,
    body_hash BLOB NOT NULL UNIQUE,
    hash BLOB NOT NULL
) STRICT",
    ),
    ("device_heads", DEVICE_HEADS),
    (
        "rows_never_change",
        "CREATE TRIGGER rows_never_change BEFORE UPDATE ON rows
BEGIN SELECT RAISE(ABORT, 'rows of the journal are never changed'); END",
    ),
    (
        "rows_never_go",
        "CREATE TRIGGER rows_never_go BEFORE DELETE ON rows
BEGIN SELECT RAISE(ABORT, 'rows of the journal are never deleted'); END",
    ),
    (
        "set_aside_never_changes",
        "CREATE TRIGGER set_aside_never_changes BEFORE UPDATE ON set_aside
BEGIN SELECT RAISE(ABORT, 'events set aside are never changed'); END",
    ),
    (
        "set_aside_never_goes",
        "CREATE TRIGGER set_aside_never_goes BEFORE DELETE ON set_aside
BEGIN SELECT RAISE(ABORT, 'events set aside are never deleted'); END",
    ),
];

/// The one derived table: the newest event of every device.
pub(crate) const DEVICE_HEADS: &str = "CREATE TABLE device_heads (
    device TEXT PRIMARY KEY,
    last_seq INTEGER NOT NULL,
    ship_seq INTEGER NOT NULL,
    hash BLOB NOT NULL
) STRICT, WITHOUT ROWID";

/// The columns of a row in the order in which they are hashed, then the row's own hash.
pub(crate) const ROW_COLUMNS: &str = "previous_hash, ship_seq, received_at_us, received_basis, id, device, device_seq, \
     kind, version, happened_at_us, happened_basis, boot, monotonic_ms, person, set_id, haul_id, body, hash";
/// How many columns that is.
pub(crate) const ROW_WIDTH: usize = 18;

/// A connection for the one writer; the file is made when it is not there or has nothing in it.
pub(crate) fn open_for_writing(path: &Path) -> Result<Connection, JournalError> {
    let failed = |doing| move |source| JournalError::Sqlite { doing, path: path.to_owned(), source };
    assert_sqlite()?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut conn = Connection::open_with_flags(path, flags).map_err(failed("opening"))?;
    harden(&conn).map_err(failed("opening"))?;
    let fresh = is_blank(&conn).map_err(|error| not_ours(path, &error))?;
    if !fresh {
        check_identity(&conn, path)?;
    }
    let prepare = |conn: &mut Connection| -> rusqlite::Result<()> {
        conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0))?;
        conn.pragma_update(None, "synchronous", "FULL")?;
        conn.pragma_update(None, "journal_size_limit", 16 * 1024 * 1024)?;
        if fresh {
            let transaction = conn.transaction()?;
            for (_, text) in OBJECTS {
                transaction.execute_batch(text)?;
            }
            transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
            transaction.pragma_update(None, "user_version", LAYOUT)?;
            transaction.commit()?;
        }
        Ok(())
    };
    prepare(&mut conn).map_err(failed("preparing"))?;
    Ok(conn)
}

/// A connection that cannot write.
pub(crate) fn open_for_reading(path: &Path) -> Result<Connection, JournalError> {
    assert_sqlite()?;
    if !path.is_file() {
        return Err(JournalError::Missing { path: path.to_owned() });
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let open = |name: &Path, flags| {
        let conn = Connection::open_with_flags(name, flags)?;
        harden(&conn)?;
        is_blank(&conn).map(|blank| (conn, blank))
    };
    let mut opened = open(path, flags);
    if opened.is_err() && !beside(path, "-wal").exists() {
        // A closed journal in a folder that cannot be written, such as a stick that is locked.
        opened = open(Path::new(&unchanging_uri(path)), flags | OpenFlags::SQLITE_OPEN_URI).or(opened);
    }
    let (conn, blank) = opened.map_err(|error| not_ours(path, &error))?;
    if blank {
        return Err(JournalError::NotAJournal { path: path.to_owned(), why: "it has no tables".to_owned() });
    }
    check_identity(&conn, path)?;
    Ok(conn)
}

/// The file named as one that nobody changes (SQLite documentation, "Uniform Resource Identifiers").
fn unchanging_uri(path: &Path) -> String {
    let name = path.to_string_lossy().replace('%', "%25").replace('?', "%3f").replace('#', "%23");
    format!("file:{name}?immutable=1")
}

fn assert_sqlite() -> Result<(), JournalError> {
    if rusqlite::version_number() < OLDEST_SQLITE {
        return Err(JournalError::OldSqlite { found: rusqlite::version().to_owned() });
    }
    Ok(())
}

fn harden(conn: &Connection) -> rusqlite::Result<()> {
    conn.busy_timeout(std::time::Duration::from_secs(10))?;
    conn.pragma_update(None, "trusted_schema", "OFF")?;
    conn.pragma_update(None, "cell_size_check", "ON")?;
    // Without it INSERT OR REPLACE deletes a row and no DELETE trigger fires.
    conn.pragma_update(None, "recursive_triggers", "ON")?;
    conn.pragma_update(None, "cache_size", -8_000)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    Ok(())
}

fn is_blank(conn: &Connection) -> rusqlite::Result<bool> {
    let objects: i64 = conn.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(objects == 0 && pragma(conn, "application_id")? == 0)
}

fn check_identity(conn: &Connection, path: &Path) -> Result<(), JournalError> {
    let application = pragma(conn, "application_id").map_err(|error| not_ours(path, &error))?;
    if application != APPLICATION_ID {
        let why = format!("its application number is {application}, not {APPLICATION_ID}");
        return Err(JournalError::NotAJournal { path: path.to_owned(), why });
    }
    let found = pragma(conn, "user_version").map_err(|error| not_ours(path, &error))?;
    if found != LAYOUT {
        return Err(JournalError::TooNew { path: path.to_owned(), found, known: LAYOUT });
    }
    Ok(())
}

fn pragma(conn: &Connection, name: &str) -> rusqlite::Result<i64> {
    conn.pragma_query_value(None, name, |row| row.get(0))
}

fn not_ours(path: &Path, error: &rusqlite::Error) -> JournalError {
    JournalError::NotAJournal { path: path.to_owned(), why: error.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row put in by hand: whether it fits a chain does not matter here.
    fn one_row(conn: &Connection, verb: &str) -> rusqlite::Result<usize> {
        conn.execute(
            &format!(
                "{verb} INTO rows VALUES (1, 0, 'computer', 'a', 'tablet', 1, 'note', 1, 0, 'tapped', NULL, NULL, NULL,
                    NULL, NULL, x'7b7d', zeroblob(32), zeroblob(32))"
            ),
            [],
        )
    }

    #[test]
    fn regress_rows_cannot_be_replaced_changed_or_deleted() {
        let folder = tempfile::tempdir().unwrap();
        let conn = open_for_writing(&folder.path().join("journal.db")).unwrap();
        one_row(&conn, "INSERT").unwrap();
        for attempt in [
            one_row(&conn, "INSERT OR REPLACE").map(|_| ()),
            one_row(&conn, "REPLACE").map(|_| ()),
            conn.execute_batch("UPDATE rows SET kind = 'other'"),
            conn.execute_batch("UPDATE OR REPLACE rows SET ship_seq = 2"),
            conn.execute_batch("DELETE FROM rows"),
        ] {
            assert!(attempt.unwrap_err().to_string().contains("rows of the journal are never"));
        }
        let kind: String = conn.query_row("SELECT kind FROM rows", [], |row| row.get(0)).unwrap();
        assert_eq!(kind, "note");
    }

    #[test]
    fn regress_the_linked_sqlite_is_new_enough_and_the_settings_hold() {
        assert!(rusqlite::version_number() >= OLDEST_SQLITE);
        let folder = tempfile::tempdir().unwrap();
        let conn = open_for_writing(&folder.path().join("journal.db")).unwrap();
        for (name, value) in [
            ("synchronous", 2),
            ("recursive_triggers", 1),
            ("trusted_schema", 0),
            ("cell_size_check", 1),
            ("journal_size_limit", 16 * 1024 * 1024),
            ("application_id", APPLICATION_ID),
            ("user_version", LAYOUT),
        ] {
            assert_eq!(pragma(&conn, name).unwrap(), value, "{name}");
        }
        let mode: String = conn.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
        assert_eq!(mode, "wal");
    }
}
