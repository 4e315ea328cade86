//! Verification: the chain computed again from the bytes on disk, copies held against bodies, the file held
//! against its own indexes, and the ship held against what its devices remember.

use quantity::UtcInstant;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension};

use crate::chain::{Chain, GENESIS, Hash, hex};
use crate::envelope::{self, Seen};
use crate::reader::{columns_of, hash_row};
use crate::schema::{OBJECTS, ROW_COLUMNS, ROW_WIDTH};
use crate::{DeviceHead, Fault, JournalError, Known, Reader, SequenceGap, SetAside, Verdict};

/// Rows in a row that cannot be read before the search for readable ones is given up.
const UNREADABLE: u32 = 200;
/// Rows from which on two readers are faster than one.
const WORTH_HALVING: i64 = 5_000;

impl Reader {
    /// Verifies everything: chain, copies, file, layout, devices, and what devices know.
    ///
    /// # Errors
    /// Only when no reading can begin; whatever is broken is a fault of the [`Verdict`].
    pub fn verify(&self, known: &[Known]) -> Result<Verdict, JournalError> {
        let conn = self.connection();
        let snapshot = conn.unchecked_transaction().map_err(|source| self.failed("reading", source))?;
        let Walk { mut faults, rows, last, .. } = self.walk(true);
        note(&mut faults, "the layout", check_layout(conn));
        note(&mut faults, "the file", check_file(conn));
        let (devices, gaps) = match check_devices(conn) {
            Ok((devices, gaps, mut found)) => {
                faults.append(&mut found);
                (devices, gaps)
            }
            Err(error) => {
                note(&mut faults, "the devices", Err(error));
                (Vec::new(), Vec::new())
            }
        };
        let set_aside_events = match read_set_aside(conn) {
            Ok((events, mut found)) => {
                faults.append(&mut found);
                events
            }
            Err(error) => {
                note(&mut faults, "the events set aside", Err(error));
                Vec::new()
            }
        };
        for claim in known {
            note(&mut faults, "a device's claim", check_known(conn, claim));
        }
        drop(snapshot);
        Ok(Verdict {
            ok: faults.is_empty(),
            rows,
            head: (rows > 0).then(|| hex(&last)),
            faults,
            set_aside: set_aside_events.len() as u64,
            set_aside_events,
            devices,
            gaps,
        })
    }

    /// Verifies the chain alone, without looking into the bodies: faults, rows and bytes hashed.
    ///
    /// # Errors
    /// When no reading can begin.
    pub fn verify_chain(&self) -> Result<(Vec<Fault>, u64, u64), JournalError> {
        let snapshot = self.connection().unchecked_transaction().map_err(|source| self.failed("reading", source))?;
        let walk = self.walk(false);
        drop(snapshot);
        Ok((walk.faults, walk.rows, walk.bytes))
    }
}

impl Reader {
    /// Walks the whole chain: a long one in two halves at once, and if anything is wrong again as a whole, so
    /// that faults are named by one walk only.
    fn walk(&self, look_inside: bool) -> Walk {
        let newest =
            self.connection().query_row("SELECT max(ship_seq) FROM rows", [], |row| row.get::<_, Option<i64>>(0));
        if let Ok(Some(newest)) = newest
            && newest > WORTH_HALVING
            && let Some(walk) = self.walk_by_halves(look_inside, newest)
        {
            return walk;
        }
        let mut walk = Walk::new(look_inside);
        walk.all(self.connection());
        walk
    }

    /// Both halves, joined, when both are whole; none when anything is wrong. The journal only grows, so that a
    /// second reading begun later sees at least the same rows; it stops at the first one's newest.
    fn walk_by_halves(&self, look_inside: bool, newest: i64) -> Option<Walk> {
        let middle = newest / 2;
        let path = self.path();
        std::thread::scope(|scope| {
            let second = scope.spawn(move || {
                let reader = Reader::open(path).ok()?;
                let mut walk = Walk::new(look_inside);
                walk.begin_at(reader.connection(), middle).ok()?;
                walk.some(reader.connection(), newest).ok()?;
                Some(walk)
            });
            let mut first = Walk::new(look_inside);
            let begun = first.some(self.connection(), middle);
            let second = second.join().ok().flatten()?;
            let whole = begun.is_ok() && first.faults.is_empty() && second.faults.is_empty();
            let counted = i64::try_from(first.rows + second.rows).ok() == Some(newest);
            (whole && counted).then(|| Walk {
                rows: first.rows + second.rows,
                bytes: first.bytes + second.bytes,
                ..second
            })
        })
    }
}

