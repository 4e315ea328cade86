//! Keeping events: what is kept, known, set aside or refused, and who may write.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

mod support;

use journal::{Answer, Journal, JournalError, MAX_BODY_BYTES, Options};
use support::{body, body_with, events, exported, id_of, incoming};

#[test]
fn verif_each_event_gets_its_answer_and_the_bytes_survive() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    let journal = Journal::open(&path).unwrap();
    let spaced = format!("  {}\n", body("table", 1));
    let answers = journal
        .append(vec![
            incoming(body("rail", 1), 1),
            incoming(spaced.clone(), 2),
            incoming(body("rail", 1), 3),
            incoming(body_with(&id_of("rail", 1), "rail", 1, "another text"), 4),
            incoming(body_with("quite-new", "rail", 1, "used number"), 5),
            incoming("{\"id\":\"lame\"}", 6),
            incoming("no json", 7),
            incoming(body_with("huge", "rail", 9, &"x".repeat(MAX_BODY_BYTES)), 8),
        ])
        .unwrap();
    assert_eq!(answers[0], Answer::Kept { ship_seq: 1 });
    assert_eq!(answers[1], Answer::Kept { ship_seq: 2 });
    assert_eq!(answers[2], Answer::Known { ship_seq: 1 });
    for answer in &answers[3..5] {
        assert!(matches!(answer, Answer::Conflict { ship_seq: 1, .. }), "{answer:?}");
    }
    assert!(matches!(&answers[5], Answer::Refused { id: Some(id), .. } if id == "lame"));
    assert!(matches!(&answers[6], Answer::Refused { id: None, .. }));
    assert!(
        matches!(&answers[7], Answer::Refused { id: Some(id), reason } if id == "huge" && reason.contains("bytes"))
    );

    let reader = journal.reader().unwrap();
    let rows: Vec<_> = reader.rows().collect::<Result<_, _>>().unwrap();
    assert_eq!(rows.len(), 2);
    assert_eq!(rows[1].body, spaced.as_bytes());
    assert_eq!(rows[1].received_at, support::received_at(2));
    let verdict = reader.verify(&[]).unwrap();
    assert!(verdict.ok, "{:?}", verdict.faults);
    assert_eq!((verdict.rows, verdict.set_aside), (2, 2));
    assert!(verdict.set_aside_events[0].body.contains("another text"));

    // The same conflict sent again is answered again and not kept twice.
    let again = journal.append(vec![incoming(body_with("quite-new", "rail", 1, "used number"), 9)]).unwrap();
    assert!(matches!(again[0], Answer::Conflict { .. }));
    assert_eq!(journal.reader().unwrap().verify(&[]).unwrap().set_aside, 2);
}

#[test]
fn verif_a_second_writer_is_turned_away_and_readers_are_not() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    let journal = Journal::open(&path).unwrap();
    let error = Journal::open(&path).unwrap_err();
    assert!(matches!(error, JournalError::Busy { .. }));
    assert!(error.to_string().starts_with("another program is writing"), "{error}");
    assert!(matches!(journal::rebuild(&path).unwrap_err(), JournalError::Busy { .. }));
    assert_eq!(Journal::open_read_only(&path).unwrap().rows().count(), 0);
    let epoch = journal.epoch().to_owned();
    drop(journal);
    assert_ne!(Journal::open(&path).unwrap().epoch(), epoch);
}

#[test]
fn verif_many_deliverers_share_one_chain() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    let journal = Journal::open(&path).unwrap();
    std::thread::scope(|scope| {
        for device in ["rail", "stern", "table", "hold", "bridge"] {
            let writer = journal.writer();
            scope.spawn(move || {
                for first in (1..=60).step_by(3) {
                    let answers = writer.append(events(device, first, first + 2)).unwrap();
                    assert!(answers.iter().all(Answer::is_stored));
                }
            });
        }
    });
    let reader = journal.reader().unwrap();
    let verdict = reader.verify(&[]).unwrap();
    assert!(verdict.ok, "{:?}", verdict.faults);
    assert_eq!(verdict.rows, 300);
    assert_eq!(reader.device_heads().unwrap(), verdict.devices);
    assert!(verdict.devices.iter().all(|head| head.last_seq == 60));
    assert_eq!(reader.head().unwrap().map(|head| head.hash), verdict.head);
    assert_eq!(reader.rows_after(290).count(), 10);
}

