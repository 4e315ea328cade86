//! Flipped bytes: in any column of any row the row is named; anywhere else it is found, or no row changes.
//!
//! The places of the columns are read from the pages themselves by the published file format
//! (SQLite documentation, "Database File Format", sections 1.6 "B-tree Pages" and 2.1 "Record Format").
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

mod support;

use std::path::{Path, PathBuf};

use journal::{Journal, Verdict};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use support::{body_with, events, exported, incoming};

const COLUMNS: usize = 18;
const PAGE: usize = 4_096;

/// A row's number and the bytes of the file in which each of its columns stands.
struct Cell {
    ship_seq: u64,
    columns: Vec<std::ops::Range<usize>>,
}

fn varint(bytes: &[u8], at: &mut usize) -> u64 {
    let mut value = 0;
    for n in 0..9 {
        let byte = bytes[*at];
        *at += 1;
        if n == 8 {
            return (value << 8) | u64::from(byte);
        }
        value = (value << 7) | u64::from(byte & 127);
        if byte < 128 {
            break;
        }
    }
    value
}

/// The rows of the table `rows`: leaf cells whose records have its number of columns and stand on one page.
fn cells(file: &[u8]) -> Vec<Cell> {
    let mut found = Vec::new();
    for page in 0..file.len() / PAGE {
        let start = page * PAGE;
        let header = start + if page == 0 { 100 } else { 0 };
        if file[header] != 0x0d {
            continue;
        }
        let count = usize::from(u16::from_be_bytes([file[header + 3], file[header + 4]]));
        for cell in 0..count {
            let pointer = header + 8 + cell * 2;
            let mut at = start + usize::from(u16::from_be_bytes([file[pointer], file[pointer + 1]]));
            let payload = varint(file, &mut at);
            let ship_seq = varint(file, &mut at);
            let record = at;
            let header_end = record + usize::try_from(varint(file, &mut at)).unwrap();
            let mut types = Vec::new();
            while at < header_end {
                types.push(varint(file, &mut at));
            }
            if types.len() != COLUMNS || payload > 4_000 {
                continue;
            }
            let mut columns = Vec::new();
            for kind in types {
                let length = match kind {
                    1..=4 => usize::try_from(kind).unwrap(),
                    5 => 6,
                    6 | 7 => 8,
                    0 | 8 | 9 => 0,
                    long => usize::try_from((long - 12) / 2).unwrap(),
                };
                columns.push(at..at + length);
                at += length;
            }
            found.push(Cell { ship_seq, columns });
        }
    }
    found
}

struct Bench {
    folder: tempfile::TempDir,
    file: Vec<u8>,
    text: String,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("journal.db");
        let journal = Journal::open(&path).unwrap();
        journal.append(events("rail", 1, 25)).unwrap();
        journal.append(events("stern", 1, 20)).unwrap();
        journal.append(vec![incoming(body_with("odd", "rail", 3, "in conflict"), 1)]).unwrap();
        journal.append(vec![incoming(body_with("long", "rail", 26, &"long ".repeat(3_000)), 1)]).unwrap();
        journal.append(events("rail", 27, 60)).unwrap();
        drop(journal);
        let text = exported(&path);
        Self { file: std::fs::read(&path).unwrap(), folder, text }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("flipped.db")
    }

    /// The verdict over the file with one byte changed; none when it cannot even be opened.
    fn verdict(&self, at: usize, flip: u8) -> Option<Verdict> {
        for suffix in ["-wal", "-shm"] {
            let _ = std::fs::remove_file(self.folder.path().join(format!("flipped.db{suffix}")));
        }
        let mut file = self.file.clone();
        file[at] ^= flip;
        std::fs::write(self.path(), file).unwrap();
        Journal::open_read_only(self.path()).ok()?.verify(&[]).ok()
    }
}

fn names(verdict: Option<&Verdict>, ship_seq: u64) -> bool {
    let ship_seq = i64::try_from(ship_seq).unwrap();
    verdict.is_some_and(|verdict| verdict.faults.iter().any(|fault| fault.ship_seq == Some(ship_seq)))
}