/// Adds what a check found, or that it could not be made.
fn note(faults: &mut Vec<Fault>, what: &str, found: rusqlite::Result<Vec<Fault>>) {
    match found {
        Ok(mut found) => faults.append(&mut found),
        Err(error) => faults.push(Fault { ship_seq: None, what: format!("{what} cannot be read: {error}") }),
    }
}

/// A walk along the chain.
struct Walk {
    look_inside: bool,
    chain: Chain,
    faults: Vec<Fault>,
    rows: u64,
    bytes: u64,
    /// The number of the last row seen.
    seq: i64,
    /// The stored hash of the last row, and the one it should have.
    last: Hash,
    last_computed: Hash,
    /// The row before could not be read, so nothing can be said of what follows it.
    torn: bool,
}

impl Walk {
    fn new(look_inside: bool) -> Self {
        Self {
            look_inside,
            chain: Chain::default(),
            faults: Vec::new(),
            rows: 0,
            bytes: 0,
            seq: 0,
            last: GENESIS,
            last_computed: GENESIS,
            torn: false,
        }
    }

    /// Walks all rows; over what cannot be read it steps on, row by row.
    fn all(&mut self, conn: &Connection) {
        let mut unreadable = 0;
        while let Err(error) = self.some(conn, i64::MAX) {
            self.seq += 1;
            self.torn = true;
            unreadable = if self.faults.last().is_some_and(|fault| fault.ship_seq == Some(self.seq - 1)) {
                unreadable + 1
            } else {
                1
            };
            self.fault(self.seq, format!("it cannot be read: {error}"));
            if unreadable == UNREADABLE {
                self.faults.push(Fault { ship_seq: None, what: format!("no row after {} was looked at", self.seq) });
                return;
            }
        }
    }

    /// Takes a row as the one before the walk begins, without judging it.
    fn begin_at(&mut self, conn: &Connection, ship_seq: i64) -> rusqlite::Result<()> {
        let look_inside = std::mem::take(&mut self.look_inside);
        self.seq = ship_seq - 1;
        self.torn = true;
        self.some(conn, ship_seq)?;
        *self = Self {
            look_inside,
            seq: self.seq,
            last: self.last,
            last_computed: self.last_computed,
            ..Self::new(look_inside)
        };
        Ok(())
    }

    fn some(&mut self, conn: &Connection, until: i64) -> rusqlite::Result<()> {
        let mut select = conn.prepare(&format!(
            "SELECT {ROW_COLUMNS} FROM rows WHERE ship_seq > ?1 AND ship_seq <= ?2 ORDER BY ship_seq"
        ))?;
        let mut rows = select.query([self.seq, until])?;
        while let Some(row) = rows.next()? {
            self.row(&columns_of(row)?);
        }
        Ok(())
    }

