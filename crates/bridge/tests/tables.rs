//! The boat's own tables, people, stores, what is ahead and what lies aside: as they are asked for, loaded, and attacked.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use bridge::Limits;
use serde_json::{Value, json};
use support::{Client, Reply, TestShip, event};

const ZONE: &str = r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"North","rule":"set_by_night"},
    "geometry":{"type":"Polygon","coordinates":[[[179.0,-14.0],[180.0,-14.0],[180.0,-13.0],[179.0,-13.0],[179.0,-14.0]]]}}]}"#;
const TARGETS: &str = r#"{"rows":[{"name":"Deep","layer_m":[150,280],"source":"the boat's own"}]}"#;

fn put(client: &Client, path: &str, body: &[u8]) -> Reply {
    let origin = format!("http://{}", client.host);
    client.send("PUT", path, &[("Origin", &origin), ("Content-Type", "application/json")], body)
}

fn files(ship: &TestShip) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![ship.folder.path().to_owned()];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(folder).unwrap().flatten() {
            if entry.path().is_dir() {
                open.push(entry.path());
            } else {
                found.push(entry.path().strip_prefix(ship.folder.path()).unwrap().display().to_string());
            }
        }
    }
    found.retain(|name| !name.starts_with("voyage.journal") && !name.starts_with("devices"));
    found.sort();
    found
}

#[test]
fn verif_a_real_voyage_begins_with_no_table() {
    let ship = TestShip::new();
    assert_eq!(ship.here().get("/api/tables").json(), json!({"tables": []}));
    let targets = ship.here().get("/api/tables/targets").json();
    assert_eq!((&targets["rows"], &targets["tables"]), (&json!([]), &json!([])));
}

#[test]
fn verif_a_table_is_loaded_kept_and_told() {
    let ship = TestShip::new();
    let here = ship.here();
    let head = put(&here, "/api/tables/zones/our%20zones.geojson", ZONE.as_bytes()).json();
    assert_eq!((&head["state"], &head["entries"], &head["what"]), (&json!("loaded"), &json!(1), &json!("zones")));
    let rows = here.get("/api/events").json();
    let last = &rows["events"].as_array().unwrap().last().unwrap()["event"];
    assert_eq!((&last["kind"], &last["data"]["name"]), (&json!("table_loaded"), &json!("our zones.geojson")));
    assert_eq!(last["data"]["sha256"], head["sha256"]);
    let file = here.get("/api/tables/zones/our%20zones.geojson");
    assert_eq!((file.body.as_slice(), file.header("content-type")), (ZONE.as_bytes(), Some("application/geo+json")));
    assert_eq!(put(&here, "/api/tables/targets/t.json", TARGETS.as_bytes()).status, 200);
    assert_eq!(here.get("/api/tables/targets").json()["rows"][0]["layer_m"], json!([150.0, 280.0]));
    assert_eq!(
        files(&ship),
        ["tables/targets/t.json", "tables/zones/our zones.geojson"],
        "nothing is left beside them"
    );
    for (what, body) in [("step_lists", "{\"a\":[1,2]}"), ("limits", "[]")] {
        assert_eq!(put(&here, &format!("/api/tables/{what}/x"), body.as_bytes()).status, 200, "{what}");
    }
    // Another device of the ship reads them and loads none.
    let stern = ship.paired("stern-1", "stern");
    assert_eq!(stern.get("/api/tables").json()["tables"].as_array().unwrap().len(), 4);
    let refused = put(&stern, "/api/tables/targets/t.json", b"{\"rows\":[]}");
    assert_eq!(refused.problem(), (403, "only_at_the_ships_computer".to_owned()));
    // Loaded again, empty: it is out of use.
    assert_eq!(put(&here, "/api/tables/targets/t.json", b"{\"rows\":[]}").json()["entries"], 0);
    assert_eq!(here.get("/api/tables/targets").json()["rows"], json!([]));
    // After a restart the same tables stand.
    let again = TestShip::in_folder(ship.close(), Limits::default());
    assert_eq!(again.here().get("/api/tables/zones").json()["tables"][0]["state"], "loaded");
}

