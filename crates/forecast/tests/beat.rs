//! The beat against the cases that the screens are held to as well (`web/vectors/due.json`, reckoned by hand): one beat, two
//! languages. Cases with stops, uneven baskets or a look back before the anchor belong to the fold and are passed over here.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on should fail loudly")]

use forecast::beat::{BeatAnchor, Clipped};
use quantity::UtcInstant;
use quantity::testing::assert_within;
use serde_json::Value;

#[test]
fn verif_the_beat_is_the_one_that_the_screens_count() {
    let vectors: Value = serde_json::from_str(include_str!("../../../web/vectors/due.json")).unwrap();
    let origin = UtcInstant::from_ymd(2031, 3, 2).unwrap();
    let mut checked = 0;
    for case in vectors["cases"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let number = |value: &Value| value.as_f64().unwrap();
        let anchor = &case["anchor"];
        let (at_s, anchor_s) = (number(&case["at_s"]), number(&anchor[2]));
        let hooks = case["hooks"].as_object().unwrap();
        let even = hooks.len() == 1 && hooks.contains_key("1");
        if !case["stops"].as_array().unwrap().is_empty() || !even || at_s < anchor_s || case["due"].is_null() {
            continue;
        }
        let own = BeatAnchor {
            basket: anchor[0].as_i64().unwrap(),
            position: anchor[1].as_i64().unwrap(),
            at: origin.plus_seconds(anchor_s),
            beat_s: number(&anchor[3]),
            hooks_per_basket: hooks["1"].as_i64().unwrap(),
            float_takes_a_beat: anchor[4].as_bool().unwrap(),
            radio_buoy_every: None,
        };
        let now = own.now(origin.plus_seconds(at_s)).unwrap();
        let (last, due) = (now.last.unwrap(), &case["due"]);
        assert_eq!((last.basket, last.position), (due[0].as_i64().unwrap(), due[1].as_i64().unwrap()), "{name}");
        assert_eq!(now.next.clipped == Clipped::Hook, due[2] == "hook", "{name}");
        // Instants are whole microseconds.
        assert_within(name, now.next.at.seconds_since(origin) - at_s, number(&due[3]), 2e-6);
        assert_eq!(now.hooks_to_float, due[4].as_i64().unwrap(), "{name}");
        checked += 1;
    }
    assert!(checked >= 8, "{checked} cases");
}