#[test]
fn verif_gaps_are_doubts_and_no_faults() {
    let folder = tempfile::tempdir().unwrap();
    let journal = Journal::open(folder.path().join("journal.db")).unwrap();
    let mut some = events("rail", 3, 4);
    some.extend(events("rail", 8, 8));
    some.extend(events("rail", 6, 6));
    journal.append(some).unwrap();
    let verdict = journal.reader().unwrap().verify(&[]).unwrap();
    assert!(verdict.ok);
    let gaps: Vec<_> = verdict.gaps.iter().map(|gap| (gap.from_seq, gap.to_seq)).collect();
    assert_eq!(gaps, [(1, 2), (5, 5), (7, 7)]);
    assert_eq!(verdict.devices[0].last_seq, 8);
}

#[test]
fn verif_a_full_file_stops_loudly_and_keeps_what_was_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    let journal = Journal::open_with(&path, Options { max_page_count: Some(60) }).unwrap();
    let kept = fill_until_stopped(&journal);
    assert!(kept > 50, "{kept}");
    let error = journal.append(events("stern", 1, 1)).unwrap_err();
    assert!(error.to_string().contains("THE JOURNAL HAS STOPPED: the disk is full"), "{error}");
    drop(journal);
    assert_all_there(&path, kept);
    // With room again it goes on.
    let journal = Journal::open(&path).unwrap();
    assert!(journal.append(events("rail", kept + 1, kept + 5)).unwrap().iter().all(Answer::is_stored));
    drop(journal);
    assert_all_there(&path, kept + 5);
}

#[test]
fn verif_a_full_disk_stops_loudly_and_keeps_what_was_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let mount = folder.path().join("small");
    std::fs::create_dir(&mount).unwrap();
    let mounted = std::process::Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=1m", "tmpfs"])
        .arg(&mount)
        .status()
        .is_ok_and(|status| status.success());
    if !mounted {
        eprintln!("a small tmpfs may not be mounted here, so the full disk was tried by max_page_count only");
        return;
    }
    let outcome = std::panic::catch_unwind(|| {
        let path = mount.join("journal.db");
        let journal = Journal::open(&path).unwrap();
        let kept = fill_until_stopped(&journal);
        assert!(kept > 50, "{kept}");
        drop(journal);
        let copy = folder.path().join("copy.db");
        std::fs::copy(&path, &copy).unwrap();
        if mount.join("journal.db-wal").exists() {
            std::fs::copy(mount.join("journal.db-wal"), folder.path().join("copy.db-wal")).unwrap();
        }
        assert_all_there(&copy, kept);
    });
    let unmounted = std::process::Command::new("umount").arg(&mount).status();
    assert!(unmounted.is_ok_and(|status| status.success()));
    outcome.unwrap();
}

fn fill_until_stopped(journal: &Journal) -> u64 {
    for seq in 1..20_000 {
        match journal.append(events("rail", seq, seq)) {
            Ok(answers) => assert!(answers[0].is_stored()),
            Err(error) => {
                assert!(matches!(error, JournalError::Stopped { .. }), "{error}");
                return seq - 1;
            }
        }
    }
    panic!("it never filled up");
}

fn assert_all_there(path: &std::path::Path, kept: u64) {
    let reader = Journal::open_read_only(path).unwrap();
    let verdict = reader.verify(&[]).unwrap();
    assert!(verdict.ok, "{:?}", verdict.faults);
    assert!(verdict.rows >= kept, "{} of {kept}", verdict.rows);
    let text = exported(path);
    assert!((1..=kept).all(|seq| text.contains(&id_of("rail", seq))));
}
