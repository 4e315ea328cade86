//! The haul: floats, counts, tangles, losses. Expectations reckoned by hand from the words of the deck.
#![allow(clippy::unwrap_used, clippy::cast_precision_loss, reason = "a test that cannot go on should fail loudly")]
mod support;

use quantity::testing::assert_within;
use serde_json::json;
use support::*;
use voyage::CatchFate;

fn hauled_all(deck: &mut Deck, to_first: bool) {
    let places: Vec<i64> = if to_first { vec![4, 3, 2, 1] } else { vec![1, 2, 3, 4] };
    let direction = if to_first { "to_first" } else { "to_last" };
    deck.say(1000.0, "haul_started", json!({"direction": direction, "from_place": places[0]}));
    for (i, place) in places.iter().enumerate() {
        deck.say(1100.0 + 100.0 * i as f64, "float_hauled", json!({"place": place}));
    }
    deck.say(1500.0, "haul_ended", json!({"reason": "all_up"}));
}

#[test]
fn verif_all_hauled_and_lifting_times_are_even() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    hauled_all(&mut deck, true);
    let set = deck.set();
    assert!(!set.open);
    assert_eq!(fates(&set), "h".repeat(12));
    // From place 4 at 1100 to place 3 at 1200: hook 4 of basket 3 comes first.
    assert_within("lifted, s", second(set.hooks[11].lifted_at), 1120.0, 1e-6);
    assert_within("lifted, s", second(set.hooks[8].lifted_at), 1180.0, 1e-6);
}

#[test]
fn verif_one_fish_hauled_both_ways_is_on_the_same_hook() {
    for to_first in [true, false] {
        let mut deck = Deck::default();
        three_baskets(&mut deck);
        hauled_all(&mut deck, to_first);
        // The fish on hook 3 of basket 2: seen as the 2nd towards the first end, as the 3rd towards the last.
        let (t, count) = if to_first { (1250.0, 2) } else { (1250.0, 3) };
        deck.say_from("rail", t, "landed", json!({"species": "BET", "count_since_float": count}));
        let set = deck.set();
        assert_eq!((set.fish[0].basket, set.fish[0].position), (Some(2), Some(3)), "to_first {to_first}");
        assert_eq!(set.hooks[6].fish, ["rail-1"]);
    }
}

#[test]
fn verif_missing_float_alone_loses_no_hooks() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    deck.say(1000.0, "haul_started", json!({"direction": "to_first", "from_place": 4}));
    deck.say(1100.0, "float_hauled", json!({"place": 4}));
    deck.say(1150.0, "float_missing", json!({"place": 3}));
    deck.say(1190.0, "landed", json!({"species": "YFT", "count_since_float": 6}));
    deck.say(1280.0, "float_hauled", json!({}));
    deck.say(1400.0, "float_hauled", json!({"place": 1}));
    deck.say(1500.0, "haul_ended", json!({"reason": "all_up"}));
    let set = deck.set();
    assert_eq!(fates(&set), "h".repeat(12));
    assert!(set.places[2].missing);
    assert_eq!(set.places[1].hauled_at, Some(at(1280.0)), "the next in direction that is not missing");
    // Eight branch lines from 4 to 2; the sixth is hook 3 of basket 2 and came at 6/9 of the time.
    assert_eq!((set.fish[0].basket, set.fish[0].position), (Some(2), Some(3)));
    assert_within("lifted, s", second(set.hooks[6].lifted_at), 1100.0 + 180.0 * 6.0 / 9.0, 1e-6);
}

#[test]
fn verif_counts_beyond_the_last_float_are_up_and_the_rest_unknown() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    deck.say(1000.0, "haul_started", json!({"direction": "to_first", "from_place": 4}));
    deck.say(1100.0, "float_hauled", json!({"place": 4}));
    deck.say(1200.0, "float_hauled", json!({"place": 3}));
    deck.say(1250.0, "hooks_counted", json!({"count": 2}));
    deck.say(1260.0, "haul_ended", json!({"reason": "parted"}));
    assert_eq!(fates(&deck.set()), "wwwwwwhhhhhh", "parted: the set stays open");
    deck.say(1400.0, "haul_started", json!({"direction": "to_last", "from_place": 1}));
    deck.say(1500.0, "hooks_counted", json!({"count": 3}));
    deck.say(1600.0, "haul_ended", json!({"reason": "given_up"}));
    let set = deck.set();
    assert_eq!(fates(&set), "hhh???hhhhhh");
    assert_within("1st of 3 from the start of the part, s", second(set.hooks[0].lifted_at), 1400.0 + 100.0 / 3.0, 1e-5);
}