    fn row(&mut self, columns: &[ValueRef<'_>; ROW_WIDTH]) {
        let ValueRef::Integer(seq) = columns[1] else { return };
        let computed = hash_row(&mut self.chain, columns);
        let stored = match columns[ROW_WIDTH - 1] {
            ValueRef::Blob(bytes) => Hash::try_from(bytes).ok(),
            _ => None,
        };
        let expected = self.seq.saturating_add(1);
        if seq > expected {
            self.torn = true;
            let what = if seq == expected + 1 {
                "it is missing".to_owned()
            } else {
                format!("it and all up to {} are missing", seq - 1)
            };
            self.fault(expected, what);
        } else if seq < expected {
            self.fault(seq, format!("it stands after row {}", self.seq));
        }
        let broken = stored != Some(computed);
        if broken {
            self.fault(seq, "its columns do not fit its hash".to_owned());
        }
        let follows = matches!(columns[0], ValueRef::Blob(bytes) if bytes == self.last || bytes == self.last_computed);
        if !follows && !broken && !self.torn {
            self.fault(seq, "it does not follow the row before it".to_owned());
        }
        if self.look_inside
            && let Some(what) = differs(columns)
        {
            self.fault(seq, what);
        }
        self.torn = false;
        self.rows += 1;
        self.bytes += self.chain.covered_bytes() as u64;
        self.seq = self.seq.max(seq);
        self.last_computed = computed;
        self.last = stored.unwrap_or(computed);
    }

    fn fault(&mut self, seq: i64, what: String) {
        self.faults.push(Fault { ship_seq: Some(seq), what });
    }
}

/// The first copied column that is not what the body says.
fn differs(columns: &[ValueRef<'_>; ROW_WIDTH]) -> Option<String> {
    let ValueRef::Blob(body) = columns[16] else {
        return Some("its body is not stored as bytes".to_owned());
    };
    let seen: Seen<'_> = match envelope::see(body) {
        Ok(seen) => seen,
        Err(error) => return Some(format!("its body is not an envelope: {error}")),
    };
    fn text<'a>(value: Option<&'a str>) -> ValueRef<'a> {
        value.map_or(ValueRef::Null, |text| ValueRef::Text(text.as_bytes()))
    }
    let copies = [
        ("id", text(Some(&seen.id))),
        ("device", text(Some(&seen.device))),
        ("device_seq", ValueRef::Integer(seen.device_seq)),
        ("kind", text(Some(&seen.kind))),
        ("version", ValueRef::Integer(seen.version)),
        ("happened_at_us", ValueRef::Integer(seen.happened_at.micros())),
        ("happened_basis", text(Some(&seen.happened_basis))),
        ("boot", text(seen.boot.as_deref())),
        ("monotonic_ms", seen.monotonic_ms.map_or(ValueRef::Null, ValueRef::Integer)),
        ("person", text(seen.person.as_deref())),
        ("set_id", text(seen.set.as_deref())),
        ("haul_id", text(seen.haul.as_deref())),
    ];
    let (name, _) =
        copies.iter().zip(&columns[4..16]).find(|((_, said), stored)| said != *stored).map(|(copy, _)| copy)?;
    Some(format!("its column {name} is not what its body says"))
}

/// The tables and triggers are those of this layout, each with its own text.
fn check_layout(conn: &Connection) -> rusqlite::Result<Vec<Fault>> {
    let mut faults = Vec::new();
    let mut select = conn.prepare("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")?;
    let found: Vec<(String, String)> =
        select.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?;
    for (name, text) in OBJECTS {
        if !found.iter().any(|(found, sql)| found == name && sql == text) {
            faults.push(Fault { ship_seq: None, what: format!("{name} is not as this program made it") });
        }
    }
    for (name, _) in found.iter().filter(|(name, _)| !OBJECTS.iter().any(|(known, _)| known == name)) {
        faults.push(Fault { ship_seq: None, what: format!("{name} does not belong into a journal") });
    }
    Ok(faults)
}

/// SQLite's own check of pages, cells and indexes.
fn check_file(conn: &Connection) -> rusqlite::Result<Vec<Fault>> {
    let mut check = conn.prepare("PRAGMA integrity_check(20)")?;
    let said: Vec<String> = check.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
    Ok(said
        .into_iter()
        .filter(|line| line != "ok")
        .map(|what| Fault { ship_seq: None, what: format!("the file: {what}") })
        .collect())
}

type Devices = (Vec<DeviceHead>, Vec<SequenceGap>, Vec<Fault>);