#[test]
fn verif_a_file_that_nobody_loaded_is_told_and_not_used() {
    let ship = TestShip::new();
    let here = ship.here();
    put(&here, "/api/tables/targets/t.json", TARGETS.as_bytes());
    let folder = ship.folder.path().join("tables/targets");
    std::fs::write(folder.join("by hand.json"), TARGETS).unwrap();
    std::fs::write(folder.join("t.json"), TARGETS.replace("150", "100")).unwrap();
    put(&here, "/api/tables/targets/gone.json", TARGETS.as_bytes());
    std::fs::remove_file(folder.join("gone.json")).unwrap();
    let told = here.get("/api/tables/targets").json();
    let states: Vec<(&str, &str)> = told["tables"]
        .as_array()
        .unwrap()
        .iter()
        .map(|table| (table["name"].as_str().unwrap(), table["state"].as_str().unwrap()))
        .collect();
    assert_eq!(states, [("by hand.json", "not_loaded"), ("t.json", "changed"), ("gone.json", "missing")]);
    assert_eq!(told["rows"], json!([]));
    assert_eq!(here.get("/api/tables/targets/gone.json").problem(), (404, "not_found".to_owned()));
}

#[test]
fn verif_bad_tables_are_refused_with_a_sentence_and_change_nothing() {
    let ship = TestShip::new();
    let here = ship.here();
    put(&here, "/api/tables/zones/z", ZONE.as_bytes());
    let events = here.get("/api/events").json()["events"].as_array().unwrap().len();
    let bad = [
        ("zones", "{", "not JSON"),
        ("zones", "{\"type\":\"Polygon\",\"coordinates\":[[[1,2]]]}", "corners"),
        ("zones", "{\"type\":\"Point\",\"coordinates\":[1,2]}", "boundary"),
        ("zones", "{\"type\":\"Polygon\",\"coordinates\":[[[1,95],[2,95],[2,96],[1,95]]]}", "no place"),
        ("zones", "[1,2]", "not GeoJSON"),
        ("targets", "[]", "not JSON"),
        ("targets", "{\"rows\":[{\"name\":\"a\",\"layer_m\":[300,100],\"source\":\"x\"}]}", "300 m to 100 m"),
        ("targets", "{\"rows\":[{\"name\":\"a\",\"layer_m\":[\"1\",2],\"source\":\"x\"}]}", "not JSON"),
        ("limits", "7", "neither an object"),
        ("step_lists", "nonsense", "not JSON"),
    ];
    for (what, body, says) in bad {
        let reply = put(&here, &format!("/api/tables/{what}/z"), body.as_bytes());
        assert_eq!(reply.problem(), (400, "not_understood".to_owned()), "{what} {body}");
        assert!(reply.text().contains(says) && reply.text().contains("not loaded"), "{}", reply.text());
    }
    let deep = format!("{}{}", "[".repeat(200_000), "]".repeat(200_000));
    assert_eq!(put(&here, "/api/tables/limits/z", deep.as_bytes()).status, 400);
    let origin = format!("http://{}", here.host);
    let text = [("Origin", origin.as_str()), ("Content-Type", "text/html")];
    assert_eq!(here.send("PUT", "/api/tables/zones/z", &text, ZONE.as_bytes()).problem(), (415, "not_json".to_owned()));
    assert_eq!(
        here.send("PUT", "/api/tables/zones/z", &[], ZONE.as_bytes()).problem(),
        (403, "origin_not_known".to_owned())
    );
    let geo = [("Origin", origin.as_str()), ("Content-Type", "application/geo+json")];
    assert_eq!(here.send("PUT", "/api/tables/zones/z", &geo, ZONE.as_bytes()).status, 200);
    assert_eq!(here.get("/api/events").json()["events"].as_array().unwrap().len(), events + 1);
    assert_eq!(here.get("/api/tables/zones/z").body, ZONE.as_bytes());
    assert_eq!(files(&ship), ["tables/zones/z"]);
}

