//! Plans over the API: worked out for every role, refused in a sentence, and quick.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use serde_json::{Value, json};
use support::TestShip;

fn wanted() -> Value {
    json!({
        "start_at": "2031-03-02T06:00:00Z", "start": {"latitude_deg": -14.5, "longitude_deg": 179.8},
        "legs": [{"course_deg_true": 74.0, "hooks": 800}, {"course_deg_true": 96.0}],
        "setting": {"vessel_speed_through_water_kn": 7.6, "shooter_speed_m_s": 5.4, "beat_s": 7.0,
            "hooks_per_basket": 25, "hooks": 2510, "hooks_per_radio_buoy": 500},
        "float_line_m": 28.0, "branch_line_m": 25.0,
        "main_line": {"diameter_mm": 3.6}, "branch": {"weight_in_water_n": 0.6},
        "water": {"levels": [{"depth_m": 0, "temperature_c": 28.4, "east_m_s": 0.35, "north_m_s": 0.05},
            {"depth_m": 300, "temperature_c": 12.0, "east_m_s": 0.0, "north_m_s": -0.1}]},
        "layer_m": [200, 350], "a field of another screen": 7
    })
}

#[test]
fn verif_a_plan_is_worked_out_for_every_role_and_kept_by_nobody() {
    let ship = TestShip::new();
    let before = ship.here().get("/api/health").json()["ship_seq"].clone();
    let here = ship.here().post("/api/plan", &wanted().to_string());
    assert_eq!(here.status, 200, "{}", here.text());
    let planned = here.json();
    assert_eq!(planned["totals"]["baskets"], 101);
    assert_eq!(planned["strip"]["arcs"].as_array().unwrap().len(), 101);
    assert_eq!(planned["strip"]["arcs"][0]["state"], "to_come");
    assert_eq!(planned["strip"]["flags"].as_array().unwrap().len(), 7);
    assert_eq!(planned["strip"]["floats"].as_array().unwrap().len(), 102);
    assert!(planned["strip"]["hours"].as_array().unwrap().len() >= 5);
    let light = planned["strip"]["light"].as_array().unwrap();
    assert!((light.last().unwrap()["to"].as_f64().unwrap() - 1.0).abs() < 1e-9);
    assert_eq!(planned["event_data"]["plan"]["hooks_per_basket"], 25);
    assert!(planned["track"][2]["longitude_deg"].as_f64().unwrap() < -179.0, "the line runs over 180°");
    for role in ["stern", "rail", "table", "look_only"] {
        let reply = ship.paired(role, role).post("/api/plan", &wanted().to_string());
        assert_eq!(reply.json()["hooks_in_layer"], planned["hooks_in_layer"], "{role}");
    }
    assert_eq!(ship.elsewhere().post("/api/plan", &wanted().to_string()).status, 401, "a stranger gets nothing");
    let paired = 4;
    let after = ship.here().get("/api/health").json()["ship_seq"].as_i64().unwrap();
    assert_eq!(after - before.as_i64().unwrap(), paired, "only the devices that were paired are kept");
}

#[test]
fn verif_the_answer_can_be_posted_as_the_event_and_the_set_follows_it() {
    let ship = TestShip::new();
    let planned = ship.here().post("/api/plan", &wanted().to_string()).json();
    let event = |seq: u64, kind: &str, data: &Value| {
        json!({"id": format!("0195f2c0-0000-7000-8000-{seq:012}"), "device": "here", "device_seq": seq, "kind": kind, "version": 1,
            "happened_at": format!("2031-03-02T06:00:{seq:02}Z"), "happened_basis": "tapped", "boot": null, "monotonic_ms": null,
            "person": null, "set": null, "haul": null, "data": data})
    };
    let batch = json!([
        event(1, "voyage_opened", &json!({})),
        event(2, "set_planned", &planned["event_data"]),
        event(3, "setting_started", &json!({}))
    ]);
    let results = ship.here().post("/api/events", &batch.to_string()).json();
    assert!(results["results"].as_array().unwrap().iter().all(|result| result["result"] == "kept"), "{results}");
    let strip = ship.here().get("/api/sets/1/strip").json();
    assert_eq!(strip["baskets_to_come"], 101, "the set knows its plan");
}

#[test]
fn verif_half_a_plan_and_none_are_answered() {
    let ship = TestShip::new();
    let half = ship.here().post("/api/plan", r#"{"setting":{"hooks_per_basket":20,"hooks":1000},"legs":[]}"#);
    assert_eq!(half.status, 200, "{}", half.text());
    let half = half.json();
    assert_eq!(half["totals"]["baskets"], 50);
    assert!(half["doubts"].as_array().unwrap().len() >= 3 && half["track"] == json!([]));
    assert!(half["strip"]["arcs"][0]["depth_known"] == false);
    let with = |change: &dyn Fn(&mut Value)| {
        let mut wanted = wanted();
        change(&mut wanted);
        wanted.to_string()
    };
    let bad = [
        String::new(),
        "[]".to_owned(),
        "{".to_owned(),
        "{}".to_owned(),
        r#"{"setting":{"beat_s":NaN}}"#.to_owned(),
        r#"{"setting":{"beat_s":1e999}}"#.to_owned(),
        r#"{"legs":[{"course_deg_true":"north"}],"setting":{}}"#.to_owned(),
        with(&|wanted| wanted["setting"]["hooks"] = json!(1e300)),
        with(&|wanted| wanted["setting"]["hooks"] = json!(-5)),
        with(&|wanted| wanted["setting"]["hooks"] = json!(999_999)),
        with(&|wanted| wanted["legs"][0]["course_deg_true"] = json!(1e300)),
        with(&|wanted| wanted["legs"][0]["hooks"] = json!(-1)),
        with(&|wanted| wanted["start"] = json!({"latitude_deg": 91, "longitude_deg": 0})),
        with(&|wanted| wanted["start"] = json!({"latitude_deg": 0, "longitude_deg": 1e9})),
        with(&|wanted| wanted["start_at"] = json!("tomorrow")),
        with(&|wanted| wanted["layer_m"] = json!([350, 200])),
        with(&|wanted| wanted["float_line_m"] = json!(-1)),
        with(&|wanted| wanted["main_line"]["diameter_mm"] = json!(0)),
        with(&|wanted| wanted["setting"]["sag_ratio"] = json!(0.2)),
        with(&|wanted| wanted["aboard"] = json!({"bait": [{"bait": "squid", "share": 7}]})),
        with(&|wanted| wanted["aboard"] = json!({"bins": [{"bin": "1", "hooks": 0.5}]})),
    ];
    for body in bad {
        let reply = ship.here().post("/api/plan", &body);
        assert_eq!(reply.status, 400, "{body}: {}", reply.text());
        let problem = reply.json();
        assert_eq!(problem["code"], "not_understood", "{body}");
        let text = problem["text"].as_str().unwrap();
        assert!(text.contains("othing was") || text.contains("nothing can be computed"), "{text}");
    }
    let huge = format!(r#"{{"target":"{}"}}"#, "x".repeat(4_100_000));
    assert_eq!(ship.here().post("/api/plan", &huge).status, 413);
    // A clock of another age, gigantic but possible numbers: answered with doubts.
    for change in [json!({"start_at": "0001-01-01T00:00:00Z"}), json!({"start_at": "9999-12-30T00:00:00Z"})] {
        let body = with(&|wanted| wanted["start_at"] = change["start_at"].clone());
        let reply = ship.here().post("/api/plan", &body);
        assert_eq!((reply.status, reply.json()["sky"].clone()), (200, Value::Null), "{}", reply.text());
    }
}
