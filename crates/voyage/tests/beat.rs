//! The beat of the line that is being laid: what is due, what comes next, what stands unanswered.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use quantity::testing::assert_within;
use serde_json::json;
use support::{Deck, at, beat, gear, second};
use voyage::beat::{Clip, Laying};
use voyage::fold;
use voyage::score::Sound;

fn laying(deck: &Deck, seconds_s: f64) -> Laying {
    fold(&deck.logged(), Some(at(seconds_s))).laying.unwrap()
}

fn clip(basket: i64, position: i64) -> Clip {
    Clip { basket, position }
}

fn begun() -> Deck {
    let mut deck = Deck::default();
    gear(&mut deck);
    deck.say(100.0, "setting_started", json!({"gear": "deep", "plan": {"hooks_per_radio_buoy": 8}}));
    beat(&mut deck, 1, 100.0, true);
    deck
}

#[test]
fn verif_what_is_due_is_told_with_what_comes_next() {
    let laying = laying(&begun(), 123.0);
    let due = laying.due_at(at(123.0)).unwrap();
    assert_eq!((due.last, due.next, due.hooks, due.hooks_to_float), (clip(1, 2), clip(1, 3), 4, 2));
    assert_within("next in, s", due.next_in_s, 7.0, 1e-6);
    assert_within("last at, s", second(Some(due.last_at)), 120.0, 1e-6);
    // The same record serves later moments too.
    let later = laying.due_at(at(100.0 + 50.0 * 40.0 + 41.0)).unwrap();
    assert_eq!((later.last, later.next), (clip(41, 4), clip(42, 0)));
    assert!(laying.due_at(at(99.0)).is_none());
}

#[test]
fn verif_a_stop_that_lasts_stands_for_ever_and_its_answer_is_open() {
    let mut deck = begun();
    let stop = deck.say(134.0, "stop_started", json!({}));
    let held = laying(&deck, 140.0);
    assert_eq!((held.stopped().unwrap().id.as_str(), held.stopped().unwrap().line_running), (stop.as_str(), None));
    for t in [134.0, 140.0, 5_000.0] {
        let due = held.due_at(at(t)).unwrap();
        assert_eq!((due.last, due.next), (clip(1, 3), clip(1, 4)), "{t}");
        assert_within("next in, s", due.next_in_s, 6.0, 1e-6);
    }
    assert!(held.tones(at(134.0), at(9_000.0)).is_empty());
    deck.say(200.0, "stop_ended", json!({"line_running": true}));
    let on = laying(&deck, 205.0);
    assert!(on.stopped().is_none() && on.stops[0].line_running == Some(true));
    assert_within("hook 4, s", second(Some(on.tones(at(201.0), at(210.0))[0].at)), 206.0, 1e-6);
}

#[test]
fn verif_only_a_line_that_goes_out_is_laid() {
    let mut deck = begun();
    assert!(deck.book().laying.is_some());
    deck.say(300.0, "setting_ended", json!({"last_place": 4, "hooks_after": 0}));
    assert!(deck.book().laying.is_none());
    let mut hauling = begun();
    hauling.say(300.0, "haul_started", json!({"direction": "to_first", "from_place": 4}));
    assert!(hauling.book().laying.is_none(), "hauling says that setting has ended");
    assert!(Deck::default().book().laying.is_none());
}

#[test]
fn verif_tags_radio_buoys_and_bins_to_come() {
    let mut deck = Deck::default();
    for bin in ["one", "two", "three"] {
        let bundles: Vec<_> = (1..=3).map(|bundle| json!({"bundle": bundle.to_string(), "hooks": 4})).collect();
        deck.say(1.0, "bin_described", json!({"bin": bin, "bundles": bundles}));
    }
    deck.events.append(&mut begun().events);
    for (seq, event) in (1..).zip(&mut deck.events) {
        event["device_seq"] = json!(seq);
        event["id"] = json!(format!("e-{seq}"));
    }
    let mut later = Deck::default();
    later.say_from("stern", 101.0, "float_clipped", json!({"place": 1, "tag": "40"}));
    later.say_from("stern", 102.0, "bin_started", json!({"bin": "one"}));
    deck.events.append(&mut later.events);
    let laying = laying(&deck, 110.0);
    assert_eq!(laying.tag_of(3).as_deref(), Some("42"));
    // 8 hooks from one radio buoy to the next, 4 in a basket: places 1, 3, 5.
    assert_eq!([1, 2, 3, 4].map(|from| laying.radio_buoy_from(from)), [Some(1), Some(3), Some(3), Some(5)]);
    assert_eq!((laying.bins.now.as_deref(), laying.bins.empty_at), (Some("one"), Some(4)));
    assert_eq!(laying.bins.next, ["two", "three"]);
    let sounds: Vec<Sound> = (1..=5).map(|place| laying.sound_of(clip(place, 0))).collect();
    use Sound::{BinChange, RadioBuoy, RadioBuoySoon};
    assert_eq!(sounds, [RadioBuoy, RadioBuoySoon, RadioBuoy, BinChange, RadioBuoy]);
}

#[test]
fn verif_a_silence_stands_until_it_is_answered() {
    let mut deck = begun();
    let times = json!({"from_at": at(112.0).to_string(), "to_at": at(141.0).to_string()});
    let silent = deck.say(142.0, "beat_silent", times.clone());
    let open = laying(&deck, 150.0).silences;
    assert_eq!((open[0].id.as_str(), open[0].hooks_due, open[0].hooks_clipped), (silent.as_str(), 3, None));
    let mut data = times;
    data["hooks_clipped"] = json!(2);
    deck.say(160.0, "amended", json!({"target": silent, "why": "answer", "data": data}));
    assert_eq!(laying(&deck, 170.0).silences[0].hooks_clipped, Some(2));
}

#[test]
fn verif_clips_are_the_hooks_of_the_record_whatever_the_anchors() {
    let mut deck = begun();
    deck.say(
        133.0,
        "beat",
        json!({"basket": 1, "position": 3, "at": at(130.0).to_string(), "beat_s": 6.0,
        "hooks_per_basket": 4, "float_takes_a_beat": true}),
    );
    deck.say(171.0, "stop_started", json!({}));
    deck.say(191.0, "stop_ended", json!({"line_running": false}));
    let now = 400.0;
    let book = fold(&deck.logged(), Some(at(now)));
    let clips = book.laying.unwrap().clips(at(0.0), at(now));
    // Hooks stand evenly between the beat times of their floats in the record, which a new beat inside a basket moves.
    let set = &book.voyages[0].sets[0];
    let in_record = set
        .hooks
        .iter()
        .filter(|hook| hook.basket > 1)
        .map(|hook| (hook.clipped_at.unwrap(), clip(hook.basket, hook.position)));
    let sounded: Vec<_> = clips.iter().copied().filter(|(_, clip)| clip.basket > 1 && clip.position > 0).collect();
    let in_record: Vec<_> = in_record.collect();
    assert!(in_record.len() > 20);
    assert_eq!(sounded.len(), in_record.len());
    for ((heard, one), (written, other)) in sounded.iter().zip(&in_record) {
        assert_eq!(one, other);
        assert_within("clip, s", heard.seconds_since(*written), 0.0, 1e-5);
    }
    let floats: Vec<i64> = clips.iter().filter(|(_, clip)| clip.position == 0).map(|(_, clip)| clip.basket).collect();
    assert_eq!(floats, (1..=i64::try_from(set.places.len()).unwrap()).collect::<Vec<_>>());
}
