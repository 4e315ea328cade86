//! Fuzz target: no bytes make the event decoder or the fold panic, and what decodes decodes again.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test reads files; one that cannot go on should fail loudly"
)]

use std::time::Duration;

use bolero::check;
use voyage::{Kind, Logged, fold, read_event};

fn budget() -> Duration {
    let seconds = std::env::var("GANGION_FUZZ_SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(2);
    Duration::from_secs(seconds)
}

/// Any bytes: an answer, never a panic.
#[test]
fn verif_any_bytes_are_answered() {
    check!().with_test_time(budget()).for_each(|bytes: &[u8]| {
        let _ = read_event(bytes);
    });
}

/// Golden events with numbers and texts overwritten: the fold answers whatever it is told.
#[test]
fn verif_spoilt_events_fold() {
    let samples: Vec<String> = Kind::ALL
        .iter()
        .map(|kind| {
            let path = format!("{}/tests/data/golden/v1/{}.json", env!("CARGO_MANIFEST_DIR"), kind.name());
            std::fs::read_to_string(path).unwrap()
        })
        .collect();
    check!().with_test_time(budget()).with_type::<Vec<(u8, u8, u8, i16)>>().for_each(|picks| {
        let mut events = Vec::new();
        for (seq, (kind, field, device, value)) in (1_i64..).zip(picks.iter().take(60)) {
            let mut event: serde_json::Value =
                serde_json::from_str(&samples[usize::from(*kind) % samples.len()]).unwrap();
            event["id"] = format!("e{seq}").into();
            event["device"] = format!("d{}", device % 3).into();
            event["device_seq"] = seq.into();
            event["happened_at"] = format!("2026-03-04T{:02}:{:02}:07Z", device % 24, seq % 60).into();
            if let Some(data) = event["data"].as_object_mut() {
                let index = usize::from(*field) % (data.len() + 1);
                if let Some(slot) = data.values_mut().nth(index) {
                    *slot = if slot.is_number() { (*value).into() } else { serde_json::Value::Null };
                }
                for name in ["set", "target", "fish", "a", "b"] {
                    if let Some(slot) = data.get_mut(name).filter(|slot| slot.is_string()) {
                        *slot = format!("e{}", value.unsigned_abs() % 60).into();
                    }
                }
            }
            if let Ok(event) = read_event(event.to_string().as_bytes()) {
                events.push(Logged { ship_seq: seq, event });
            }
        }
        let book = fold(&events, None);
        for set in book.voyages.iter().flat_map(|voyage| &voyage.sets) {
            assert!(set.hooks.iter().all(|hook| hook.position >= 1 && hook.basket >= 1));
        }
    });
}
