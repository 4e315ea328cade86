//! The line as set: beats, taps, stops, missed hooks, silence, partings. Expectations reckoned by hand.
#![allow(clippy::unwrap_used, clippy::cast_precision_loss, reason = "a test that cannot go on should fail loudly")]
mod support;

use quantity::testing::assert_within;
use serde_json::json;
use support::*;

#[test]
fn verif_hooks_stand_evenly_between_floats() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    let set = deck.set();
    assert_eq!(set.hooks.len(), 12);
    for (index, hook) in set.hooks.iter().enumerate() {
        let (basket, j) = (index / 4, index % 4 + 1);
        let expected = 100.0 + 50.0 * basket as f64 + 10.0 * j as f64;
        assert_within("clipped, s", second(hook.clipped_at), expected, 1e-6);
        assert_within("along, m", hook.along_line_m.unwrap(), 250.0 * basket as f64 + 50.0 * j as f64, 1e-9);
    }
    assert_within("line, m", set.main_line_total_m.unwrap(), 750.0, 1e-9);
    assert!(set.open);
    assert_eq!(fates(&set), "w".repeat(12));
}

#[test]
fn verif_half_beats_when_the_float_takes_none() {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    beat(&mut deck, 1, 100.0, false);
    deck.say(181.0, "setting_ended", json!({}));
    let set = deck.set();
    // Places at 100, 140, 180; hooks at 105, 115, 125, 135 …; nothing due after 180 by 181.
    assert_eq!(set.places.len(), 3);
    assert_eq!(set.hooks.len(), 8);
    assert_within("first hook, s", second(set.hooks[0].clipped_at), 105.0, 1e-6);
    assert_within("last hook, s", second(set.hooks[7].clipped_at), 175.0, 1e-6);
    assert_within("first hook, m", set.hooks[0].along_line_m.unwrap(), 25.0, 1e-9);
    assert_within("line, m", set.main_line_total_m.unwrap(), 400.0, 1e-9);
}

#[test]
fn verif_stops_are_taken_out_and_put_back() {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    deck.say(100.0, "shooter_speed", json!({"shooter_speed_m_s": 6.0, "basis": "typed"}));
    beat(&mut deck, 1, 100.0, true);
    // Hook 2 is due at 120, the exact start: it was clipped before the stop. Hook 3 comes after it.
    deck.say(120.0, "stop_started", json!({"line_running": true}));
    deck.say(160.0, "stop_ended", json!({}));
    deck.say(191.0, "setting_ended", json!({"last_place": 2, "hooks_after": 0}));
    let set = deck.set();
    let clipped: Vec<f64> = set.hooks.iter().map(|hook| second(hook.clipped_at)).collect();
    for (ours, expected) in clipped.iter().zip([110.0, 120.0, 170.0, 180.0]) {
        assert_within("clipped, s", *ours, expected, 1e-6);
    }
    assert_within("place 2, s", second(set.places[1].clipped_at), 190.0, 1e-6);
    // 60 m a clip, and 40 s × 6 m/s of empty line after hook 2.
    assert_within("hook 2, m", set.hooks[1].along_line_m.unwrap(), 120.0, 1e-9);
    assert_within("hook 3, m", set.hooks[2].along_line_m.unwrap(), 420.0, 1e-9);
    assert_within("line, m", set.main_line_total_m.unwrap(), 540.0, 1e-9);
    assert_within("empty, m", set.baskets[0].empty_line_m, 240.0, 1e-9);
}

#[test]
fn verif_missed_hooks_keep_their_position() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    deck.say(162.0, "hook_missed", json!({}));
    deck.events.last_mut().unwrap()["happened_basis"] = json!("typed");
    deck.say(162.0, "hook_missed", json!({"basket": 3, "position": 4}));
    let set = deck.set();
    assert_eq!(fates(&set), "wwwwmwwwwwwm");
    assert_eq!(set.hooks[4].number, None);
    assert_eq!(set.hooks[5].number, Some(5));
}

#[test]
fn verif_silence_until_answered_counts_as_set() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    let silent =
        deck.say(300.0, "beat_silent", json!({"from_at": at(110.0).to_string(), "to_at": at(140.0).to_string()}));
    let set = deck.set();
    assert_eq!(
        set.hooks
            .iter()
            .filter(|hook| !hook.doubts.is_empty() && hook.doubts.iter().any(|d| d.kind == "beat_silent"))
            .count(),
        3
    );
    deck.say(
        400.0,
        "amended",
        json!({"target": silent, "why": "asked the crew",
        "data": {"from_at": at(110.0).to_string(), "to_at": at(140.0).to_string(), "hooks_clipped": 1}}),
    );
    assert_eq!(fates(&deck.set()), "wwmmwwwwwwww");
}

