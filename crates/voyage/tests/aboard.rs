//! Who and what is aboard: people, stores, bait, bins, radio buoys and tables, by hand-counted cases and whatever the
//! order in which the devices' logs come in.
#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test that cannot go on should fail loudly; counts are exact"
)]
mod support;

use std::collections::{BTreeMap, VecDeque};

use proptest::prelude::*;
use serde_json::{Value, json};
use support::*;
use voyage::aboard::{Aboard, BaitStock};
use voyage::{Book, fold};

fn aboard(deck: &Deck) -> Aboard {
    deck.book().voyages[0].aboard.clone()
}

fn bait<'a>(aboard: &'a Aboard, kind: &str) -> &'a BaitStock {
    aboard.bait.iter().find(|stock| stock.bait == kind).unwrap()
}

/// Three baskets of four hooks with everything that is counted round them, told by three devices.
fn provisioned() -> Deck {
    let mut deck = Deck::default();
    deck.say(1.0, "person_added", json!({"person": "p1", "name": "Bowline", "role": "bosun", "watch": "a"}));
    deck.say(2.0, "person_added", json!({"person": "p2", "name": "Hitch"}));
    deck.say(3.0, "stores_counted", json!({"item": "bait", "kind": "squid", "count": 20}));
    deck.say(4.0, "stores_counted", json!({"item": "float", "count": 60}));
    deck.say(
        5.0,
        "radio_buoy_registered",
        json!({"buoy": "B1", "name": "one", "call": "X 1", "battery_date": "2026-01-02"}),
    );
    for bin in 1..=5 {
        let bundles: Vec<Value> =
            (1..=2).map(|nth| json!({"bundle": format!("{bin}-{nth}"), "branch_type": "plain", "hooks": 4})).collect();
        deck.say(6.0 + f64::from(bin), "bin_described", json!({"bin": format!("bin {bin}"), "bundles": bundles}));
    }
    deck.say(
        12.0,
        "bin_described",
        json!({"bin": "other", "bundles": [{"bundle": "o", "branch_type": "steel", "hooks": 4}]}),
    );
    deck.say_from("stern", 20.0, "bait_taken_out", json!({"bait": "squid", "boxes": 3, "pieces_per_box": 10}));
    deck.say_from("stern", 30.0, "bait_spoiled", json!({"bait": "squid", "boxes": 1}));
    three_baskets(&mut deck);
    deck.say_from("stern", 100.5, "bin_started", json!({"bin": "bin 1"}));
    deck.say_from("stern", 101.0, "hook_bait", json!({"from_place": 1, "bait": "squid"}));
    deck.say_from("stern", 199.5, "bin_ended", json!({"bin": "bin 1", "hooks_left": 1}));
    deck.say_from("stern", 200.5, "bin_started", json!({"bin": "bin 2"}));
    deck.say_from("rail", 2000.0, "person_left", json!({"person": "p2"}));
    deck
}

