//! The demo voyage held against its own script, and against the program's event decoder.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use super::{SEED, deep, generate, shallow};

fn events(deck: &[u8]) -> Vec<Value> {
    std::str::from_utf8(deck).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn verif_one_seed_one_pair_of_files() {
    let (a, b, c) = (generate(SEED).unwrap(), generate(SEED).unwrap(), generate(SEED + 1).unwrap());
    assert!(a.instruments == b.instruments && a.deck == b.deck);
    assert!(a.instruments != c.instruments && a.deck != c.deck);
}

#[test]
fn verif_the_script_counts_its_hooks() {
    let start = "2026-03-09T17:00:00Z".parse().unwrap();
    assert_eq!(deep::clockwork(start).hooks_set(), 2500 - 7 - 2);
    assert_eq!(shallow::clockwork(start).hooks_set(), 900 - 3);
    // 100 baskets of 26 beats of 7 s, and stops of 260 s and 95 s.
    let seconds = deep::clockwork(start).place_at(101).seconds_since(start);
    quantity::testing::assert_within("time of the deep set, s", seconds, 18_200.0 + 355.0, 1e-6);
    // 180 baskets of 5 beats of 12 s, and a stop of 140 s.
    let seconds = shallow::clockwork(start).place_at(181).seconds_since(start);
    quantity::testing::assert_within("time of the shallow set, s", seconds, 10_800.0 + 140.0, 1e-6);
}

#[test]
fn verif_every_line_is_an_event() {
    let demo = generate(SEED).unwrap();
    for line in demo.deck.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
        if let Err(refusal) = voyage::read_event(line) {
            panic!("{refusal}: {}", String::from_utf8_lossy(line));
        }
    }
}

#[test]
fn verif_devices_count_up_and_ids_are_used_once() {
    let demo = generate(SEED).unwrap();
    let mut ids = BTreeSet::new();
    let mut last: BTreeMap<String, u64> = BTreeMap::new();
    for event in events(&demo.deck) {
        assert!(ids.insert(event["id"].as_str().unwrap().to_owned()), "{} twice", event["id"]);
        let device = event["device"].as_str().unwrap().to_owned();
        let seq = event["device_seq"].as_u64().unwrap();
        assert_eq!(seq, last.get(&device).copied().unwrap_or(0) + 1, "{device}");
        last.insert(device, seq);
        assert!(event["boot"].is_string(), "{event}");
    }
    assert_eq!(last.len(), 4, "four devices write");
}

#[test]
fn verif_what_should_go_wrong_does() {
    let demo = generate(SEED).unwrap();
    let all = events(&demo.deck);
    let count = |kind: &str| all.iter().filter(|event| event["kind"] == kind).count();
    for kind in [
        "voyage_opened",
        "day_without_set",
        "person_added",
        "work_started",
        "work_ended",
        "device_added",
        "clock_offset",
        "weather",
        "water_profile",
        "observer",
        "note",
        "place_noted",
        "man_overboard",
        "man_overboard_false",
        "danger_called",
        "danger_over",
        "gear_described",
        "tags_listed",
        "bin_described",
        "radio_buoy_registered",
        "stores_counted",
        "bait_taken_out",
        "bait_put_back",
        "bait_spoiled",
        "hold_described",
        "set_planned",
        "beat",
        "stop_started",
        "stop_ended",
        "beat_silent",
        "shooter_speed",
        "course_leg",
        "gear_changed",
        "float_clipped",
        "radio_buoy_launched",
        "bin_started",
        "bin_ended",
        "hook_missed",
        "bird_line",
        "light_stick",
        "hook_bait",
        "buoy_fixed",
        "hauler_stopped",
        "hauler_started",
        "float_hauled",
        "hooks_counted",
        "radio_buoy_recovered",
        "bundle_stowed",
        "landed",
        "lost_at_rail",
        "bitten",
        "released",
        "fish_measured",
        "card_taken",
        "cards_exchanged",
        "fish_step",
        "stowed",
        "same_fish",
        "probe_read",
        "amended",
        "voided",
        "tangle",
        "branch_line_lost",
        "gear_lost",
        "gear_recovered",
    ] {
        assert!(count(kind) > 0, "no {kind}");
    }
    assert_eq!(count("setting_started"), 2);
    assert_eq!(count("haul_started"), 4);
    assert_eq!(count("haul_ended"), 4);
    assert_eq!(count("float_missing"), 2);
    assert_eq!(count("hook_missed"), 10);
    let stops: BTreeSet<bool> = all
        .iter()
        .filter(|event| event["kind"] == "stop_ended")
        .filter_map(|event| event["data"]["line_running"].as_bool())
        .collect();
    assert_eq!(stops.len(), 2, "stops of both kinds");
    let released: BTreeSet<&str> = all
        .iter()
        .filter(|event| event["kind"] == "released")
        .filter_map(|event| event["data"]["species"].as_str())
        .collect();
    for species in ["TTL", "LKV", "BSH"] {
        assert!(released.contains(species), "no {species} released");
    }
}

