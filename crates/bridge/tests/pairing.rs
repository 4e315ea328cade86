//! Pairing, roles, revocation and the PIN over the wire.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::time::{Duration, Instant};

use bridge::Limits;
use serde_json::{Value, json};
use support::{TestShip, event, note};

#[test]
fn verif_a_code_pairs_a_device_and_its_token_opens_what_its_role_allows() {
    let ship = TestShip::new();
    let wanted = ship.here().post("/api/pairing", r#"{"role":"rail","name":"Rail tablet"}"#).json();
    assert_eq!(wanted["tries_left"], 5);
    let address = wanted["addresses"][0].as_str().unwrap();
    let code = wanted["code"].as_str().unwrap();
    assert_eq!(address, format!("http://deck.test:{}/#pair={code}", ship.address.port()));
    let qr = wanted["qr"].as_array().unwrap();
    assert!(qr.len() >= 21 && qr.iter().all(|row| row.as_str().unwrap().len() == qr.len()));
    let mut rail = ship.elsewhere();
    let reply = rail.post("/api/pair", &json!({"code": code, "device": "rail-1"}).to_string());
    assert_eq!(reply.status, 200, "{}", reply.text());
    assert_eq!((&reply.json()["role"], &reply.json()["name"]), (&json!("rail"), &json!("Rail tablet")));
    let cookie = reply.header("set-cookie").unwrap();
    assert!(cookie.contains("; HttpOnly") && cookie.contains("; SameSite=Strict") && !cookie.contains("Secure"));
    rail.keep_cookies(&reply);
    let token = rail.cookies[0].split('=').next_back().unwrap().to_owned();
    let list = std::fs::read_to_string(ship.folder.path().join("devices.json")).unwrap();
    assert!(!list.contains(&token), "the token itself is kept nowhere");
    assert_eq!(rail.get("/api/voyage").status, 200);
    assert_eq!(rail.get("/api/devices/me").json()["device"], "rail-1");
    assert_eq!(rail.get("/api/devices").status, 403);
    assert_eq!(rail.post("/api/pairing", r#"{"role":"rail"}"#).status, 403);
    // The pairing stands in the journal.
    let events = ship.here().get("/api/events").json();
    assert_eq!(events["events"][0]["event"]["kind"], "device_added");
    assert_eq!(events["events"][0]["event"]["data"]["device_id"], "rail-1");
    assert!(!events.to_string().contains(&token) && !events.to_string().contains(code));
    // Once only, and not as a wheelhouse.
    let again = ship.elsewhere().post("/api/pair", &json!({"code": code, "device": "rail-2"}).to_string());
    assert_eq!(again.problem(), (403, "code_not_valid".to_owned()));
    assert_eq!(ship.here().post("/api/pairing", r#"{"role":"wheelhouse"}"#).status, 400);
    assert_eq!(ship.here().post("/api/pairing", r#"{"role":"captain"}"#).status, 400);
}

fn result(reply: &Value, at: usize) -> (String, String) {
    let text = |name: &str| reply["results"][at][name].as_str().unwrap_or("").to_owned();
    (text("result"), text("reason_code"))
}

#[test]
fn verif_each_role_sends_what_it_may_and_all_call_man_overboard() {
    let ship = TestShip::new();
    for role in ["stern", "rail", "table", "look_only"] {
        let device = format!("{role}-1");
        let client = ship.paired(&device, role);
        let alarm = event(&device, 1, "man_overboard", &json!({"latitude_deg": -15.2, "longitude_deg": 179.9}));
        let tap = event(&device, 2, "float_clipped", &json!({"place": 1}));
        let setting = event(&device, 3, "voyage_opened", &json!({"vessel": {}, "utc_offset_min": 0}));
        let other = note("rail-77", 4);
        let reply = client.post("/api/events", &format!("[{alarm},{tap},{setting},{other},nonsense]")).json();
        assert_eq!(result(&reply, 0).0, "kept", "{role}");
        assert_eq!(result(&reply, 1).0, if role == "look_only" { "refused" } else { "kept" }, "{role}");
        assert_eq!(result(&reply, 2), ("refused".to_owned(), "not_in_this_role".to_owned()), "{role}");
        assert_eq!(result(&reply, 3), ("refused".to_owned(), "another_device".to_owned()), "{role}");
        assert_eq!(result(&reply, 4), ("refused".to_owned(), "not_readable".to_owned()), "{role}");
        assert_eq!(reply["results"].as_array().unwrap().len(), 5);
    }
}

#[test]
fn verif_guessing_codes_ends_soon() {
    let ship = TestShip::with(Limits { tries_each: 100, ..Limits::default() });
    let code = ship.here().post("/api/pairing", r#"{"role":"rail"}"#).json()["code"].as_str().unwrap().to_owned();
    let wrong = if code == "00000000" { "00000001" } else { "00000000" };
    let guess = |code: &str| ship.elsewhere().post("/api/pair", &json!({"code": code, "device": "x"}).to_string());
    for left in (0..5).rev() {
        assert_eq!(guess(wrong).problem(), (403, "code_not_valid".to_owned()));
        let open = ship.here().get("/api/devices").json()["open_code"].clone();
        assert_eq!(open["tries_left"], if left == 0 { Value::Null } else { json!(left) });
    }
    assert_eq!(guess(&code).problem(), (403, "code_not_valid".to_owned()), "the right one comes too late");
    // One guesser waits before he has used up a code.
    let ship = TestShip::new();
    let code = ship.here().post("/api/pairing", r#"{"role":"rail"}"#).json()["code"].as_str().unwrap().to_owned();
    let guess = |code: &str| ship.elsewhere().post("/api/pair", &json!({"code": code, "device": "x"}).to_string());
    (0..3).for_each(|_| drop(guess(wrong)));
    let reply = guess(&code);
    assert_eq!(reply.problem(), (429, "too_many".to_owned()));
    assert!(reply.header("retry-after").unwrap().parse::<u32>().unwrap() > 50);
}

#[test]
fn verif_revoking_closes_live_streams_and_shuts_the_door() {
    let ship = TestShip::new();
    let rail = ship.paired("rail-1", "rail");
    let table = ship.paired("table-1", "table");
    let (mut live, mut other) = (rail.live("", None), table.live("", None));
    assert!(live.next_named("hello").is_some() && other.next_named("hello").is_some());
    let devices = ship.here().get("/api/devices").json();
    assert_eq!(devices["devices"][0]["live_streams"], 1);
    let begin = Instant::now();
    assert_eq!(ship.here().post("/api/devices/rail-1/revoke", "").status, 200);
    let goodbye = live.next_named("goodbye").unwrap();
    assert_eq!(goodbye.data["reason"], "revoked");
    assert!(live.next().is_none(), "the stream has ended");
    assert!(begin.elapsed() < Duration::from_secs(2), "{:?}", begin.elapsed());
    assert_eq!(rail.get("/api/voyage").problem(), (401, "not_paired".to_owned()));
    assert_eq!(rail.post("/api/events", &note("rail-1", 1)).status, 401);
    ship.here().post("/api/events", &note("wheelhouse", 1));
    assert!(other.next_named("kept").is_some(), "the others go on");
    assert_eq!(ship.here().post("/api/devices/rail-9/revoke", "").status, 404);
    // Paired anew it is let in again; the old token stays dead.
    let again = ship.paired("rail-1", "rail");
    assert_eq!(again.get("/api/voyage").status, 200);
    assert_eq!(rail.get("/api/voyage").status, 401);
    // A restart forgets neither.
    let folder = ship.close();
    let ship = TestShip::in_folder(folder, Limits::default());
    let at = |client: &support::Client| support::Client {
        address: ship.address,
        host: ship.elsewhere().host,
        ..client.clone()
    };
    assert_eq!(at(&again).get("/api/voyage").status, 200);
    assert_eq!(at(&rail).get("/api/voyage").status, 401);
}

#[test]
fn verif_the_pin_closes_the_wheelhouse_and_leaves_the_deck_working() {
    let ship = TestShip::new();
    let mut captain = ship.here();
    assert_eq!(captain.post("/api/pin", r#"{"pin":"12"}"#).status, 400);
    let reply = captain.post("/api/pin", r#"{"pin":"4711"}"#);
    assert_eq!(reply.status, 204);
    captain.keep_cookies(&reply);
    assert_eq!(captain.get("/api/devices").status, 200, "who set it stays in");
    let mut other = ship.here();
    assert_eq!(other.get("/api/devices").problem(), (403, "pin_needed".to_owned()));
    assert_eq!(other.get("/api/devices/me").json()["pin_needed"], true);
    assert_eq!(other.get("/api/export").status, 403);
    let tap = event("wheelhouse", 1, "float_clipped", &json!({"place": 1}));
    assert_eq!(result(&other.post("/api/events", &tap).json(), 0).0, "kept", "a set does not stop for a PIN");
    let opened = event("wheelhouse", 2, "voyage_opened", &json!({"vessel": {}, "utc_offset_min": 0}));
    assert_eq!(result(&other.post("/api/events", &opened).json(), 0).1, "not_in_this_role");
    assert_eq!(other.post("/api/pin/unlock", r#"{"pin":"0000"}"#).problem(), (403, "pin_wrong".to_owned()));
    let reply = other.post("/api/pin/unlock", r#"{"pin":"4711"}"#);
    assert!(reply.header("set-cookie").unwrap().contains("HttpOnly; SameSite=Strict"));
    other.keep_cookies(&reply);
    assert_eq!(other.get("/api/devices").status, 200);
    assert_eq!(other.post("/api/pin/lock", "").status, 204);
    assert_eq!(other.get("/api/devices").status, 403);
    for _ in 0..5 {
        other.post("/api/pin/unlock", r#"{"pin":"0000"}"#);
    }
    assert_eq!(other.post("/api/pin/unlock", r#"{"pin":"4711"}"#).problem(), (429, "too_many".to_owned()));
    let elsewhere = ship.elsewhere().post("/api/pin/unlock", r#"{"pin":"4711"}"#);
    assert_eq!(elsewhere.problem(), (403, "only_at_the_ships_computer".to_owned()), "no PIN goes over the air");
    let list = std::fs::read_to_string(ship.folder.path().join("devices.json")).unwrap();
    assert!(list.contains("$argon2id$") && !list.contains("4711"));
}
