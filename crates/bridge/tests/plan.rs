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
fn verif_a_plan_is_one_page_of_paper_without_script() {
    let ship = TestShip::new();
    let mut wanted = wanted();
    wanted["target"] = json!("<script>alert(1)</script>");
    let page = ship.here().post("/api/plan/page", &wanted.to_string());
    assert_eq!(page.status, 200, "{}", page.text());
    assert!(page.header("content-type").unwrap().starts_with("text/html"));
    let policy = page.header("content-security-policy").unwrap();
    assert!(
        policy.starts_with("default-src 'none'; style-src 'sha256-") && policy.contains("frame-ancestors 'none'"),
        "{policy}"
    );
    let html = page.text();
    assert!(
        !html.contains("<script") && !html.contains(" style=") && html.contains("&lt;script&gt;"),
        "text of people is escaped"
    );
    for words in [
        "ship 7.6 kn, shooter 5.40 m/s (324 m/min), beat 7.0 s, 25 hooks, float line 28 m, branch line 25 m",
        "Needed and aboard",
        "Legs",
    ] {
        assert!(html.contains(words), "{words}");
    }
    assert_eq!(ship.here().post("/api/plan/page", "{}").status, 400);
    assert!(
        ship.here()
            .post("/api/plan/page", r#"{"setting":{"hooks_per_basket":20,"hooks":1000}}"#)
            .text()
            .contains("not known")
    );
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

/// A small set: two legs, 2 baskets of 4 on the first, 1 on the second, then the way back.
#[test]
fn verif_a_plan_starts_from_the_last_set_and_goes_the_other_way() {
    let ship = TestShip::new();
    let nothing = ship.here().get("/api/plan/start");
    assert_eq!((nothing.status, nothing.json()["legs"].clone()), (200, json!([])), "{}", nothing.text());
    let begin: quantity::UtcInstant = "2024-03-02T06:00:00Z".parse().unwrap();
    let mut seq = 0_u64;
    let mut batch: Vec<Value> = Vec::new();
    let mut tell = |after_s: f64, kind: &str, data: Value| {
        seq += 1;
        batch.push(json!({"id": format!("0195f2c0-0000-7000-8000-{seq:012}"), "device": "here", "device_seq": seq, "kind": kind, "version": 1,
            "happened_at": begin.plus_seconds(after_s).to_string(), "happened_basis": "tapped", "boot": null, "monotonic_ms": null,
            "person": null, "set": null, "haul": null, "data": data}));
    };
    tell(-9000.0, "voyage_opened", json!({"utc_offset_min": 720}));
    tell(
        -8000.0,
        "gear_described",
        json!({"gear": "deep", "main_line": {"diameter_mm": 3.6, "length_aboard_m": 90000.0}, "float_line_m": 28.0,
        "branch_lines": [{"type": "a", "length_m": 25.0, "weight_in_water_n": 0.6}], "hooks_per_basket": 4, "float_takes_a_beat": true,
        "radio_buoy": "beside_float"}),
    );
    tell(
        -7000.0,
        "water_profile",
        json!({"levels": [{"depth_m": 0.0, "temperature_c": 28.0, "east_m_s": 0.3, "north_m_s": 0.0},
        {"depth_m": 300.0, "temperature_c": 12.0}]}),
    );
    tell(-6000.0, "stores_counted", json!({"item": "bait", "kind": "squid", "count": 40.0}));
    tell(-6000.0, "stores_counted", json!({"item": "float", "count": 150.0}));
    tell(
        -3000.0,
        "set_planned",
        json!({"plan": {"beat_s": 7.0, "hooks_per_radio_buoy": 8}, "layer_m": [100.0, 200.0]}),
    );
    tell(-1.0, "setting_started", json!({"gear": "deep", "target": "BET", "night": false}));
    tell(-0.5, "shooter_speed", json!({"shooter_speed_m_s": 5.0, "basis": "measured"}));
    tell(
        0.0,
        "beat",
        json!({"basket": 1, "position": 0, "at": begin.to_string(), "beat_s": 6.0, "hooks_per_basket": 4, "float_takes_a_beat": true}),
    );
    tell(0.1, "course_leg", json!({"course_deg_true": 74.0}));
    for step in 0..10 {
        // Told in order of time, as a device tells.
        if step == 7 {
            tell(61.0, "course_leg", json!({"course_deg_true": 96.0}));
        }
        let at_s = f64::from(step) * 10.0;
        let at = begin.plus_seconds(at_s).to_string();
        let state = json!({"utc": at, "latitude_deg": -14.5 + 1e-4 * at_s, "longitude_deg": 178.9, "speed_through_water_kn": 7.0});
        tell(at_s + 0.2, "ship_state", state);
    }
    tell(90.5, "setting_ended", json!({"last_place": 4}));
    let results = ship.here().post("/api/events", &Value::Array(batch).to_string()).json();
    assert!(results["results"].as_array().unwrap().iter().all(|result| result["result"] == "kept"), "{results}");

    let start = ship.here().get("/api/plan/start?from=last").json();
    assert_eq!(start["setting"]["hooks"], 12.0, "{start}");
    assert_eq!(start["setting"]["hooks_per_basket"], 4.0);
    assert_eq!(start["setting"]["beat_s"], 6.0, "as measured, not as planned");
    assert_eq!(start["setting"]["shooter_speed_m_s"], 5.0);
    assert!((start["setting"]["vessel_speed_through_water_kn"].as_f64().unwrap() - 7.0).abs() < 0.02, "{start}");
    assert_eq!(start["setting"]["hooks_per_radio_buoy"], 8.0);
    assert_eq!(start["legs"], json!([{"course_deg_true": 74.0, "hooks": 8.0}, {"course_deg_true": 96.0}]));
    assert_eq!((&start["float_line_m"], &start["branch_line_m"]), (&json!(28.0), &json!(25.0)));
    assert_eq!((&start["main_line"]["diameter_mm"], &start["branch"]["weight_in_water_n"]), (&json!(3.6), &json!(0.6)));
    assert_eq!((&start["layer_m"], &start["target"]), (&json!([100.0, 200.0]), &json!("BET")));
    assert_eq!(start["water"]["levels"].as_array().unwrap().len(), 2);
    assert_eq!((&start["buoy_in_place_of_float"], &start["utc_offset_min"]), (&json!(false), &json!(720)));
    assert_eq!((&start["aboard"]["main_line_m"], &start["aboard"]["floats"]), (&json!(90000.0), &json!(150.0)));
    assert_eq!(
        (&start["aboard"]["bait"][0]["bait"], &start["aboard"]["bait"][0]["boxes"]),
        (&json!("squid"), &json!(40.0))
    );
    let planned = ship.here().post("/api/plan", &start.to_string());
    assert_eq!(planned.status, 200, "{}", planned.text());
    assert_eq!(planned.json()["totals"]["baskets"], 3);

    let back = ship.here().get("/api/plan/start?other_way=true").json();
    assert_eq!(back["legs"], json!([{"course_deg_true": 276.0, "hooks": 4.0}, {"course_deg_true": 254.0}]));
    assert!((back["start"]["latitude_deg"].as_f64().unwrap() - -14.491).abs() < 0.0005, "{}", back["start"]);
    assert_eq!(ship.here().get("/api/plan/start?from=gear&gear=deep").json()["legs"], start["legs"]);
    for (query, status) in [
        ("from=gear&gear=none", 404),
        ("from=yesterday", 400),
        ("other_way=maybe", 400),
        ("voyage=7", 404),
        ("voyage=x", 400),
    ] {
        let reply = ship.here().get(&format!("/api/plan/start?{query}"));
        assert_eq!(reply.status, status, "{query}: {}", reply.text());
        assert!(reply.json()["text"].is_string());
    }
    assert_eq!(ship.elsewhere().get("/api/plan/start").status, 401);
}
