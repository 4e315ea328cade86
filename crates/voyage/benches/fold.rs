//! Speed of the fold: a million events, already decoded, of which most are the ship's state.
#![allow(
    clippy::unwrap_used,
    clippy::cast_precision_loss,
    clippy::disallowed_types,
    reason = "a bench measures time, on data of its own"
)]
use std::hint::black_box;

use quantity::UtcInstant;
use serde_json::json;
use voyage::{Logged, fold, read_event};

fn main() {
    let events = a_million();
    let mut best_s = f64::INFINITY;
    for _ in 0..5 {
        let begun = std::time::Instant::now();
        let book = fold(black_box(&events), None);
        best_s = best_s.min(begun.elapsed().as_secs_f64());
        assert!(book.voyages[0].sets.len() == 100);
    }
    println!(
        "fold of {} events: best of 5 {best_s:.3} s, {:.2} million events/s",
        events.len(),
        events.len() as f64 / best_s / 1e6
    );
}

/// A hundred sets of 50 baskets with their taps, hauls and fish, and the ship's state between.
fn a_million() -> Vec<Logged> {
    let start: UtcInstant = "2026-01-01T00:00:00Z".parse().unwrap();
    let mut made = Vec::new();
    let mut seq = [0_u64; 3];
    let mut say = |device: usize, t: f64, kind: &str, data: serde_json::Value| {
        seq[device] += 1;
        let name = ["wheelhouse", "rail", "instruments"][device];
        made.push((name, seq[device], start.plus_seconds(t), kind.to_owned(), data));
    };
    say(
        0,
        0.0,
        "gear_described",
        json!({"gear": "deep", "hooks_per_basket": 25, "clip_spacing_m": 45.0,
        "float_line_m": 25.0, "float_takes_a_beat": true, "branch_lines": [{"type": "a", "length_m": 25.0}]}),
    );
    for set in 0..100 {
        let t = 100.0 + 86_400.0 * f64::from(set);
        say(0, t, "setting_started", json!({"gear": "deep"}));
        say(
            0,
            t,
            "beat",
            json!({"basket": 1, "position": 0, "beat_s": 7.0, "hooks_per_basket": 25, "float_takes_a_beat": true}),
        );
        for place in 0..51 {
            say(0, t + 182.0 * f64::from(place), "float_clipped", json!({"place": place + 1, "tag": place + 1}));
        }
        say(0, t + 9_150.0, "setting_ended", json!({"last_place": 51, "hooks_after": 0}));
        say(1, t + 20_000.0, "haul_started", json!({"direction": "to_first", "from_place": 51}));
        for place in 0..51 {
            say(1, t + 20_001.0 + 300.0 * f64::from(place), "float_hauled", json!({"place": 51 - place}));
            say(
                1,
                t + 20_100.0 + 300.0 * f64::from(place),
                "landed",
                json!({"species": "BET", "count_since_float": 7}),
            );
        }
        say(1, t + 40_000.0, "haul_ended", json!({"reason": "all_up"}));
    }
    let mut i = 0_u32;
    let already = 100 * (1 + 1 + 51 + 1 + 1 + 102 + 1) + 1;
    while i < 1_000_000 - already {
        say(
            2,
            8.7 * f64::from(i),
            "ship_state",
            json!({"latitude_deg": -15.0, "longitude_deg": 179.0, "speed_through_water_kn": 8.0}),
        );
        i += 1;
    }
    made.sort_by_key(|(_, _, t, _, _)| *t);
    (1..)
        .zip(made)
        .map(|(ship_seq, (device, device_seq, t, kind, data))| {
            let text = json!({"id": format!("{device}-{device_seq}"), "device": device, "device_seq": device_seq,
                "kind": kind, "version": 1, "happened_at": t.to_string(), "happened_basis": "tapped", "data": data});
            Logged { ship_seq, event: read_event(text.to_string().as_bytes()).unwrap() }
        })
        .collect()
}