#[test]
fn verif_names_lead_nowhere_else() {
    let ship = TestShip::new();
    let here = ship.here();
    std::fs::write(ship.folder.path().join("secret"), "{}").unwrap();
    let tricks = [
        "..%2f..%2fsecret",
        "%2e%2e%2fsecret",
        "..%5csecret",
        "%2fetc%2fpasswd",
        ".hidden",
        "a%00",
        "a%2fb",
        "%20a",
        "a.",
        "~%2fa",
        "C%3aa",
    ];
    for name in tricks {
        for (method, body) in [("GET", &b""[..]), ("PUT", TARGETS.as_bytes())] {
            let origin = format!("http://{}", here.host);
            let headers = [("Origin", origin.as_str()), ("Content-Type", "application/json")];
            let reply = here.send(method, &format!("/api/tables/targets/{name}"), &headers, body);
            assert_eq!(reply.problem(), (404, "not_found".to_owned()), "{method} {name}");
        }
    }
    for path in [
        "targets/..",
        "targets/../zones",
        "..",
        "%2e%2e/secret",
        "nonsense/a",
        "nonsense",
        "zones/",
        &"a".repeat(9_000),
    ] {
        let reply = here.get(&format!("/api/tables/{path}"));
        assert!((400..500).contains(&reply.status), "{path}: {}", reply.status);
    }
    let long = format!("/api/tables/targets/{}", "x".repeat(61));
    assert_eq!(put(&here, &long, TARGETS.as_bytes()).status, 404);
    assert_eq!(files(&ship), ["secret"]);
}

#[test]
fn verif_a_table_larger_than_is_taken_is_refused() {
    let ship = TestShip::with(Limits { body_bytes: 10_000, ..Limits::default() });
    let here = ship.here();
    let large = format!("{{\"a\":\"{}\"}}", "x".repeat(20_000));
    assert_eq!(put(&here, "/api/tables/limits/a", large.as_bytes()).problem(), (413, "too_large".to_owned()));
    let rows: Vec<Value> = (0..501).map(|_| json!({"name": "a", "layer_m": [1, 2], "source": "s"})).collect();
    let many = TestShip::new();
    let reply = put(&many.here(), "/api/tables/targets/a", json!({"rows": rows}).to_string().as_bytes());
    assert_eq!(reply.status, 400);
    for number in 0..100 {
        assert_eq!(put(&many.here(), &format!("/api/tables/limits/{number}"), b"{}").status, 200);
    }
    assert_eq!(put(&many.here(), "/api/tables/limits/more", b"{}").problem(), (413, "too_large".to_owned()));
    assert_eq!(put(&many.here(), "/api/tables/limits/7", b"[]").status, 200, "one that is there is replaced");
    assert_eq!(files(&ship), Vec::<String>::new());
}

#[test]
fn verif_people_and_stores_are_told() {
    let ship = TestShip::new();
    let here = ship.here();
    assert_eq!(here.get("/api/people").json()["people"], json!([]));
    assert_eq!(here.get("/api/stores").json()["bins_of_set"], Value::Null);
    let events: Vec<Value> = [
        ("voyage_opened", json!({})),
        ("person_added", json!({"person": "p1", "name": "Bowline"})),
        ("stores_counted", json!({"item": "bait", "kind": "squid", "count": 10})),
        ("bait_taken_out", json!({"bait": "squid", "boxes": 2, "pieces_per_box": 30})),
        ("bin_described", json!({"bin": "one", "bundles": [{"bundle": "a", "hooks": 25}]})),
        ("radio_buoy_registered", json!({"buoy": "B1", "call": "X"})),
        ("gear_described", json!({"gear": "g", "main_line": {"length_aboard_m": 90_000}})),
        ("setting_started", json!({"gear": "g"})),
        ("bin_started", json!({"bin": "one"})),
    ]
    .into_iter()
    .zip(1..)
    .map(|((kind, data), seq)| serde_json::from_str(&event("w", seq, kind, &data)).unwrap())
    .collect();
    here.post("/api/events", &Value::Array(events).to_string());
    assert_eq!(here.get("/api/people").json()["people"][0]["name"], "Bowline");
    let stores = here.get("/api/stores").json();
    assert_eq!(
        (&stores["bait"][0]["boxes_in_freezer"], &stores["bait"][0]["pieces_thawed"]),
        (&json!(8.0), &json!(60.0))
    );
    assert_eq!((&stores["bins"][0]["hooks"], &stores["bins_of_set"]["running"]), (&json!(25), &json!("one")));
    assert_eq!((&stores["radio_buoys"][0]["call"], &stores["main_line_aboard_m"]), (&json!("X"), &json!(90_000.0)));
    for path in ["/api/people", "/api/stores", "/api/aside", "/api/tables", "/api/tables/zones"] {
        assert_eq!(ship.elsewhere().get(path).problem(), (401, "not_paired".to_owned()), "{path}");
    }
    assert_eq!(here.get("/api/stores?voyage=0").status, 400);
    assert_eq!(here.get("/api/people?voyage=7").status, 404);
}

