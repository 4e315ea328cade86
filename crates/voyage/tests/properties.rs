//! What must hold whatever happened: order of arrival, partial folds, hook accounting.
#![allow(clippy::unwrap_used, clippy::cast_precision_loss, reason = "a test that cannot go on should fail loudly")]
mod support;

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::{Value, json};
use support::*;
use voyage::{HookFate, SetRecord, fold};

/// A whole set told by three devices.
fn three_devices() -> Deck {
    let mut deck = Deck::default();
    let set = three_baskets(&mut deck);
    deck.say_from("stern", 118.0, "hook_missed", json!({}));
    deck.say_from("stern", 163.0, "stop_started", json!({"line_running": false}));
    deck.say_from("stern", 166.0, "stop_ended", json!({}));
    let haul = deck.say_from("rail", 1000.0, "haul_started", json!({"direction": "to_first", "from_place": 4}));
    for place in 0..4 {
        let t = 1100.0 + 100.0 * f64::from(place);
        deck.say_from("rail", t, "float_hauled", json!({"place": 4 - place}));
        let fish = deck.say_from("rail", t + 40.0, "landed", json!({"species": "BET", "count_since_float": 2}));
        deck.last()["haul"] = json!(haul);
        deck.say_from("table", t + 90.0, "fish_measured", json!({"fish": fish, "length_cm": 120.0 + t}));
    }
    deck.say_from("rail", 1600.0, "haul_ended", json!({"reason": "all_up"}));
    deck.last()["set"] = json!(set);
    deck
}

/// The devices' own logs, dealt out in the order that `picks` says.
fn interleaved(events: &[Value], picks: &[usize]) -> Vec<Value> {
    let mut logs: BTreeMap<&str, Vec<&Value>> = BTreeMap::new();
    for event in events {
        logs.entry(event["device"].as_str().unwrap()).or_default().push(event);
    }
    let mut logs: Vec<std::collections::VecDeque<&Value>> = logs.into_values().map(Into::into).collect();
    let mut dealt = Vec::new();
    for pick in picks.iter().chain(std::iter::repeat(&0)) {
        logs.retain(|log| !log.is_empty());
        if logs.is_empty() {
            break;
        }
        let log = pick % logs.len();
        dealt.extend(logs[log].pop_front().cloned());
    }
    dealt
}

/// Hooks, floats and fish; fish numbers are given by the order of arrival and left out.
fn substance(set: &SetRecord) -> String {
    let fish: Vec<_> = set.fish.iter().map(|fish| voyage::Fish { number: 0, ..fish.clone() }).collect();
    serde_json::to_string(&(&set.hooks, &set.places, &fish, &set.parts)).unwrap()
}

fn count(set: &SetRecord, fate: HookFate) -> usize {
    set.hooks.iter().filter(|hook| hook.fate == fate).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Every order in which the devices' logs can come in gives the same hooks, floats and fish.
    #[test]
    fn verif_order_of_arrival_changes_nothing(picks in prop::collection::vec(0_usize..4, 0..40)) {
        let deck = three_devices();
        let dealt = interleaved(&deck.events, &picks);
        prop_assert_eq!(dealt.len(), deck.events.len());
        let there = fold(&logged(&dealt), None).voyages[0].sets[0].clone();
        prop_assert_eq!(substance(&there), substance(&deck.set()));
    }

    /// Whatever is tapped at the rail, set = hauled + lost + unknown once the set is closed.
    #[test]
    fn verif_every_hook_is_accounted_for(
        taps in prop::collection::vec((0_u8..10, -1_i64..7, 0_i64..12, 0.0_f64..3.0), 0..60),
        to_first in any::<bool>(),
        closes in any::<bool>(),
    ) {
        let mut deck = Deck::default();
        three_baskets(&mut deck);
        let (direction, from) = if to_first { ("to_first", 5) } else { ("to_last", 1) };
        deck.say_from("rail", 1000.0, "haul_started", json!({"direction": direction, "from_place": from}));
        for (i, (what, a, b, guess)) in taps.iter().enumerate() {
            let t = 1001.0 + 10.0 * i as f64;
            let (kind, data) = match what {
                0 | 1 => ("float_hauled", json!({"place": a})),
                2 => ("float_missing", json!({"place": a})),
                3 => ("hooks_counted", json!({"count": b})),
                4 => ("tangle", json!({"from_place": a, "to_place": b, "branch_lines_saved": b, "branch_lines_cut": a})),
                5 => ("branch_line_lost", json!({"cause": "bitten", "count_since_float": if *guess > 1.0 { Some(b) } else { None }})),
                6 => ("gear_lost", json!({"from_place": a, "to_place": b})),
                7 => ("gear_recovered", json!({"from_place": a, "to_place": b})),
                8 => ("hook_missed", json!({"basket": a, "position": b})),
                _ => ("landed", json!({"species": "YFT", "count_since_float": b, "uncertainty_hooks": guess})),
            };
            deck.say_from("rail", t, kind, data);
        }
        if closes {
            deck.say_from("rail", 9000.0, "haul_ended", json!({"reason": "all_up"}));
        }
        let set = deck.set();
        let (hauled, lost, unknown) = (count(&set, HookFate::Hauled), count(&set, HookFate::Lost), count(&set, HookFate::Unknown));
        let (out, missed) = (count(&set, HookFate::InWater), count(&set, HookFate::Missed));
        prop_assert_eq!(set.hooks.len(), 12);
        prop_assert_eq!(hauled + lost + unknown + out + missed, 12);
        if closes {
            prop_assert_eq!(out, 0, "a closed set has nothing in the water");
        }
        prop_assert_eq!(set.hooks.iter().filter(|hook| hook.number.is_some()).count(), 12 - missed);
        for hook in &set.hooks {
            prop_assert!(hook.lifted_at.is_none() || hook.fate == HookFate::Hauled);
        }
    }
}