#[test]
fn verif_a_flipped_byte_in_any_column_names_the_row() {
    let bench = Bench::new();
    let cells = cells(&bench.file);
    assert!(cells.len() >= 75, "{}", cells.len());
    let mut tried = 0;
    for cell in cells.iter().filter(|cell| [1, 2, 17, 30, 45, 77, 80].contains(&cell.ship_seq)) {
        for column in &cell.columns {
            let mut places = vec![column.start, column.start + column.len() / 2, column.end.saturating_sub(1)];
            places.retain(|place| column.contains(place));
            places.dedup();
            for (place, flip) in places.iter().flat_map(|place| [(*place, 1), (*place, 0x80)]) {
                let verdict = bench.verdict(place, flip);
                assert!(names(verdict.as_ref(), cell.ship_seq), "row {} byte {place}: {verdict:?}", cell.ship_seq);
                tried += 1;
            }
        }
    }
    assert!(tried > 500, "{tried}");
}

#[test]
fn verif_a_flipped_byte_anywhere_is_found_or_changes_no_row() {
    let bench = Bench::new();
    assert!(bench.verdict(0, 0).unwrap().ok);
    let mut random = ChaCha8Rng::seed_from_u64(20_261_125);
    let (mut found, mut harmless) = (0, 0);
    for _ in 0..1_500 {
        let at = usize::try_from(random.next_u64() % bench.file.len() as u64).unwrap();
        let flip = 1 << (random.next_u32() % 8);
        if bench.verdict(at, flip).is_some_and(|verdict| verdict.ok) {
            assert_eq!(exported(&bench.path()), bench.text, "byte {at} ^ {flip}");
            harmless += 1;
        } else {
            found += 1;
        }
    }
    println!("1,500 flipped bytes: {found} found, {harmless} in places that no row uses");
    assert!(found > 600, "{found}");
}

#[test]
fn verif_rows_changed_by_another_program_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    Journal::open(&path).unwrap().append(events("rail", 1, 9)).unwrap();
    let tamper = |path: &Path, text: &str| {
        let conn = rusqlite::Connection::open(path).unwrap();
        conn.execute_batch(text).unwrap();
    };
    let first = |path: &Path| {
        let verdict = Journal::open_read_only(path).unwrap().verify(&[]).unwrap();
        assert!(!verdict.ok);
        verdict.faults.iter().find_map(|fault| fault.ship_seq)
    };
    let cases = [
        ("UPDATE rows SET happened_basis = 'typed' WHERE ship_seq = 4", Some(4)),
        ("UPDATE rows SET person = NULL WHERE ship_seq = 5", Some(5)),
        ("UPDATE rows SET haul_id = '' WHERE ship_seq = 9", Some(9)),
        ("DELETE FROM rows WHERE ship_seq = 3", Some(3)),
        ("UPDATE rows SET previous_hash = zeroblob(32) WHERE ship_seq = 6", Some(6)),
        ("SELECT 1", None),
    ];
    for (number, (text, row)) in cases.into_iter().enumerate() {
        let copy = folder.path().join(format!("{number}.db"));
        std::fs::copy(&path, &copy).unwrap();
        tamper(&copy, &format!("DROP TRIGGER rows_never_change; DROP TRIGGER rows_never_go; {text}"));
        assert_eq!(first(&copy), row, "{text}");
    }
}

/// A long journal is walked in two halves; the border between them hides nothing.
#[test]
fn verif_a_long_journal_is_named_at_the_border_of_its_halves() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    Journal::open(&path).unwrap().append(events("rail", 1, 8_000)).unwrap();
    let whole = Journal::open_read_only(&path).unwrap().verify(&[]).unwrap();
    assert!(whole.ok && whole.rows == 8_000, "{:?}", whole.faults);
    for row in [1, 3_999, 4_000, 4_001, 8_000] {
        for what in ["person = 'other'", "previous_hash = zeroblob(32)", "hash = zeroblob(32)"] {
            let copy = folder.path().join("copy.db");
            std::fs::copy(&path, &copy).unwrap();
            let conn = rusqlite::Connection::open(&copy).unwrap();
            let text = format!("DROP TRIGGER rows_never_change; UPDATE rows SET {what} WHERE ship_seq = {row}");
            conn.execute_batch(&text).unwrap();
            drop(conn);
            let verdict = Journal::open_read_only(&copy).unwrap().verify(&[]).unwrap();
            if row == 1 && what.starts_with("previous") {
                continue; // the first row's previous hash is nought already
            }
            assert!(!verdict.ok);
            assert!(verdict.faults.iter().any(|fault| fault.ship_seq == Some(row)), "row {row}, {what}");
        }
    }
}
