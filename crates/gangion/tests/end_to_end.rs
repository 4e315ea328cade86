//! The whole way as a user goes it: the demo into a journal, reports out of it, and bad input on the way.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on should fail loudly")]

use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

fn gangion(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gangion")).args(words).output().unwrap()
}

fn json(words: &[&str]) -> Value {
    let output = gangion(words);
    assert!(output.status.success(), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).to_str().unwrap().to_owned()
}

/// The script of the demo knows what became of its hooks; the journal's account must be the same.
#[test]
fn regress_the_demo_is_accounted_for_and_repeats_to_the_byte() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let said = json(&["demo", "--out", one.path().to_str().unwrap(), "--json"]);
    json(&["demo", "--out", two.path().to_str().unwrap(), "--json"]);
    let journal = path(one.path(), "voyage.journal");
    for (number, script) in ["1", "2"].iter().zip(said["sets"].as_array().unwrap()) {
        let report = json(&["report", "--journal", &journal, "--set", number, "--json"]);
        for name in ["hooks_set", "hooks_lost", "hooks_unknown"] {
            assert_eq!(report[name], script[name], "set {number}, {name}");
        }
        assert_eq!(
            report["hooks_set"].as_u64().unwrap(),
            ["hooks_hauled", "hooks_lost", "hooks_unknown"]
                .iter()
                .map(|name| report[name].as_u64().unwrap())
                .sum::<u64>()
        );
        let hooks = json(&["hooks", "--journal", &journal, "--set", number, "--json"]);
        let set = hooks.as_array().unwrap().iter().filter(|hook| hook["fate"] != "missed").count();
        assert_eq!(report["hooks_set"], set);
        let other = path(two.path(), "voyage.journal");
        let ours = gangion(&["hooks", "--journal", &journal, "--set", number, "--json"]).stdout;
        assert_eq!(ours, gangion(&["hooks", "--journal", &other, "--set", number, "--json"]).stdout);
        for kind in ["html", "csv", "geojson"] {
            let (a, b) = (format!("set-{number}.{kind}"), format!("set-{number}.{kind}"));
            assert_eq!(std::fs::read(one.path().join(a)).unwrap(), std::fs::read(two.path().join(b)).unwrap());
        }
    }
    let verdict = json(&["journal", "verify", "--journal", &journal, "--json"]);
    assert_eq!(verdict["ok"], true);
    // Playing the same files again changes nothing.
    let (log, deck) = (path(one.path(), "instruments.nmea"), path(one.path(), "deck.jsonl"));
    let again = json(&["replay", "--instruments", &log, "--deck", &deck, "--journal", &journal, "--json"]);
    assert_eq!(again["kept"], 0);
    assert!(again["conflicts"].as_array().unwrap().is_empty());
}

