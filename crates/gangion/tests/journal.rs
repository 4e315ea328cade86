//! `gangion journal` as a user runs it: verify, backup, export, import, rebuild, and their exit codes.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

use std::path::Path;
use std::process::{Command, Output};

use journal::{Incoming, Journal};
use quantity::UtcInstant;
use serde_json::Value;

fn gangion(folder: &Path, words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gangion")).current_dir(folder).arg("journal").args(words).output().unwrap()
}

fn answer(folder: &Path, words: &[&str], code: i32) -> Value {
    let output = gangion(folder, words);
    assert_eq!(output.status.code(), Some(code), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap_or(Value::Null)
}

fn make(path: &Path, from: u64, to: u64) {
    let event = |seq: u64| Incoming {
        bytes: format!(
            "{{\"id\":\"n{seq}\",\"device\":\"rail\",\"device_seq\":{seq},\"kind\":\"note\",\"version\":1,\
             \"happened_at\":\"2026-03-04T00:00:00Z\",\"happened_basis\":\"tapped\",\"data\":{{\"text\":\"n\"}}}}"
        )
        .into_bytes(),
        received_at: UtcInstant::from_ymd(2026, 3, 4).unwrap(),
        received_basis: "computer".to_owned(),
    };
    Journal::open(path).unwrap().append((from..=to).map(event).collect()).unwrap();
}

#[test]
fn verif_the_record_is_carried_out_and_in_with_the_same_head() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    make(&at.join("a.db"), 1, 40);
    let verdict = answer(at, &["verify", "--journal", "a.db", "--json"], 0);
    assert_eq!((&verdict["ok"], &verdict["rows"]), (&Value::Bool(true), &Value::from(40)));
    let copy = answer(at, &["backup", "--journal", "a.db", "--to", "b.db", "--json"], 0);
    assert_eq!(copy["head"]["hash"], verdict["head"]);
    answer(at, &["export", "--journal", "a.db", "--to", "a.jsonl", "--json"], 0);
    let taken = answer(at, &["import", "--journal", "c.db", "--from", "a.jsonl", "--json"], 0);
    assert_eq!(taken["head"]["hash"], verdict["head"]);
    let rebuilt = answer(at, &["rebuild", "--journal", "c.db", "--json"], 0);
    assert_eq!((&rebuilt["rows"], &rebuilt["events"]), (&Value::from(40), &Value::from(40)));
    let streamed = gangion(at, &["export", "--journal", "c.db"]);
    assert_eq!(streamed.stdout, std::fs::read(at.join("a.jsonl")).unwrap());
    // What is there already is left alone.
    answer(at, &["backup", "--journal", "a.db", "--to", "b.db"], 2);
    answer(at, &["import", "--journal", "c.db", "--from", "a.jsonl"], 2);
}

#[test]
fn verif_an_old_copy_is_noticed_and_a_missing_file_is_not_made() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    make(&at.join("a.db"), 1, 5);
    answer(at, &["backup", "--journal", "a.db", "--to", "old.db"], 0);
    make(&at.join("a.db"), 6, 9);
    let verdict = answer(at, &["verify", "--journal", "a.db", "--json"], 0);
    let known = format!("rail:9:{}", verdict["devices"][0]["hash"].as_str().unwrap());
    answer(at, &["verify", "--journal", "a.db", "--known", &known], 0);
    let noticed = answer(at, &["verify", "--journal", "old.db", "--known", &known, "--json"], 1);
    assert_eq!(noticed["ok"], Value::Bool(false));
    for words in [&["verify"][..], &["rebuild"], &["export"], &["backup", "--to", "x.db"]] {
        let words = [words, &["--journal", "none.db"]].concat();
        let output = gangion(at, &words);
        assert_eq!(output.status.code(), Some(2));
        assert_eq!(String::from_utf8(output.stderr).unwrap().lines().count(), 1);
    }
    assert!(!at.join("none.db").exists() && !at.join("x.db").exists() && !at.join("none.db.lock").exists());
}

#[test]
fn verif_every_command_has_its_schema_and_its_example() {
    let folder = tempfile::tempdir().unwrap();
    for what in ["verify", "rebuild", "backup", "export", "import"] {
        let schema = answer(folder.path(), &[what, "--schema"], 0);
        assert!(schema["properties"]["output"].is_object(), "{what}");
        let help = String::from_utf8(gangion(folder.path(), &[what, "--help"]).stdout).unwrap();
        assert!(help.contains("Example"), "{what}");
    }
}
