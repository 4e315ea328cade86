//! Carrying a journal about: backup, export, import, rebuild, and an old copy put in a newer one's place.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

mod support;

use std::path::Path;

use journal::{Journal, JournalError, Known};
use support::{body_with, events, exported, incoming};

fn journal_of(path: &Path, last: u64) {
    let journal = Journal::open(path).unwrap();
    journal.append(events("rail", 1, last)).unwrap();
    journal.append(vec![incoming(body_with("odd", "stern", 1, "tab\\t, ü and \\u00fc, 魚"), 1)]).unwrap();
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn verif_export_and_import_give_the_same_chain() {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (folder.path().join("from.db"), folder.path().join("to.db"));
    journal_of(&from, 500);
    let text = exported(&from);
    let outcome = journal::import(&to, text.as_bytes()).unwrap();
    assert_eq!(outcome.rows, 501);
    assert_eq!(outcome.head, Journal::open_read_only(&from).unwrap().head().unwrap());
    assert_eq!(exported(&to), text);
    assert!(Journal::open_read_only(&to).unwrap().verify(&[]).unwrap().ok);
    // It goes on where it ended.
    Journal::open(&to).unwrap().append(events("rail", 501, 510)).unwrap();
    assert_eq!(Journal::open_read_only(&to).unwrap().verify(&[]).unwrap().rows, 511);
    let error = journal::import(&to, text.as_bytes()).unwrap_err();
    assert!(matches!(error, JournalError::NotEmpty { rows: 511, .. }), "{error}");
    // An empty journal may be filled.
    let empty = folder.path().join("empty.db");
    drop(Journal::open(&empty).unwrap());
    journal::import(&empty, text.as_bytes()).unwrap();
    assert_eq!(exported(&empty), text);
}

#[test]
fn verif_a_broken_export_is_refused_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let from = folder.path().join("from.db");
    journal_of(&from, 20);
    let text = exported(&from);
    let lines: Vec<&str> = text.lines().collect();
    let elsewhere = tempfile::tempdir().unwrap();
    let to = elsewhere.path().join("to.db");
    let without_seventh: Vec<&str> = lines.iter().enumerate().filter(|(n, _)| *n != 6).map(|(_, line)| *line).collect();
    let cases = [
        (text.replacen("float 9 ", "float 8 ", 1), 9),
        (text.replacen("\"received_basis\":\"satellite\"", "\"received_basis\":\"computer\"", 1), 1),
        (without_seventh.join("\n"), 7),
        (format!("{text}{}", lines[0]), 22),
        (format!("{}\nnot a row\n", lines[0]), 2),
        (lines[1].to_owned(), 1),
    ];
    for (broken, at) in cases {
        let error = journal::import(&to, broken.as_bytes()).unwrap_err();
        assert!(matches!(error, JournalError::BadLine { line, .. } if line == at), "{error}");
        assert_eq!(names_in(elsewhere.path()), Vec::<String>::new());
    }
}

#[test]
fn verif_a_backup_is_one_verified_file_and_overwrites_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    let copies = tempfile::tempdir().unwrap();
    let copy = copies.path().join("copy.db");
    let journal = Journal::open(&path).unwrap();
    journal.append(events("rail", 1, 300)).unwrap();
    let outcome = journal::backup(&path, &copy).unwrap();
    assert_eq!(outcome.rows, 300);
    assert_eq!(outcome.head, journal.reader().unwrap().head().unwrap());
    assert_eq!(names_in(copies.path()), ["copy.db"]);
    let before = std::fs::read(&copy).unwrap();
    assert!(matches!(journal::backup(&path, &copy).unwrap_err(), JournalError::Exists { .. }));
    assert_eq!(std::fs::read(&copy).unwrap(), before);
    assert!(matches!(
        journal::backup(folder.path().join("none.db"), copies.path().join("x.db")).unwrap_err(),
        JournalError::Missing { .. }
    ));
    assert_eq!(names_in(copies.path()), ["copy.db"]);
}

#[test]
fn verif_an_old_backup_in_place_of_the_journal_is_noticed_by_what_devices_know() {
    let folder = tempfile::tempdir().unwrap();
    let (path, old) = (folder.path().join("journal.db"), folder.path().join("old.db"));
    journal_of(&path, 30);
    journal::backup(&path, &old).unwrap();
    Journal::open(&path).unwrap().append(events("rail", 31, 40)).unwrap();
    let told = Journal::open_read_only(&path).unwrap().device_heads().unwrap();
    let known: Vec<Known> =
        told.iter().map(|head| format!("{}:{}:{}", head.device, head.last_seq, head.hash).parse().unwrap()).collect();
    assert!(Journal::open_read_only(&path).unwrap().verify(&known).unwrap().ok);

    let verdict = Journal::open_read_only(&old).unwrap().verify(&known).unwrap();
    assert!(!verdict.ok);
    assert_eq!(verdict.faults.len(), 1);
    assert!(verdict.faults[0].what.contains("rail") && verdict.faults[0].what.contains("up to 30"));

    // The devices send again, in another order: complete, but another history.
    Journal::open(&old).unwrap().append(events("stern", 2, 2)).unwrap();
    Journal::open(&old).unwrap().append(events("rail", 31, 40)).unwrap();
    let verdict = Journal::open_read_only(&old).unwrap().verify(&known).unwrap();
    assert!(verdict.faults[0].what.contains("another history"), "{:?}", verdict.faults);
    assert!("rail:x:00".parse::<Known>().is_err());
    assert!("rail:0:00".parse::<Known>().is_err());
}

#[test]
fn verif_rebuild_makes_the_derived_again_and_touches_no_row() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    journal_of(&path, 50);
    let text = exported(&path);
    let conn = rusqlite::Connection::open(&path).unwrap();
    conn.execute_batch("UPDATE device_heads SET last_seq = 7 WHERE device = 'rail'").unwrap();
    drop(conn);
    let verdict = Journal::open_read_only(&path).unwrap().verify(&[]).unwrap();
    assert!(verdict.faults[0].what.contains("rebuild"), "{:?}", verdict.faults);
    let outcome = journal::rebuild(&path).unwrap();
    assert_eq!((outcome.rows, outcome.devices), (51, 2));
    assert!(Journal::open_read_only(&path).unwrap().verify(&[]).unwrap().ok);
    assert_eq!(exported(&path), text);
}

#[test]
fn verif_what_is_missing_or_foreign_is_said_and_nothing_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let none = folder.path().join("none.db");
    assert!(matches!(Journal::open_read_only(&none).unwrap_err(), JournalError::Missing { .. }));
    assert!(matches!(Journal::open_existing(&none).unwrap_err(), JournalError::Missing { .. }));
    assert!(matches!(journal::rebuild(&none).unwrap_err(), JournalError::Missing { .. }));
    assert_eq!(names_in(folder.path()), Vec::<String>::new());
    let text = folder.path().join("text.db");
    std::fs::write(&text, "a shopping list, long enough to be no header at all".repeat(20)).unwrap();
    assert!(matches!(Journal::open_read_only(&text).unwrap_err(), JournalError::NotAJournal { .. }));
    let foreign = folder.path().join("foreign.db");
    rusqlite::Connection::open(&foreign).unwrap().execute_batch("CREATE TABLE t (x)").unwrap();
    let before = std::fs::read(&foreign).unwrap();
    assert!(matches!(Journal::open(&foreign).unwrap_err(), JournalError::NotAJournal { .. }));
    assert_eq!(std::fs::read(&foreign).unwrap(), before);
}