/// Source of the log: recorded under way, see the instruments' test data. Its own fixes are the outside check:
/// every hook lies within 6 m of them (10 s between states at some 3 m/s, in turns). Seen when written: 2.8 m.
#[test]
fn val_hooks_lie_on_the_recorded_track() {
    let folder = tempfile::tempdir().unwrap();
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/../instruments/tests/data/underway/underway.nmea");
    let deck = path(folder.path(), "deck.jsonl");
    let mut lines = Vec::new();
    let mut say = |second: u32, kind: &str, data: Value| {
        let seq = lines.len() + 1;
        let at = format!("2026-03-04T{:02}:{:02}:{:02}Z", 10 + second / 3600, second / 60 % 60, second % 60);
        lines.push(
            serde_json::json!({"id": format!("w{seq}"), "device": "wheelhouse", "device_seq": seq, "kind": kind,
                "version": 1, "happened_at": at, "happened_basis": "tapped", "boot": null, "monotonic_ms": null,
                "person": null, "set": null, "haul": null, "data": data})
            .to_string(),
        );
    };
    say(
        0,
        "gear_described",
        serde_json::json!({"gear": "g", "hooks_per_basket": 5, "clip_spacing_m": 40.0,
        "float_line_m": 15.0, "float_takes_a_beat": true, "branch_lines": [{"type": "a", "length_m": 15.0}]}),
    );
    say(0, "setting_started", serde_json::json!({"gear": "g"}));
    for place in 1..=30 {
        say(60 * (place - 1), "float_clipped", serde_json::json!({"place": place}));
    }
    say(1741, "setting_ended", serde_json::json!({"last_place": 30, "hooks_after": 0}));
    std::fs::write(&deck, lines.join("\n")).unwrap();
    let journal = path(folder.path(), "v.journal");
    json(&["replay", "--instruments", log, "--date", "2026-03-04", "--deck", &deck, "--journal", &journal, "--json"]);
    let hooks = json(&["hooks", "--journal", &journal, "--set", "1", "--json"]);
    let fixes = fixes_of(log);
    let mut worst_m: f64 = 0.0;
    for hook in hooks.as_array().unwrap() {
        let at: quantity::UtcInstant = hook["clipped_utc"].as_str().unwrap().parse().unwrap();
        let second = at.second_of_day_s();
        let next = fixes.partition_point(|(t, _, _)| *t <= second);
        let ((t0, lat0, lon0), (t1, lat1, lon1)) = (fixes[next - 1], fixes[next]);
        let share = (second - t0) / (t1 - t0);
        let north_m = (lat0 + share * (lat1 - lat0) - hook["latitude_deg"].as_f64().unwrap()) * 111_400.0;
        let east_m = (lon0 + share * (lon1 - lon0) - hook["longitude_deg"].as_f64().unwrap()) * 55_700.0;
        worst_m = worst_m.max(north_m.hypot(east_m));
    }
    assert_eq!(hooks.as_array().unwrap().len(), 145);
    quantity::testing::assert_within("farthest hook off the log's track, m", worst_m, 0.0, 6.0);
}

/// Second of the day, latitude, longitude of each GLL of the log, read without the program's own decoder.
fn fixes_of(log: &str) -> Vec<(f64, f64, f64)> {
    let degrees = |text: &str, width: usize| -> f64 {
        text[..width].parse::<f64>().unwrap() + text[width..].parse::<f64>().unwrap() / 60.0
    };
    let text = std::fs::read_to_string(log).unwrap();
    text.lines()
        .filter(|line| line.starts_with("$GPGLL"))
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            let clock: f64 = fields[5].parse().unwrap();
            let (hour, minute) = ((clock / 10_000.0).floor(), (clock / 100.0).floor() % 100.0);
            (hour * 3600.0 + minute * 60.0 + clock % 100.0, degrees(fields[1], 2), degrees(fields[3], 3))
        })
        .collect()
}

#[test]
fn verif_every_command_has_schema_and_help() {
    for words in [
        &["decode"][..],
        &["track"],
        &["sky"],
        &["geodesic"],
        &["setting"],
        &["depth"],
        &["replay"],
        &["report"],
        &["hooks"],
        &["demo"],
        &["journal", "verify"],
        &["journal", "rebuild"],
        &["journal", "backup"],
        &["journal", "export"],
        &["journal", "import"],
    ] {
        let schema = json(&[words, &["--schema"]].concat());
        assert!(schema["$schema"].as_str().unwrap().contains("2020-12"), "{words:?}");
        let help = gangion(&[words, &["--help"]].concat());
        assert!(String::from_utf8_lossy(&help.stdout).contains("Example"), "{words:?} has no example");
    }
}

#[test]
fn verif_bad_input_is_one_sentence_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let journal = path(folder.path(), "none.journal");
    for words in [
        &["report", "--journal", &journal, "--set", "1", "--json"][..],
        &["hooks", "--journal", &journal, "--set", "1", "--json"],
        &["journal", "verify", "--journal", &journal],
        &["replay", "--instruments", "no-such-file", "--deck", "nor-this", "--journal", &journal],
        &["decode", "no-such-file", "--json"],
        &["track", "no-such-file", "--json"],
        &["depth", "--json", "{}"],
        &["setting", "--json", "{\"beat_s\": -1}"],
        &["sky", "--lat", "north", "--lon", "1", "--date", "2026-01-01"],
        &["sky", "--lat", "1"],
        &["sing"],
    ] {
        let output = gangion(words);
        assert_eq!(output.status.code(), Some(2), "{words:?}");
        assert!(output.stdout.is_empty(), "{words:?}");
        let told = String::from_utf8_lossy(&output.stderr).trim().to_owned();
        assert!(!told.is_empty() && !told.contains("panicked") && told.lines().count() == 1, "{words:?}: {told}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
