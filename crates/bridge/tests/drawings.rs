//! The strip and the section as screens get them: a set begun, set, and hauled; and what is asked wrongly.

#![allow(clippy::unwrap_used, clippy::float_cmp, reason = "a test fails by panicking; shares are compared as served")]

mod support;

use quantity::UtcInstant;
use serde_json::{Value, json};
use support::TestShip;

fn begin() -> UtcInstant {
    "2031-03-02T05:00:00Z".parse().unwrap()
}

/// Posts events of one device, seconds after the beginning.
fn tell(ship: &TestShip, device: &str, events: &[(f64, &str, Value)]) {
    let bodies: Vec<Value> = (1..)
        .zip(events)
        .map(|(seq, (at_s, kind, data))| {
            let mut event: Value = serde_json::from_str(&support::event(device, seq, kind, data)).unwrap();
            event["happened_at"] = json!(begin().plus_seconds(*at_s).to_string());
            event["boot"] = Value::Null;
            event["monotonic_ms"] = Value::Null;
            event
        })
        .collect();
    let reply = ship.here().post("/api/events", &Value::Array(bodies).to_string());
    for result in reply.json()["results"].as_array().unwrap() {
        assert_eq!(result["result"], "kept", "{result}");
    }
}

/// A set of 6 planned baskets of 9 hooks, `at_s` seconds after its first float, at a beat of 10 s.
fn setting(at_s: f64) -> TestShip {
    let ship = TestShip::new();
    ship.ship.clock.play(begin().plus_seconds(at_s), 0.0);
    let gear = json!({"gear": "deep", "main_line": {"diameter_mm": 3.6}, "float_line_m": 25.0,
        "branch_lines": [{"type": "long", "length_m": 20.0, "weight_in_water_n": 0.6}], "hooks_per_basket": 9,
        "float_takes_a_beat": true, "tag_mode": "sequence_up"});
    let beat = json!({"basket": 1, "position": 0, "at": begin(), "beat_s": 10.0, "hooks_per_basket": 9,
        "float_takes_a_beat": true});
    let plan = json!({"baskets": 6, "sag_ratio": 0.75});
    let planned = json!({"plan": plan, "layer_m": [100.0, 190.0]});
    let mut events = vec![
        (-500.0, "voyage_opened", json!({"utc_offset_min": 720})),
        (-400.0, "gear_described", gear),
        (-300.0, "set_planned", planned),
        (-2.0, "setting_started", json!({"gear": "deep"})),
        (-1.0, "shooter_speed", json!({"shooter_speed_m_s": 5.0, "basis": "typed"})),
        (0.0, "beat", beat),
        (0.0, "float_clipped", json!({"place": 1, "tag": "1"})),
    ];
    for step in 0..60 {
        let seconds = f64::from(step) * 10.0;
        let state = json!({"utc": begin().plus_seconds(seconds), "latitude_deg": -15.0,
            "longitude_deg": 179.995 + seconds * 3.5e-5 - if 179.995 + seconds * 3.5e-5 >= 180.0 { 360.0 } else { 0.0 },
            "speed_through_water_kn": 7.3, "course_deg_true": 90.0, "sources": {}});
        if seconds <= at_s {
            events.push((seconds, "ship_state", state));
        }
    }
    tell(&ship, "wheelhouse-1", &events);
    ship
}

#[test]
fn verif_a_line_that_is_being_set_shows_what_is_out_and_what_is_to_come() {
    // 2 baskets of 100 s, then 43 s into the third: its float and four hooks.
    let ship = setting(243.0);
    let strip = ship.here().get("/api/sets/1/strip").json();
    assert_eq!((&strip["baskets_set"], &strip["baskets_to_come"]), (&json!(3), &json!(3)));
    assert_eq!(strip["rests_on"], "planned_baskets");
    assert_eq!(strip["line_ends_at"], json!(0.4), "24 of 60 clips");
    let states = |basket: i64| -> Vec<&str> {
        let arcs = strip["arcs"].as_array().unwrap().iter();
        arcs.filter(|arc| arc["basket"] == basket).map(|arc| arc["state"].as_str().unwrap()).collect()
    };
    assert_eq!(states(2), ["in_water"]);
    assert_eq!(states(3), ["being_set", "to_come"]);
    assert_eq!([states(4), states(6), states(7)], [vec!["to_come"], vec!["to_come"], vec![]]);
    let arcs = strip["arcs"].as_array().unwrap();
    let last = arcs.last().unwrap()["points"].as_array().unwrap();
    assert_eq!(last.last().unwrap(), &json!([1.0, 0.0]), "the plan fills the strip");
    assert!(arcs.iter().all(|arc| arc["depth_known"] == true));
    let rest = arcs.iter().find(|arc| arc["basket"] == 3 && arc["state"] == "to_come").unwrap();
    assert_eq!(rest["points"][0][0], strip["line_ends_at"], "it goes on where the line ends");
    assert_eq!(rest["points"].as_array().unwrap().len(), 1 + 5 + 1);
    let floats = strip["floats"].as_array().unwrap();
    assert_eq!(floats.len(), 7);
    assert_eq!(
        (&floats[0]["tag"], &floats[2]["to_come"], &floats[3]["to_come"]),
        (&json!("1"), &json!(false), &json!(true))
    );
    assert_eq!(strip["haul"], Value::Null);

    let section = ship.here().get("/api/sets/1/section").json();
    assert_eq!((&section["basket"], &section["state"]), (&json!(3), &json!("being_set")));
    let hooks = section["hooks"].as_array().unwrap();
    let doing: Vec<&str> = hooks.iter().map(|hook| hook["state"].as_str().unwrap()).collect();
    assert_eq!(doing, ["clipped", "clipped", "clipped", "clipped", "next", "coming", "coming", "coming", "coming"]);
    assert_eq!(section["wanted_layer_m"], json!([100.0, 190.0]));
    let depth = |position: usize| hooks[position - 1]["depth_m"].as_f64().unwrap();
    assert!(
        (depth(4) - depth(6)).abs() < 1e-6,
        "a basket half out hangs as it will when it is full: {} {}",
        depth(4),
        depth(6)
    );
    let layered = hooks.iter().filter(|hook| (100.0..=190.0).contains(&hook["depth_m"].as_f64().unwrap())).count();
    assert_eq!(section["hooks_in_layer"], json!(layered));
    assert!(section["main_line"].as_array().unwrap().len() > 9 && section["draw_to_m"].as_f64().unwrap() >= 190.0);
    let coming = ship.here().get("/api/sets/1/section?basket=6").json();
    assert_eq!((&coming["state"], &coming["hooks"][0]["state"]), (&json!("to_come"), &json!("coming")));
    let set = ship.here().get("/api/sets/1/section?basket=1").json();
    assert_eq!(
        (&set["state"], &set["hooks"][8]["state"], &set["from_tag"]),
        (&json!("set"), &json!("clipped"), &json!("1"))
    );
}