fn interleaved(events: &[Value], picks: &[usize]) -> Vec<Value> {
    let mut logs: BTreeMap<&str, VecDeque<&Value>> = BTreeMap::new();
    for event in events {
        logs.entry(event["device"].as_str().unwrap()).or_default().push_back(event);
    }
    let mut logs: Vec<VecDeque<&Value>> = logs.into_values().collect();
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

fn substance(book: &Book) -> String {
    let outgoing: Vec<_> = book.voyages[0].sets.iter().map(|set| &set.outgoing).collect();
    serde_json::to_string(&(&book.voyages[0].aboard, outgoing, &book.tables)).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn verif_order_of_arrival_changes_nothing_aboard(picks in prop::collection::vec(0_usize..3, 0..60)) {
        let deck = provisioned();
        let dealt = interleaved(&deck.events, &picks);
        prop_assert_eq!(dealt.len(), deck.events.len());
        prop_assert_eq!(substance(&fold(&logged(&dealt), None)), substance(&deck.book()));
    }

    /// Whatever is moved, nothing is counted below nothing, and boxes neither come from nowhere nor vanish: freezer +
    /// taken out − put back is what was counted, unless more was taken out than there was.
    #[test]
    fn verif_bait_is_kept_in_the_books(moves in prop::collection::vec((0_u8..3, 0.0_f64..5.0), 0..30)) {
        let mut deck = Deck::default();
        deck.say(1.0, "stores_counted", json!({"item": "bait", "kind": "squid", "count": 200}));
        for (nth, (what, boxes)) in moves.iter().enumerate() {
            let kind = ["bait_taken_out", "bait_put_back", "bait_spoiled"][usize::from(*what)];
            let at_s = 2.0 + f64::from(u32::try_from(nth).unwrap());
            deck.say(at_s, kind, json!({"bait": "squid", "boxes": boxes, "pieces_per_box": 40}));
        }
        let aboard = aboard(&deck);
        let stock = bait(&aboard, "squid");
        prop_assert!(stock.pieces_thawed.is_none_or(|pieces| pieces >= 0.0));
        let booked = stock.boxes_in_freezer.unwrap() + stock.boxes_taken_out - stock.boxes_put_back;
        prop_assert!((booked - 200.0).abs() < 1e-9, "{}", booked);
    }
}

#[test]
fn verif_people_come_and_go() {
    let mut deck = provisioned();
    let all = aboard(&deck).people;
    assert_eq!((all[0].name.as_deref(), all[0].watch.as_deref(), all[0].aboard), (Some("Bowline"), Some("a"), true));
    assert!(!all[1].aboard && all[1].since_utc == Some(at(2000.0)));
    deck.say(3000.0, "person_added", json!({"person": "p2", "watch": "b"}));
    let all = aboard(&deck).people;
    assert_eq!((all[1].name.as_deref(), all[1].watch.as_deref(), all[1].aboard), (Some("Hitch"), Some("b"), true));
    deck.say(3001.0, "person_added", json!({"name": "Nobody"}));
    assert!(deck.book().doubts.iter().any(|doubt| doubt.kind == "incomplete"));
    assert_eq!(aboard(&deck).people.len(), 2);
}

#[test]
fn verif_bait_goes_from_the_freezer_to_the_hooks() {
    let mut deck = provisioned();
    // 3 boxes of 10 out, one spoiled: 20 pieces, of which 12 hooks took 12.
    let all = aboard(&deck);
    let squid = bait(&all, "squid");
    assert_eq!(
        (squid.boxes_in_freezer, squid.pieces_per_box, squid.pieces_thawed),
        (Some(17.0), Some(10.0), Some(8.0))
    );
    assert_eq!((squid.hooks_baited, squid.hooks_assumed), (12, false));
    assert_eq!(squid.sets_left, Some(17.0 / 1.2));
    // After the set the books of the next one begin.
    deck.say(5000.0, "bait_taken_out", json!({"bait": "squid", "boxes": 2}));
    deck.say(5001.0, "stores_counted", json!({"item": "bait", "kind": "squid", "count": 14}));
    let all = aboard(&deck);
    let squid = bait(&all, "squid");
    assert_eq!((squid.boxes_in_freezer, squid.boxes_taken_out, squid.pieces_thawed), (Some(14.0), 2.0, Some(28.0)));
    assert_eq!(all.counted("Float"), Some((60.0, at(4.0))));
    assert_eq!(all.counted("ice"), None, "what was never counted is not known");
}

#[test]
fn verif_bait_that_nobody_named_is_shared_out_and_marked() {
    let mut deck = Deck::default();
    deck.say(10.0, "bait_taken_out", json!({"bait": "squid", "boxes": 1, "pieces_per_box": 30}));
    deck.say(11.0, "bait_taken_out", json!({"bait": "sardine", "boxes": 1, "pieces_per_box": 10}));
    three_baskets(&mut deck);
    let all = aboard(&deck);
    assert_eq!((bait(&all, "squid").hooks_baited, bait(&all, "sardine").hooks_baited), (9, 3));
    assert!(bait(&all, "squid").hooks_assumed && bait(&all, "squid").boxes_in_freezer.is_none());
}

#[test]
fn verif_bins_stand_against_the_beat() {
    let deck = provisioned();
    let set = deck.set();
    let runs = &set.outgoing.bins;
    assert_eq!(
        runs.iter().map(|run| (run.bin.as_str(), run.hooks, run.hooks_left)).collect::<Vec<_>>(),
        [("bin 1", Some(8), Some(1)), ("bin 2", Some(8), None)]
    );
    let against = set.outgoing.bins_against_beat.unwrap();
    assert_eq!(
        (against.hooks_by_bins, against.hooks_by_beat),
        (7, 8),
        "two baskets by beat, one branch line left over"
    );
    assert!(set.outgoing.next_bins.is_empty(), "setting has ended");
    let mut going_on = deck.clone();
    going_on.events.retain(|event| event["kind"] != "setting_ended");
    let set = fold(&going_on.logged(), Some(at(230.0))).voyages[0].sets[0].clone();
    assert_eq!(set.outgoing.next_bins, ["bin 3", "bin 4", "bin 5"], "of the set's own branch lines, in order");
    let all = aboard(&deck);
    assert_eq!(all.bins.iter().map(|bin| bin.hooks).collect::<Vec<_>>(), [1, 8, 8, 8, 8, 4].map(Some));
    let mut later = deck;
    later.say(6000.0, "bundle_stowed", json!({"bin": "bin 1", "bundle": "h", "hooks": 4}));
    later.say(6001.0, "bundle_used", json!({"bin": "bin 3", "bundle": "3-1"}));
    assert_eq!(aboard(&later).bins.iter().map(|bin| bin.hooks.unwrap()).collect::<Vec<_>>(), [5, 8, 4, 8, 8, 4]);
}

#[test]
fn verif_radio_buoys_are_out_or_aboard() {
    let mut deck = provisioned();
    assert_eq!(aboard(&deck).radio_buoys[0].in_set, None);
    deck.say(201.0, "radio_buoy_launched", json!({"buoy": "B1", "place": 3}));
    deck.say(202.0, "radio_buoy_launched", json!({"buoy": "B9", "place": 4}));
    let buoys = aboard(&deck).radio_buoys;
    assert_eq!(
        buoys.iter().map(|buoy| (buoy.buoy.as_str(), buoy.in_set)).collect::<Vec<_>>(),
        [("B1", Some(1)), ("B9", Some(1))]
    );
    assert_eq!((buoys[0].call.as_deref(), buoys[1].call.as_deref()), (Some("X 1"), None));
}

#[test]
fn verif_of_a_table_the_one_loaded_last_stands() {
    let mut deck = Deck::default();
    deck.say(10.0, "table_loaded", json!({"what": "zones", "name": "a.geojson", "sha256": "01"}));
    deck.say(5.0, "table_loaded", json!({"what": "zones", "name": "a.geojson", "sha256": "02"}));
    deck.say(6.0, "table_loaded", json!({"what": "targets", "name": "a.geojson", "sha256": "03"}));
    deck.say(7.0, "table_loaded", json!({"what": "targets"}));
    let book = deck.book();
    let tables: Vec<_> = book.tables.iter().map(|table| (table.what.as_str(), table.sha256.as_deref())).collect();
    assert_eq!(tables, [("targets", Some("03")), ("zones", Some("02"))]);
    assert!(book.doubts.iter().any(|doubt| doubt.kind == "incomplete"));
}

#[test]
fn verif_what_holds_for_the_basket_being_hung_is_told() {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.say(
        90.0,
        "set_planned",
        json!({"plan": {"baskets": 9, "sag_ratio": 0.7}, "layer_m": [250, 100], "legs": [{"course_deg_true": 90}]}),
    );
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    deck.say(100.0, "shooter_speed", json!({"shooter_speed_m_s": 5.5, "basis": "counter"}));
    beat(&mut deck, 1, 100.0, true);
    deck.say(112.0, "course_leg", json!({"course_deg_true": 85.0}));
    deck.say(115.0, "gear_changed", json!({"from_place": 3, "hooks_per_basket": 6, "float_line_m": 30.0}));
    for step in 0..8 {
        let state = json!({"latitude_deg": 0.0, "longitude_deg": -179.9, "speed_through_water_kn": 7.0 + f64::from(step) * 0.1});
        deck.say(100.0 + 10.0 * f64::from(step), "ship_state", state);
    }
    let folded = |seconds_s: f64| fold(&deck.logged(), Some(at(seconds_s))).voyages[0].sets[0].clone();
    let set = folded(163.0);
    let being = set.outgoing.being_set.clone().unwrap();
    assert_eq!((being.basket, being.hooks, being.hooks_out, being.next_due_at), (2, 4, 1, Some(at(170.0))));
    assert_eq!((being.beat_s, being.clip_spacing_m, being.shooter_speed_m_s), (Some(10.0), Some(55.0), Some(5.5)));
    assert_eq!((being.course_deg_true, being.stopped_since), (Some(85.0), None));
    assert!((being.ship_speed_kn.unwrap() - 7.3).abs() < 1e-9 && !being.speed_is_over_ground);
    assert_eq!(set.outgoing.wanted_layer_m, Some((100.0, 250.0)));
    assert_eq!(set.outgoing.planned_legs.len(), 1);
    let steps: Vec<_> =
        set.outgoing.gear_from.iter().map(|step| (step.basket, step.hooks, step.float_line_m)).collect();
    assert_eq!(steps, [(1, 4, Some(20.0)), (3, 6, Some(30.0))]);
    let next = folded(203.0).outgoing.being_set.unwrap();
    assert_eq!((next.basket, next.hooks, next.hooks_out), (3, 6, 0), "its float is out and no hook yet");
    deck.say(171.0, "stop_started", json!({}));
    let stopped = fold(&deck.logged(), Some(at(190.0))).voyages[0].sets[0].outgoing.being_set.clone().unwrap();
    assert_eq!((stopped.hooks_out, stopped.stopped_since), (2, Some(at(171.0))));
    deck.say(195.0, "setting_ended", json!({"last_place": 2, "hooks_after": 2}));
    assert_eq!(deck.set().outgoing.being_set, None);
}