#[test]
fn verif_tangle_gear_lost_and_branch_lines() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    deck.say(1000.0, "haul_started", json!({"direction": "to_first", "from_place": 4}));
    deck.say(1100.0, "float_hauled", json!({"place": 4}));
    deck.say(1130.0, "branch_line_lost", json!({"cause": "bitten", "count_since_float": 2}));
    deck.say(1200.0, "float_hauled", json!({"place": 3}));
    deck.say(1210.0, "tangle", json!({"from_place": 3, "to_place": 2, "branch_lines_saved": 2, "branch_lines_cut": 1}));
    deck.say(1300.0, "float_hauled", json!({"place": 2}));
    deck.say(1310.0, "gear_lost", json!({"from_place": 2, "to_place": 1}));
    deck.say(1320.0, "haul_ended", json!({"reason": "given_up"}));
    let set = deck.set();
    assert_eq!(fates(&set), "lllllhh?hhlh");
    assert_eq!(set.branch_lines_lost, 1);
    deck.say(5000.0, "gear_recovered", json!({"from_place": 1, "to_place": 2, "by": "another boat"}));
    let set = deck.set();
    assert_eq!(&fates(&set)[..4], "hhhh");
    assert_eq!(set.hooks[0].lifted_at, None);
}

#[test]
fn verif_uncertain_counts_are_drawn_to_the_time_and_exact_ones_together() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    hauled_all(&mut deck, true);
    // 4 branch lines between 4 and 3; half the time gone: round(0.5 × 5) = 3.
    deck.say_from("rail", 1150.0, "landed", json!({"species": "BET", "count_since_float": 1, "uncertainty_hooks": 2}));
    // 8 counted where 4 came up: 8 → 4, 3 → round(1.5) = 2.
    deck.say_from("rail", 1230.0, "landed", json!({"species": "BET", "count_since_float": 3}));
    deck.say_from("rail", 1290.0, "landed", json!({"species": "BET", "count_since_float": 8}));
    let set = deck.set();
    let places: Vec<_> = set.fish.iter().map(|fish| (fish.basket.unwrap(), fish.position.unwrap())).collect();
    assert_eq!(places, [(3, 2), (2, 3), (2, 1)]);
    assert!(has_doubt(&set, "counts_scaled"));
}

#[test]
fn verif_hauler_stops_are_taken_out() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    deck.say(1000.0, "haul_started", json!({"direction": "to_first", "from_place": 4}));
    deck.say(1100.0, "float_hauled", json!({"place": 4}));
    deck.say(1120.0, "hauler_stopped", json!({}));
    deck.say(1420.0, "hauler_started", json!({}));
    deck.say(1500.0, "float_hauled", json!({"place": 3}));
    let set = deck.set();
    // 100 s of running: lifts at 20, 40, 60, 80 s; the first at the exact start of the stop.
    for (hook, expected) in [(11, 1120.0), (10, 1440.0), (9, 1460.0), (8, 1480.0)] {
        assert_within("lifted, s", second(set.hooks[hook].lifted_at), expected, 1e-6);
    }
}

#[test]
fn verif_bare_end_is_hauled_when_the_part_begins_there() {
    for from in [4, 5] {
        let mut deck = Deck::default();
        three_baskets(&mut deck);
        deck.last()["data"] = json!({"last_place": 4, "hooks_after": 2});
        deck.say(1000.0, "haul_started", json!({"direction": "to_first", "from_place": from}));
        deck.say(1100.0, "float_hauled", json!({"place": 4}));
        deck.say(1500.0, "haul_ended", json!({"reason": "given_up"}));
        let set = deck.set();
        assert_eq!(set.hooks.len(), 14);
        assert_eq!(&fates(&set)[12..], if from == 5 { "hh" } else { "??" });
    }
}

#[test]
fn verif_fish_words_come_one_by_one() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    hauled_all(&mut deck, true);
    let fish = deck.say_from("rail", 1150.0, "landed", json!({"count_since_float": 1}));
    let other = deck.say_from("table", 1160.0, "landed", json!({"species": "SWO", "weight_kg": 61.0}));
    deck.say_from("table", 1170.0, "fish_measured", json!({"fish": fish, "length_cm": 140.0}));
    deck.say_from("table", 1180.0, "fish_measured", json!({"fish": fish, "fate": "discarded"}));
    deck.say_from("table", 1190.0, "same_fish", json!({"a": fish, "b": other}));
    deck.say_from("rail", 1220.0, "bitten", json!({"species": "YFT", "count_since_float": 1, "kept": true}));
    deck.say_from("rail", 1240.0, "lost_at_rail", json!({"species": "BET", "count_since_float": 2}));
    let set = deck.set();
    let fates: Vec<CatchFate> = set.fish.iter().map(|fish| fish.fate).collect();
    assert_eq!(fates, [CatchFate::Discarded, CatchFate::Retained, CatchFate::Lost]);
    assert_eq!(set.fish[0].species.as_deref(), Some("SWO"));
    assert_eq!(set.fish[0].length_cm, Some(140.0));
    assert_eq!(set.fish[0].weight_kg, Some(61.0));
}
