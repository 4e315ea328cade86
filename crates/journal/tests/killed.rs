//! kill -9 in mid-write: whatever was acknowledged is there afterwards, and the file verifies.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

mod support;

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

use journal::{Answer, Journal};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use support::{events, id_of};

const ROUNDS: u64 = 45;
const JOURNAL: &str = "JOURNAL_OF_THE_KILLED";
const ROUND: &str = "ROUND_OF_THE_KILLED";

/// Not a test of its own: the process that is killed. It does nothing when run with the others.
#[test]
fn helper_that_writes_until_killed() {
    let (Ok(path), Ok(round)) = (std::env::var(JOURNAL), std::env::var(ROUND)) else { return };
    let journal = Journal::open(path).unwrap();
    std::thread::scope(|scope| {
        for station in ["rail", "stern"] {
            let (writer, device) = (journal.writer(), format!("{station}{round}"));
            scope.spawn(move || {
                for batch in 0..20_000 {
                    let (from, to) = (batch * 3 + 1, batch * 3 + 3);
                    let answers = writer.append(events(&device, from, to)).unwrap();
                    assert!(answers.iter().all(Answer::is_stored));
                    let line = format!("kept {device} {from} {to} .\n");
                    std::io::stdout().lock().write_all(line.as_bytes()).unwrap();
                }
            });
        }
    });
}

#[test]
fn verif_forty_five_times_killed_and_nothing_acknowledged_lost() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("journal.db");
    let mut random = ChaCha8Rng::seed_from_u64(9);
    let mut acknowledged: BTreeSet<String> = BTreeSet::new();
    for round in 0..ROUNDS {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "helper_that_writes_until_killed", "--nocapture"])
            .env(JOURNAL, &path)
            .env(ROUND, round.to_string())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap());
        let (first, began) = std::sync::mpsc::channel();
        let hearing = std::thread::spawn(move || {
            let mut heard = Vec::new();
            for line in lines.lines().map_while(Result::ok) {
                if let Some(at) = line.find("kept ") {
                    heard.push(line[at..].to_owned());
                    let _ = first.send(());
                }
            }
            heard
        });
        began.recv_timeout(Duration::from_secs(60)).unwrap();
        std::thread::sleep(Duration::from_micros(random.next_u64() % 60_000));
        child.kill().unwrap();
        child.wait().unwrap();
        for line in hearing.join().unwrap() {
            let words: Vec<&str> = line.split(' ').collect();
            let [_, device, from, to, "."] = words[..] else { continue };
            let (from, to): (u64, u64) = (from.parse().unwrap(), to.parse().unwrap());
            acknowledged.extend((from..=to).map(|seq| id_of(device, seq)));
        }
        let reader = Journal::open_read_only(&path).unwrap();
        let verdict = reader.verify(&[]).unwrap();
        assert!(verdict.ok, "round {round}: {:?}", verdict.faults);
        let there: BTreeSet<String> = reader
            .rows()
            .map(|row| {
                let body: serde_json::Value = serde_json::from_slice(&row.unwrap().body).unwrap();
                body["id"].as_str().unwrap().to_owned()
            })
            .collect();
        let lost: Vec<_> = acknowledged.difference(&there).collect();
        assert!(lost.is_empty(), "round {round}: {lost:?}");
    }
    println!("{ROUNDS} rounds, {} events acknowledged, none lost", acknowledged.len());
}
