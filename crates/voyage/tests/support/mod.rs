//! A deck in a few words: builds events as devices send them, and folds them.
#![allow(dead_code, missing_docs, clippy::unwrap_used, reason = "shared by several test files, each using a part")]

use quantity::UtcInstant;
use serde_json::{Value, json};
use voyage::{Book, Logged, SetRecord, fold, read_event};

pub fn at(seconds_s: f64) -> UtcInstant {
    "2026-03-04T00:00:00Z".parse::<UtcInstant>().unwrap().plus_seconds(seconds_s)
}

#[derive(Default, Clone)]
pub struct Deck {
    pub events: Vec<Value>,
    seq: std::collections::BTreeMap<String, u64>,
}

impl Deck {
    /// An event of the wheelhouse, `seconds_s` after midnight; its id is answered.
    pub fn say(&mut self, seconds_s: f64, kind: &str, data: Value) -> String {
        self.say_from("wheelhouse", seconds_s, kind, data)
    }

    pub fn say_from(&mut self, device: &str, seconds_s: f64, kind: &str, data: Value) -> String {
        let seq = self.seq.entry(device.to_owned()).or_insert(0);
        *seq += 1;
        let id = format!("{device}-{seq}");
        self.events.push(json!({
            "id": id, "device": device, "device_seq": *seq, "kind": kind, "version": 1,
            "happened_at": at(seconds_s).to_string(), "happened_basis": "tapped",
            "boot": null, "monotonic_ms": null, "person": null, "set": null, "haul": null, "data": data,
        }));
        id
    }

    pub fn last(&mut self) -> &mut Value {
        self.events.last_mut().unwrap()
    }

    pub fn logged(&self) -> Vec<Logged> {
        logged(&self.events)
    }

    pub fn book(&self) -> Book {
        fold(&self.logged(), None)
    }

    pub fn set(&self) -> SetRecord {
        self.book().voyages[0].sets[0].clone()
    }
}

pub fn logged(events: &[Value]) -> Vec<Logged> {
    (1..)
        .zip(events)
        .map(|(ship_seq, event)| Logged {
            ship_seq,
            event: read_event(serde_json::to_string(event).unwrap().as_bytes()).unwrap(),
        })
        .collect()
}

/// Gear of 4 hooks a basket, 10 s beat, 50 m clips, floats with a beat of their own.
pub fn gear(deck: &mut Deck) {
    deck.say(
        0.0,
        "gear_described",
        json!({
            "gear": "deep", "float_line_m": 20.0, "hooks_per_basket": 4, "clip_spacing_m": 50.0,
            "float_takes_a_beat": true, "radio_buoy": "in_place_of_float", "tag_mode": "sequence_up",
            "branch_lines": [{"type": "plain", "length_m": 25.0}],
        }),
    );
}

/// An anchor of the beat at the float that begins a basket: 10 s, 4 hooks.
pub fn beat(deck: &mut Deck, basket: i64, seconds_s: f64, float_takes_a_beat: bool) {
    deck.say(
        seconds_s,
        "beat",
        json!({"basket": basket, "position": 0, "at": at(seconds_s).to_string(), "beat_s": 10.0,
            "hooks_per_basket": 4, "float_takes_a_beat": float_takes_a_beat}),
    );
}

/// Three baskets of four hooks, places 1 to 4 tapped on the beat (50 s a basket), nothing after place 4.
pub fn three_baskets(deck: &mut Deck) -> String {
    gear(deck);
    let set = deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    beat(deck, 1, 100.0, true);
    for place in 0..4 {
        deck.say(100.0 + 50.0 * f64::from(place), "float_clipped", json!({"place": place + 1, "tag": place + 1}));
    }
    deck.say(255.0, "setting_ended", json!({"last_place": 4, "hooks_after": 0}));
    set
}

/// Seconds after midnight of a moment.
pub fn second(t: Option<UtcInstant>) -> f64 {
    t.map_or(f64::NAN, |t| t.seconds_since(at(0.0)))
}

pub fn fates(set: &SetRecord) -> String {
    set.hooks
        .iter()
        .map(|hook| match hook.fate {
            voyage::HookFate::InWater => 'w',
            voyage::HookFate::Hauled => 'h',
            voyage::HookFate::Lost => 'l',
            voyage::HookFate::Unknown => '?',
            voyage::HookFate::Missed => 'm',
        })
        .collect()
}

pub fn has_doubt(set: &SetRecord, kind: &str) -> bool {
    set.doubts.iter().any(|doubt| doubt.kind == kind)
}