#[test]
fn verif_a_float_just_clipped_begins_a_basket_without_hooks() {
    let ship = setting(204.0);
    let section = ship.here().get("/api/sets/1/section").json();
    assert_eq!((&section["basket"], &section["hooks"][0]["state"]), (&json!(3), &json!("next")));
    let strip = ship.here().get("/api/sets/1/strip").json();
    assert_eq!(strip["baskets_set"], json!(3));
    assert!((strip["line_ends_at"].as_f64().unwrap() - 20.0 / 60.0).abs() < 1e-5);
}

#[test]
fn verif_a_haul_shows_its_way_and_nothing_to_come() {
    let ship = setting(620.0);
    let set = ship.here().get("/api/voyage").json()["sets"][0]["id"].clone();
    let events = [
        (605.0, "setting_ended", json!({"last_place": 7, "hooks_after": 0})),
        (900.0, "haul_started", json!({"direction": "to_first", "from_place": 7})),
        (1000.0, "float_hauled", json!({"place": 7})),
        (1100.0, "float_hauled", json!({"place": 6})),
    ];
    assert!(set.is_string());
    ship.ship.clock.play(begin().plus_seconds(1200.0), 0.0);
    tell(&ship, "rail-1", &events);
    let strip = ship.here().get("/api/sets/1/strip").json();
    assert_eq!(
        (&strip["baskets_set"], &strip["baskets_to_come"], &strip["line_ends_at"]),
        (&json!(6), &json!(0), &json!(1.0))
    );
    assert_eq!(strip["haul"]["towards"], "first");
    assert!((strip["haul"]["at"].as_f64().unwrap() - 5.0 / 6.0).abs() < 1e-5);
    let last = strip["arcs"].as_array().unwrap().last().unwrap();
    assert_eq!((&last["basket"], &last["state"]), (&json!(6), &json!("hauled")));
    let section = ship.here().get("/api/sets/1/section?basket=6").json();
    assert_eq!(section["hooks"][4]["state"], "hauled");
}

#[test]
fn verif_what_is_asked_wrongly_gets_a_sentence() {
    let ship = setting(243.0);
    let here = ship.here();
    for path in ["strip", "section"] {
        assert_eq!(here.get(&format!("/api/sets/2/{path}")).problem(), (404, "not_found".to_owned()));
        assert_eq!(here.get(&format!("/api/sets/0/{path}")).problem(), (400, "not_understood".to_owned()));
        assert_eq!(here.get(&format!("/api/sets/x/{path}")).status, 400);
        assert_eq!(here.get(&format!("/api/sets/1/{path}?voyage=9")).status, 404);
        assert_eq!(ship.elsewhere().get(&format!("/api/sets/1/{path}")).problem(), (401, "not_paired".to_owned()));
    }
    for basket in ["0", "-1", "x", "1.5", "99999999999999999999999"] {
        assert_eq!(here.get(&format!("/api/sets/1/section?basket={basket}")).status, 400, "{basket}");
    }
    for basket in ["7", "9223372036854775807", "18446744073709551615"] {
        let reply = here.get(&format!("/api/sets/1/section?basket={basket}"));
        assert_eq!(reply.problem(), (404, "not_found".to_owned()), "{basket}");
        assert!(reply.text().contains("3 are begun and 3 are to come"), "{}", reply.text());
    }
}
