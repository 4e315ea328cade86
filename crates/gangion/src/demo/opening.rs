//! The beginning of the script's voyage: vessel, people, gear, buoys, bins, bait and hold. Every name is invented
//! and plainly so; no vessel, person or company is meant.

use quantity::UtcInstant;
use serde_json::{Value, json};

use super::deck::{Deck, Device};

/// The people: id, name, role, watch.
pub const PEOPLE: [(&str, &str, &str, &str); 6] = [
    ("person-1", "Carrick Bend", "fishing master", "a"),
    ("person-2", "Bosun Bowline", "hauling boss", "a"),
    ("person-3", "Rolling Hitch", "clipping", "b"),
    ("person-4", "Reef Knot", "fish table", "b"),
    ("person-5", "Sheet Bend", "engineer", "a"),
    ("person-6", "Figure Eight", "observer", "none"),
];

/// The radio buoys of the register.
pub const BUOYS: [&str; 6] = ["buoy-A", "buoy-B", "buoy-C", "buoy-D", "buoy-E", "buoy-F"];

/// The name of the deep gear.
pub const DEEP_GEAR: &str = "deep tuna";
/// The name of the shallow gear.
pub const SHALLOW_GEAR: &str = "shallow swordfish";

/// All that is told before the first set.
pub fn tell(deck: &mut Deck, at: UtcInstant) {
    let mut now = at;
    let mut say = |deck: &mut Deck, kind: &'static str, data: Value| {
        now = now.plus_seconds(20.0);
        deck.tap(Device::Wheelhouse, now, kind, data)
    };
    say(
        deck,
        "voyage_opened",
        json!({"vessel": {"name": "Example Petrel", "flag": "XXX", "registration": "DEMO-0001", "call_sign": "DEMO1"},
            "licences": ["DEMO-LICENCE-1"], "port": "Port Example", "utc_offset_min": 720}),
    );
    for device in Device::ALL {
        let role = match device {
            Device::Wheelhouse => "master",
            Device::Stern => "stern",
            Device::Rail => "rail",
            Device::Table => "table",
        };
        say(deck, "device_added", json!({"device_id": device.id(), "name": device.id(), "role": role}));
    }
    for (person, name, role, watch) in PEOPLE {
        say(deck, "person_added", json!({"person": person, "name": name, "role": role, "watch": watch}));
    }
    say(deck, "observer", json!({"aboard": true}));
    say(
        deck,
        "day_without_set",
        json!({"date": "2026-03-09", "activity": "steaming", "note": "On the way to the grounds"}),
    );
    for gear in [deep_gear(), shallow_gear()] {
        say(deck, "gear_described", gear);
    }
    for (number, buoy) in BUOYS.iter().enumerate() {
        say(
            deck,
            "radio_buoy_registered",
            json!({"buoy": buoy, "name": buoy, "call": format!("DEMO {}", 11 + number), "reflector": true, "light": true,
                "battery_date": "2026-01-15"}),
        );
    }
    for (name, bins, count, branch_type, hooks) in
        [("bin", 10, 10, "tuna 25 m", 25), ("tub", 4, 45, "swordfish 16 m", 5)]
    {
        for bin in 1..=bins {
            let bundles: Vec<Value> = (1..=count)
                .map(|bundle| json!({"bundle": format!("{bin}-{bundle}"), "branch_type": branch_type, "hooks": hooks}))
                .collect();
            say(deck, "bin_described", json!({"bin": format!("{name} {bin}"), "bundles": bundles}));
        }
    }
    say(deck, "hold_described", json!({"hold": "fish room 1", "layers": ["1", "2", "3"]}));
    for (item, kind, count) in
        [("bait", "sardine", 180), ("bait", "squid", 90), ("float", "hard", 220), ("ice", "flake, t", 18)]
    {
        say(deck, "stores_counted", json!({"item": item, "kind": kind, "count": count}));
    }
    for table in &super::tables::TABLES {
        let loaded = json!({"what": table.what, "name": table.name, "sha256": table.sha256()});
        say(deck, "table_loaded", loaded);
    }
}

fn deep_gear() -> Value {
    json!({"gear": DEEP_GEAR, "main_line": {"diameter_mm": 3.6, "material": "nylon monofilament", "length_aboard_m": 118_000},
        "float_line_m": 25, "branch_lines": [{"type": "tuna 25 m", "length_m": 25, "weight_in_water_n": 0.6,
            "hook": "circle 16/0", "leader": "nylon", "lead_g": 45, "lead_to_hook_m": 3.5}],
        "hooks_per_basket": 25, "clip_spacing_m": 41.3, "float_takes_a_beat": true,
        "radio_buoy": "in_place_of_float", "tag_mode": "sequence_up"})
}

fn shallow_gear() -> Value {
    json!({"gear": SHALLOW_GEAR, "main_line": {"diameter_mm": 3.6, "material": "nylon monofilament", "length_aboard_m": 118_000},
        "float_line_m": 12, "branch_lines": [{"type": "swordfish 16 m", "length_m": 16, "weight_in_water_n": 0.7,
            "hook": "circle 18/0", "leader": "nylon", "lead_g": 60, "lead_to_hook_m": 5}],
        "hooks_per_basket": 5, "clip_spacing_m": 49.4, "float_takes_a_beat": false,
        "radio_buoy": "beside_float", "tag_mode": "fixed"})
}