#[test]
fn verif_parting_leaves_a_gap_that_no_basket_crosses() {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    beat(&mut deck, 1, 100.0, true);
    deck.say(100.0, "float_clipped", json!({"place": 1}));
    deck.say(150.0, "float_clipped", json!({"place": 2}));
    deck.say(175.0, "setting_parted", json!({}));
    deck.say(900.0, "float_clipped", json!({"place": 3}));
    beat(&mut deck, 3, 900.0, true);
    deck.say(951.0, "setting_ended", json!({}));
    let set = deck.set();
    let counts: Vec<i64> = set.baskets.iter().map(|basket| basket.hooks).collect();
    assert_eq!(counts, [4, 2, 4], "hooks due at 160 and 170 went out before the parting");
    assert!(!set.baskets[1].has_end_float);
    assert_within("hook after the parting, s", second(set.hooks[6].clipped_at), 910.0, 1e-6);
}

#[test]
fn verif_untapped_place_stands_at_its_beat_time() {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    beat(&mut deck, 1, 100.0, true);
    deck.say(103.0, "float_clipped", json!({"tag": "A7"}));
    deck.say(204.0, "float_clipped", json!({"tag": "A9"}));
    deck.say(215.0, "setting_ended", json!({}));
    let set = deck.set();
    assert_eq!(set.places.len(), 3);
    assert_eq!(set.places[2].tag.as_deref(), Some("A9"));
    assert!(!set.places[1].tapped);
    assert_within("place 2, s", second(set.places[1].clipped_at), 150.0, 1e-6);
    assert_eq!(set.baskets[2].hooks, 1, "one hook was due (at 210) after the last float");
    assert_within("bare hook, s", second(set.hooks[8].clipped_at), 214.0, 1e-6);
}

#[test]
fn verif_line_counter_scales_spacing() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    for (t, m) in [(100.0, 1000.0), (200.0, 1600.0)] {
        deck.say(t, "line_counter", json!({"paid_out_m": m}));
        deck.last()["happened_basis"] = json!("typed");
    }
    let set = deck.set();
    // 600 m over the first two baskets, reckoned as 500 m; the third is left as it is.
    assert_within("hook 1, m", set.hooks[0].along_line_m.unwrap(), 60.0, 1e-9);
    assert_within("line, m", set.main_line_total_m.unwrap(), 850.0, 1e-9);
}

#[test]
fn verif_the_blank_of_a_radio_buoy_lies_after_its_place() {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.last()["data"]["radio_buoy_blank_m"] = json!(100.0);
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    deck.say(100.0, "radio_buoy_launched", json!({"buoy": "A", "place": 1}));
    deck.say(150.0, "float_clipped", json!({"place": 2}));
    deck.say(200.0, "radio_buoy_launched", json!({"buoy": "B", "place": 3}));
    deck.say(201.0, "setting_ended", json!({"last_place": 3, "hooks_after": 0}));
    let set = deck.set();
    assert_within("first hook, m", set.hooks[0].along_line_m.unwrap(), 150.0, 1e-9);
    assert_within("place 2, m", set.places[1].along_line_m.unwrap(), 350.0, 1e-9);
    assert_within("line with both blanks, m", set.main_line_total_m.unwrap(), 700.0, 1e-9);
    assert_eq!(set.places.iter().filter(|place| place.radio_buoy.is_some()).count(), 2);
}

#[test]
fn verif_a_persons_count_stands_over_everything() {
    let mut deck = Deck::default();
    three_baskets(&mut deck);
    deck.say(300.0, "basket_counted", json!({"basket": 2, "hooks": 6}));
    deck.say(301.0, "basket_counted", json!({"basket": 4, "hooks": 2}));
    deck.say(302.0, "gear_changed", json!({"from_place": 3, "hooks_per_basket": 3}));
    let set = deck.set();
    let counts: Vec<i64> = set.baskets.iter().map(|basket| basket.hooks).collect();
    assert_eq!(counts, [4, 6, 3, 2], "counted; counted over hooks_after 0; changed from place 3");
    // Six hooks between places 2 (150 s) and 3 (200 s): the first at 1/7 of the way.
    assert_within("first of six, s", second(set.hooks[4].clipped_at), 150.0 + 50.0 / 7.0, 1e-5);
}

#[test]
fn verif_ends_joined_changes_only_the_length() {
    let tell = |joined: bool| {
        let mut deck = Deck::default();
        gear(&mut deck);
        deck.say(100.0, "setting_started", json!({"gear": "deep"}));
        beat(&mut deck, 1, 100.0, true);
        deck.say(100.0, "float_clipped", json!({"place": 1}));
        deck.say(125.0, "setting_parted", json!({"after_place": 1, "hooks_after": 2}));
        if joined {
            deck.say(800.0, "ends_joined", json!({"after_place": 1}));
        }
        beat(&mut deck, 2, 900.0, true);
        deck.say(900.0, "float_clipped", json!({"place": 2}));
        deck.say(950.0, "float_clipped", json!({"place": 3}));
        deck.say(951.0, "setting_ended", json!({"last_place": 3, "hooks_after": 0}));
        deck.set()
    };
    let (apart, joined) = (tell(false), tell(true));
    let times = |set: &voyage::SetRecord| set.hooks.iter().map(|hook| hook.clipped_at).collect::<Vec<_>>();
    assert_eq!(times(&apart), times(&joined));
    assert_within("parted, m", apart.main_line_total_m.unwrap(), 350.0, 1e-9);
    assert_within("joined, m", joined.main_line_total_m.unwrap(), 400.0, 1e-9);
}