#[test]
fn verif_folding_again_gives_the_same_bytes() {
    let deck = three_devices();
    let once = serde_json::to_string(&deck.book()).unwrap();
    let mut shuffled = deck.logged();
    shuffled.reverse();
    assert_eq!(
        once,
        serde_json::to_string(&fold(&shuffled, None)).unwrap(),
        "the ship's sequence orders, not the slice"
    );
}

#[test]
fn verif_a_wrong_clock_is_put_right_by_its_measurement() {
    let plain = three_devices();
    let mut crooked = three_devices();
    for event in &mut crooked.events {
        if event["device"] == "rail" {
            let t: quantity::UtcInstant = event["happened_at"].as_str().unwrap().parse().unwrap();
            event["happened_at"] = json!(t.plus_seconds(743.0).to_string());
        }
    }
    let mut measured = crooked.clone();
    measured.say(950.0, "clock_offset", json!({"of_device": "rail", "offset_s": 743.0, "uncertainty_s": 1.0}));
    assert_ne!(substance(&crooked.set()), substance(&plain.set()));
    assert_eq!(substance(&measured.set()), substance(&plain.set()));
}

#[test]
fn verif_a_clock_that_jumps_does_no_harm_within_one_start() {
    let plain = three_devices();
    let mut jumping = three_devices();
    for event in &mut jumping.events {
        if event["device"] == "rail" {
            let t: quantity::UtcInstant = event["happened_at"].as_str().unwrap().parse().unwrap();
            let since_s = t.seconds_since(at(900.0));
            event["boot"] = json!("first");
            event["monotonic_ms"] = json!((since_s * 1000.0).round() as u64);
            if since_s > 350.0 {
                event["happened_at"] = json!(t.plus_seconds(-7200.0).to_string());
            }
        }
    }
    jumping.say(
        950.0,
        "clock_offset",
        json!({"of_device": "rail", "offset_s": 0.0, "uncertainty_s": 1.0,
        "of_boot": "first", "of_monotonic_ms": 50_000}),
    );
    assert_eq!(substance(&jumping.set()), substance(&plain.set()));
}

#[test]
fn verif_voided_and_amended_events() {
    let mut deck = three_devices();
    let before = deck.set();
    let wrong = deck.say_from("stern", 130.0, "hook_missed", json!({}));
    assert_eq!(count(&deck.set(), HookFate::Missed), 2);
    deck.say(3000.0, "voided", json!({"target": wrong, "why": "pressed by mistake"}));
    assert_eq!(substance(&deck.set()), substance(&before));
    deck.say(
        3001.0,
        "amended",
        json!({"target": wrong, "data": {"basket": 3, "position": 1}, "why": "it was this one"}),
    );
    assert_eq!(deck.set().hooks[8].fate, HookFate::Missed, "amending after voiding brings it back");
    deck.say(3002.0, "amended", json!({"target": "never-came", "why": "?"}));
    assert!(deck.book().doubts.iter().any(|doubt| doubt.kind == "correction_waits"));
}