/// Heads and gaps of every device, counted from the rows; the derived table must say the same.
fn check_devices(conn: &Connection) -> rusqlite::Result<Devices> {
    let mut gaps = Vec::new();
    let mut heads: Vec<(String, i64)> = Vec::new();
    let mut select = conn.prepare("SELECT device, device_seq FROM rows ORDER BY device, device_seq")?;
    let mut rows = select.query([])?;
    while let Some(row) = rows.next()? {
        let device = row.get_ref(0)?.as_bytes().unwrap_or_default();
        let seq: i64 = row.get(1)?;
        if heads.last().is_none_or(|(last, _)| last.as_bytes() != device) {
            heads.push((String::from_utf8_lossy(device).into_owned(), 0));
        }
        if let Some((name, last)) = heads.last_mut() {
            if seq > last.saturating_add(1) {
                gaps.push(SequenceGap { device: name.clone(), from_seq: *last + 1, to_seq: seq - 1 });
            }
            *last = seq;
        }
    }
    let mut devices = Vec::new();
    for (device, last_seq) in heads {
        let hash = hash_at(conn, &device, last_seq)?.map_or_else(String::new, |(_, hash)| hex(&hash));
        devices.push(DeviceHead { device, last_seq, hash });
    }
    let mut derived = conn.prepare("SELECT device, last_seq, hash FROM device_heads ORDER BY device")?;
    let derived: Vec<DeviceHead> = derived
        .query_map([], |row| {
            let hash: Vec<u8> = row.get(2)?;
            Ok(DeviceHead { device: row.get(0)?, last_seq: row.get(1)?, hash: hex(&hash) })
        })?
        .collect::<Result<_, _>>()?;
    let mut faults = Vec::new();
    if derived != devices {
        let what = "the table of devices is not what the rows say; `gangion journal rebuild` makes it again".to_owned();
        faults.push(Fault { ship_seq: None, what });
    }
    Ok((devices, gaps, faults))
}

fn hash_at(conn: &Connection, device: &str, seq: i64) -> rusqlite::Result<Option<(i64, Vec<u8>)>> {
    conn.prepare_cached("SELECT ship_seq, hash FROM rows WHERE device = ?1 AND device_seq = ?2")?
        .query_row(rusqlite::params![device, seq], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()
}

/// Whether the ship still has what it once told a device that it has.
fn check_known(conn: &Connection, claim: &Known) -> rusqlite::Result<Vec<Fault>> {
    let Known { device, device_seq, hash } = claim;
    let what = match hash_at(conn, device, *device_seq)? {
        Some((_, stored)) if stored == hash => return Ok(Vec::new()),
        Some((ship_seq, stored)) => {
            let what = format!(
                "device {device} was told hash {} for its event {device_seq}, here it is {}: this is another history",
                hex(hash),
                hex(&stored)
            );
            return Ok(vec![Fault { ship_seq: Some(ship_seq), what }]);
        }
        None => {
            let mut last = conn.prepare_cached("SELECT max(device_seq) FROM rows WHERE device = ?1")?;
            let last: Option<i64> = last.query_row([device], |row| row.get(0))?;
            let here = last.map_or_else(|| "has none of it".to_owned(), |last| format!("has it up to {last}"));
            format!(
                "device {device} knows that the ship had its event {device_seq}, this journal {here}: \
                 an older copy stands in its place; the device will send again what is missing"
            )
        }
    };
    Ok(vec![Fault { ship_seq: None, what }])
}

/// The events set aside, each held against its own hash.
pub(crate) fn read_set_aside(conn: &Connection) -> rusqlite::Result<(Vec<SetAside>, Vec<Fault>)> {
    let (mut events, mut faults) = (Vec::new(), Vec::new());
    let mut chain = Chain::default();
    let mut select = conn.prepare(
        "SELECT against_ship_seq, reason, received_at_us, received_basis, id, device, device_seq, body, body_hash, hash, number
         FROM set_aside ORDER BY number",
    )?;
    let mut rows = select.query([])?;
    while let Some(row) = rows.next()? {
        chain.begin(ValueRef::Null);
        for place in 0..9 {
            chain.column(row.get_ref(place)?);
        }
        let number: i64 = row.get(10)?;
        if row.get_ref(9)? != ValueRef::Blob(&chain.end()) {
            let what = format!("the event set aside as number {number} does not fit its hash");
            faults.push(Fault { ship_seq: None, what });
            continue;
        }
        let body: Vec<u8> = row.get(7)?;
        events.push(SetAside {
            against_ship_seq: row.get(0)?,
            reason: row.get(1)?,
            received_at: UtcInstant::from_micros_clamped(row.get(2)?),
            id: row.get(4)?,
            device: row.get(5)?,
            device_seq: row.get(6)?,
            body: String::from_utf8_lossy(&body).into_owned(),
        });
    }
    Ok((events, faults))
}
