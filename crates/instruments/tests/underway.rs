//! The recorded log (`tests/data/underway/SOURCE.md`) as a whole: every sentence, its track, its clock.

use instruments::decode::decode_all;
use instruments::track::track;
use quantity::testing::assert_within;

const DISTANCE_M: f64 = 16_320.343_330_558_992;
const FIXES: u64 = 3750;

fn log() -> Vec<u8> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/underway/underway.nmea");
    std::fs::read(path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

#[test]
fn val_every_sentence_of_the_log_is_good() {
    let day = "2026-03-04T00:00:00Z".parse().unwrap();
    let records = decode_all(&log(), Some(day));
    assert_eq!(records.len(), 60_000);
    assert!(records.iter().all(|record| record.ok && record.reason.is_none()));
    assert_eq!(records.last().unwrap().line, 60_000);
}

/// Distance with geographiclib 2.1 (Python; Karney 2013) over the same 3,750 positions: see the tolerance.
#[test]
fn val_track_of_the_log() {
    let day = "2026-03-04T00:00:00Z".parse().unwrap();
    let found = track(&log(), Some(day));
    assert_eq!((found.sentences, found.rejected), (60_000, 0));
    assert_eq!(found.first_utc.unwrap().to_string(), "2026-03-04T09:55:59Z");
    assert_within("distance, m", found.distance_m, DISTANCE_M, 1e-6);
    assert_eq!(found.fixes, FIXES);
    assert_eq!(found.gaps, []);
    assert_eq!(found.doubts, []);
}

#[test]
fn verif_without_a_date_moments_are_null_and_the_rest_is_the_same() {
    let found = track(&log(), None);
    assert_eq!((found.first_utc, found.last_utc, found.fixes), (None, None, FIXES));
    assert_within("distance, m", found.distance_m, DISTANCE_M, 1e-6);
    assert_eq!(found.doubts[0].kind, "date_unknown");
}

#[test]
fn verif_spoiled_sentences_are_rejected_and_a_cut_is_a_gap() {
    let text = String::from_utf8(log()).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    lines[10] = lines[10].replace("23", "24");
    lines.drain(20_000..24_000);
    let found = track(lines.join("\r\n").as_bytes(), Some("2026-03-04T00:00:00Z".parse().unwrap()));
    assert_eq!((found.sentences, found.rejected), (56_000, 1));
    assert_eq!(found.gaps.len(), 1);
    assert!(found.gaps[0].duration_s > 200.0);
}

#[test]
fn verif_states_of_the_log_lie_on_its_fixes() {
    use instruments::replay::{LogDay, replay_states};
    let day = LogDay::Given("2026-03-04T00:00:00Z".parse().unwrap());
    let replayed = replay_states(&log(), day, |_| true);
    assert_eq!(replayed.doubts, []);
    assert!(replayed.states.len() >= 700, "{} states in 128 minutes", replayed.states.len());
    for (utc, data) in &replayed.states {
        assert_eq!(data["utc"].as_str(), Some(utc.to_string().as_str()));
        assert!(data["latitude_deg"].is_number() && data.get("wind_from_deg_true").is_none());
    }
    assert!(replayed.states.windows(2).all(|pair| pair[1].0.seconds_since(pair[0].0) <= 13.0));
}