#[test]
fn verif_one_tablet_is_an_hour_late_with_a_wrong_clock() {
    let demo = generate(SEED).unwrap();
    let all = events(&demo.deck);
    let measured =
        all.iter().find(|event| event["kind"] == "clock_offset" && event["data"]["of_device"] == "rail").unwrap();
    let offset_s = measured["data"]["offset_s"].as_f64().unwrap();
    quantity::testing::assert_within("offset of the rail tablet, s", offset_s, 743.0, 0.5);
    // The rail's lines stand behind table lines that were made well after them.
    let mut newest = quantity::UtcInstant::from_micros(0).unwrap();
    let mut latest_s = 0.0_f64;
    for event in &all {
        let at: quantity::UtcInstant = event["happened_at"].as_str().unwrap().parse().unwrap();
        match event["device"].as_str().unwrap() {
            "table" => newest = newest.max(at),
            "rail" => latest_s = latest_s.max(newest.seconds_since(at.plus_seconds(-743.0))),
            _ => {}
        }
    }
    assert!(latest_s > 2400.0, "at most {latest_s} s late");
}

#[test]
fn verif_catch_is_of_a_working_day() {
    let demo = generate(SEED).unwrap();
    let rate = |index: usize| {
        let account = &demo.accounts[index];
        let fish: u32 = account.seen.values().sum();
        f64::from(fish) * 1000.0 / f64::from(u32::try_from(account.hooks_set).unwrap())
    };
    assert!((12.0..25.0).contains(&rate(0)), "deep: {} on 1,000 hooks", rate(0));
    assert!((15.0..35.0).contains(&rate(1)), "shallow: {} on 1,000 hooks", rate(1));
    let hours = demo.accounts[0].end.seconds_since("2026-03-10T02:30:00Z".parse().unwrap()) / 3600.0;
    assert!((10.5..14.0).contains(&hours), "the deep haul took {hours} h");
}

#[test]
fn verif_the_cable_is_noisy_but_mostly_good() {
    let demo = generate(SEED).unwrap();
    let (mut good, mut bad) = (0_u32, 0_u32);
    for line in demo.instruments.split(|byte| *byte == b'\n') {
        let text = String::from_utf8_lossy(line);
        let text = text.trim_end();
        let fits = text
            .strip_prefix('$')
            .and_then(|rest| rest.split_once('*'))
            .is_some_and(|(body, sum)| format!("{:02X}", body.bytes().fold(0_u8, |a, b| a ^ b)) == sum);
        if fits { good += 1 } else { bad += 1 }
    }
    assert!(good > 60_000, "{good} good lines");
    assert!(bad > 50 && bad * 100 < good, "{bad} bad lines of {good}");
    let crossed = String::from_utf8_lossy(&demo.instruments);
    assert!(crossed.contains(",E,") && crossed.contains(",W,"), "the ship crosses 180°");
}

#[test]
fn verif_the_fold_gives_the_scripts_own_account() {
    let demo = generate(SEED).unwrap();
    let lines = demo.deck.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    let logged: Vec<voyage::Logged> = lines
        .zip(1..)
        .map(|(line, ship_seq)| voyage::Logged { ship_seq, event: voyage::read_event(line).unwrap() })
        .collect();
    let book = voyage::fold(&logged, None);
    assert_eq!(book.voyages.len(), 1);
    let sets = &book.voyages[0].sets;
    assert_eq!(sets.len(), 2);
    for (number, (set, account)) in (1..).zip(sets.iter().zip(&demo.accounts)) {
        let count = |fate: voyage::HookFate| set.hooks.iter().filter(|hook| hook.fate == fate).count();
        let missed = count(voyage::HookFate::Missed);
        assert_eq!(set.hooks.len() - missed, account.hooks_set, "hooks of set {number}");
        assert_eq!(count(voyage::HookFate::Lost), account.hooks_lost, "lost in set {number}");
        assert_eq!(count(voyage::HookFate::Unknown), account.hooks_unknown, "unknown in set {number}");
        assert_eq!(count(voyage::HookFate::InWater), 0, "in the water after set {number}");
        let fish: u32 = account.seen.values().sum();
        assert_eq!(set.fish.len(), usize::try_from(fish).unwrap(), "fish of set {number}");
    }
}