#[test]
fn verif_what_is_ahead_knows_the_loaded_zones() {
    let ship = TestShip::new();
    let here = ship.here();
    let events: Vec<Value> = [
        ("voyage_opened", json!({})),
        ("gear_described", json!({"gear": "g", "hooks_per_basket": 9, "float_takes_a_beat": true})),
        ("setting_started", json!({"gear": "g", "plan": {"baskets": 4}})),
        ("ship_state", json!({"latitude_deg": -14.5, "longitude_deg": 179.5, "speed_through_water_kn": 7.0})),
        ("beat", json!({"basket": 1, "position": 0, "at": "2031-03-02T05:06:07Z", "beat_s": 10.0, "hooks_per_basket": 9, "float_takes_a_beat": true})),
    ]
    .into_iter()
    .zip(1..)
    .map(|((kind, data), seq)| serde_json::from_str(&event("w", seq, kind, &data)).unwrap())
    .collect();
    ship.ship.clock.play("2031-03-02T05:06:30Z".parse().unwrap(), 0.0);
    here.post("/api/events", &Value::Array(events).to_string());
    let bare = here.get("/api/sets/1/ahead").json();
    assert_eq!((&bare["setting"], &bare["hooks_to_come"], &bare["zones"]), (&json!(true), &json!(34), &json!([])));
    put(&here, "/api/tables/zones/z", ZONE.as_bytes());
    let told = here.get("/api/sets/1/ahead").json();
    assert_eq!(told["zones"][0]["name"], "North");
    let far_m = told["zones"][0]["ship"]["least_distance_m"].as_f64().unwrap();
    // Half a degree of latitude there: 55.3 km.
    assert!((far_m - 55_316.0).abs() < 30.0, "{far_m}");
    for (path, status) in [("2/ahead", 404), ("0/ahead", 400), ("x/ahead", 400), ("1/ahead?voyage=3", 404)] {
        assert_eq!(here.get(&format!("/api/sets/{path}")).status, status, "{path}");
    }
}

#[test]
fn verif_what_lies_aside_is_shown_with_what_stands() {
    let ship = TestShip::new();
    let here = ship.here();
    here.post("/api/events", &event("rail", 1, "note", &json!({"text": "first"})));
    here.post("/api/events", &event("rail", 2, "note", &json!({"text": "second"})));
    assert_eq!(here.get("/api/aside").json()["events"], json!([]));
    let other = event("rail", 1, "note", &json!({"text": "another"}));
    assert_eq!(here.post("/api/events", &other).json()["results"][0]["result"], "conflict");
    let aside = here.get("/api/aside").json();
    let [one] = aside["events"].as_array().unwrap().as_slice() else { panic!("{aside}") };
    assert_eq!((&one["device"], &one["device_seq"], &one["against_ship_seq"]), (&json!("rail"), &json!(1), &json!(1)));
    assert_eq!((&one["event"]["data"]["text"], &one["against"]["data"]["text"]), (&json!("another"), &json!("first")));
    assert!(!one["reason"].as_str().unwrap().is_empty() && one["received_at"].is_string());
}
