//! The server owns the beat: orders, stops, silences and the horn, over the wire.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use bridge::{Limits, Voice, VoiceError, VoiceMaker};
use quantity::UtcInstant;
use quantity::testing::assert_within;
use serde_json::{Value, json};
use support::{Client, TestShip};
use voyage::score::Note;

const BEGIN: &str = "2031-03-02T05:00:00Z";

/// An order's id.
fn uuid(n: u64) -> String {
    format!("0195f2c0-0000-7000-8000-{:012x}", 0xbea7_0000_0000 + n)
}

fn computer() -> UtcInstant {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
    UtcInstant::from_micros(i64::try_from(since.as_micros()).unwrap()).unwrap()
}

fn event(seq: u64, at: UtcInstant, kind: &str, data: &Value) -> Value {
    json!({
        "id": format!("0195f2c0-0000-7000-8000-{seq:012x}"), "device": "stern-1", "device_seq": seq, "kind": kind,
        "version": 1, "happened_at": at, "happened_basis": "instrument", "boot": "b1", "monotonic_ms": null,
        "person": null, "set": null, "haul": null, "data": data,
    })
}

fn keep(client: &Client, events: &[Value]) {
    let reply = client.post("/api/events", &json!(events).to_string()).json();
    for result in reply["results"].as_array().unwrap() {
        assert_eq!(result["result"], "kept", "{reply}");
    }
}

/// Gear of 9 hooks and setting begun.
fn begin(client: &Client, at: UtcInstant) {
    let gear = json!({"gear": "deep", "hooks_per_basket": 9, "clip_spacing_m": 40.0, "float_takes_a_beat": true,
        "tag_mode": "sequence_up", "float_line_m": 20.0});
    let opened = event(1, at, "voyage_opened", &json!({}));
    let plan = json!({"gear": "deep", "plan": {"hooks_per_radio_buoy": 18}});
    keep(client, &[opened, event(2, at, "gear_described", &gear), event(3, at, "setting_started", &plan)]);
}

/// A ship whose clock stands where it is put.
fn at_anchor() -> (TestShip, Client, UtcInstant) {
    let ship = TestShip::new();
    let at: UtcInstant = BEGIN.parse().unwrap();
    ship.ship.clock.play(at, 0.0);
    let client = ship.here();
    begin(&client, at);
    (ship, client, at)
}

fn order(client: &Client, n: u64, more: Value) -> support::Reply {
    let mut body = more;
    body["id"] = json!(uuid(n));
    client.post("/api/beat", &body.to_string())
}

fn ordered(client: &Client, n: u64, more: Value) -> Value {
    let reply = order(client, n, more);
    assert_eq!(reply.status, 200, "{}", reply.text());
    reply.json()
}

fn wait_for(what: &str, mut done: impl FnMut() -> bool) {
    let begin = Instant::now();
    while !done() {
        assert!(begin.elapsed() < Duration::from_secs(30), "{what} did not come");
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn verif_slower_and_faster_keep_the_count_and_an_order_counts_once() {
    let (ship, client, at) = at_anchor();
    let move_to = |seconds_s: f64| ship.ship.clock.play(at.plus_seconds(seconds_s), 0.0);
    let started = ordered(&client, 1, json!({"do": "start", "beat_s": 30.0, "count_in": 0}));
    assert_eq!((&started["anchor"]["basket"], &started["anchor"]["position"]), (&json!(1), &json!(0)));
    assert_eq!(started["anchor"]["hooks_per_basket"], 9);
    move_to(71.0);
    let due = client.get("/api/beat").json()["due"].clone();
    assert_eq!((&due["basket"], &due["position"], &due["hooks_to_float"]), (&json!(1), &json!(2), &json!(7)));
    assert_within("next in, s", due["next_in_s"].as_f64().unwrap(), 19.0, 1e-6);
    assert_eq!((&due["next"], &due["next_place"]), (&json!("hook"), &json!(2)));
    // The plan has a radio buoy at every second float.
    assert_eq!(due["baskets_to_radio_buoy"], 2);
    let faster = ordered(&client, 2, json!({"do": "faster", "by_s": 5.0}));
    assert_eq!((&faster["anchor"]["position"], &faster["anchor"]["beat_s"]), (&json!(2), &json!(25.0)));
    assert_eq!(faster["anchor"]["at_utc"], json!(at.plus_seconds(60.0)));
    let due = client.get("/api/beat").json()["due"].clone();
    assert_eq!(due["position"], 2, "the count goes on");
    assert_within("next in, s", due["next_in_s"].as_f64().unwrap(), 14.0, 1e-6);
    // Sent again it is answered the same and changes nothing, later too.
    move_to(80.0);
    assert_eq!(ordered(&client, 2, json!({"do": "faster", "by_s": 5.0})), faster);
    assert_eq!(client.get("/api/beat").json()["anchor"]["beat_s"], 25.0);
    let other = order(&client, 2, json!({"do": "slower", "by_s": 5.0}));
    assert_eq!(other.problem(), (409, "id_used".to_owned()));
    let note = order(&client, 1, json!({"do": "start", "beat_s": 31.0, "count_in": 0}));
    assert_eq!(note.problem(), (409, "id_used".to_owned()));
    // Much quicker: the next hook keeps its share of the way, none falls into the past.
    let set = ordered(&client, 3, json!({"do": "set", "beat_s": 2.0}));
    assert_eq!(set["anchor"]["position"], 2);
    let due = client.get("/api/beat").json()["due"].clone();
    assert_eq!(due["position"], 2);
    assert_within("next in, s", due["next_in_s"].as_f64().unwrap(), 2.0 * 5.0 / 25.0, 1e-6);
    // After a restart as before.
    let folder = ship.close();
    let again = TestShip::in_folder(folder, Limits::default());
    again.ship.clock.play(at.plus_seconds(300.0), 0.0);
    assert_eq!(ordered(&again.here(), 2, json!({"do": "faster", "by_s": 5.0})), faster);
    let events = again.here().get("/api/events").json();
    let beats: Vec<&Value> =
        events["events"].as_array().unwrap().iter().filter(|row| row["event"]["kind"] == "beat").collect();
    assert_eq!(beats.len(), 3);
    for beat in beats {
        assert!(beat["event"]["device"].as_str().unwrap().starts_with("bridge-"));
        assert_eq!(beat["event"]["set"], events["events"][2]["event"]["id"]);
    }
}

#[test]
fn verif_a_beat_is_counted_in() {
    let (ship, client, at) = at_anchor();
    let started = ordered(&client, 1, json!({"do": "start", "beat_s": 7.0}));
    assert_eq!(
        (&started["anchor"]["count_in"], &started["anchor"]["at_utc"]),
        (&json!(3), &json!(at.plus_seconds(3.25)))
    );
    let view = client.get("/api/beat").json();
    assert!(view["due"].is_null() && view["anchor"].is_null());
    assert_eq!(view["counting_in"], started["anchor"]);
    // Slower while it is counted in: the same float at the same moment.
    let slower = ordered(&client, 2, json!({"do": "slower"}));
    assert_eq!((&slower["anchor"]["at_utc"], &slower["anchor"]["beat_s"]), (&started["anchor"]["at_utc"], &json!(7.1)));
    ship.ship.clock.play(at.plus_seconds(10.4), 0.0);
    let due = client.get("/api/beat").json()["due"].clone();
    assert_eq!((&due["basket"], &due["position"]), (&json!(1), &json!(1)));
    // A quick beat is counted in by itself.
    let quick = ordered(&client, 3, json!({"do": "start", "beat_s": 0.5, "count_in": 4, "basket": 2}));
    assert_eq!(quick["anchor"]["at_utc"], json!(at.plus_seconds(10.4 + 2.25)));
    assert_eq!(quick["anchor"]["basket"], 2);
}

#[test]
fn verif_a_stop_of_either_kind_stands_until_it_is_ended_and_answered() {
    let (ship, client, at) = at_anchor();
    let move_to = |seconds_s: f64| ship.ship.clock.play(at.plus_seconds(seconds_s), 0.0);
    ordered(&client, 1, json!({"do": "start", "beat_s": 10.0, "count_in": 0}));
    move_to(34.0);
    keep(&client, &[event(4, at.plus_seconds(34.0), "stop_started", &json!({}))]);
    move_to(95.0);
    let view = client.get("/api/beat").json();
    let stop = event(4, at, "x", &json!({}))["id"].clone();
    assert_eq!((&view["stopped"]["id"], &view["stopped"]["line_running"]), (&stop, &Value::Null));
    assert_eq!(view["stops_unanswered"][0]["id"], stop);
    assert_eq!((&view["due"]["position"], &view["due"]["next_utc"]), (&json!(3), &Value::Null));
    assert_within("next in, s", view["due"]["next_in_s"].as_f64().unwrap(), 6.0, 1e-6);
    let refused = order(&client, 2, json!({"do": "faster"}));
    assert_eq!(refused.problem(), (409, "not_now".to_owned()));
    assert!(refused.json()["text"].as_str().unwrap().contains("go on first"));
    // Answered while it stands, then ended: line ran out.
    let answer = json!({"target": stop, "why": "answer", "data": {"line_running": true}});
    keep(&client, &[event(5, at.plus_seconds(96.0), "amended", &answer)]);
    let view = client.get("/api/beat").json();
    assert_eq!((&view["stopped"]["line_running"], &view["stops_unanswered"]), (&json!(true), &json!([])));
    keep(&client, &[event(6, at.plus_seconds(100.0), "stop_ended", &json!({}))]);
    move_to(107.0);
    let view = client.get("/api/beat").json();
    assert_eq!((&view["stopped"], &view["due"]["position"]), (&Value::Null, &json!(4)));
    // The other kind, ended by counting in what comes next.
    keep(&client, &[event(7, at.plus_seconds(107.0), "stop_started", &json!({"line_running": false}))]);
    move_to(150.0);
    let on = ordered(&client, 3, json!({"do": "count_in"}));
    assert_eq!((&on["anchor"]["position"], &on["anchor"]["at_utc"]), (&json!(5), &json!(at.plus_seconds(153.25))));
    move_to(154.0);
    let view = client.get("/api/beat").json();
    assert_eq!((&view["stopped"], &view["due"]["position"]), (&Value::Null, &json!(5)));
    assert_eq!(view["stops_unanswered"], json!([]));
}

#[test]
fn verif_what_cannot_be_done_is_refused_in_words_and_changes_nothing() {
    let (ship, client, at) = at_anchor();
    let before = client.get("/api/health").json()["ship_seq"].clone();
    let wrong = [
        json!({"do": "start"}),
        json!({"do": "set"}),
        json!({"do": "dance", "beat_s": 7.0}),
        json!({"do": "start", "beat_s": "seven"}),
        json!({"do": "start", "beat_s": 0.01}),
        json!({"do": "start", "beat_s": 1e300}),
        json!({"do": "start", "beat_s": -7.0}),
        json!({"do": "start", "beat_s": 7.0, "count_in": 99}),
        json!({"do": "start", "beat_s": 7.0, "count_in": 1.5}),
        json!({"do": "start", "beat_s": 7.0, "basket": 0}),
        json!({"do": "start", "beat_s": 7.0, "hooks_per_basket": 0}),
        json!({"do": "start", "beat_s": 7.0, "colour": "red"}),
        json!({"do": "faster", "by_s": 0.0}),
        json!({}),
    ];
    for body in wrong {
        let reply = order(&client, 9, body.clone());
        assert_eq!(reply.problem(), (400, "not_understood".to_owned()), "{body}");
        assert!(reply.json()["text"].as_str().unwrap().contains("nothing was changed"), "{}", reply.text());
    }
    for body in ["", "[]", "7", "{\"id\":", r#"{"id":"no uuid","do":"faster"}"#, r#"{"do":"faster"}"#] {
        assert_eq!(client.post("/api/beat", body).status, 400, "{body}");
    }
    for doing in ["faster", "slower", "count_in"] {
        assert_eq!(order(&client, 9, json!({"do": doing})).problem(), (409, "not_now".to_owned()), "no beat yet");
    }
    assert_eq!(client.get("/api/health").json()["ship_seq"], before);
    let look = ship.paired("look-1", "look_only");
    let refused = order(&look, 10, json!({"do": "start", "beat_s": 7.0}));
    assert_eq!(refused.problem(), (403, "not_in_this_role".to_owned()));
    assert_eq!(look.get("/api/beat").status, 200, "it may look");
    assert_eq!(ship.elsewhere().get("/api/beat").status, 401);
    assert_eq!(ship.elsewhere().post("/api/beat", "{}").status, 401);
    let stern = ship.paired("stern-2", "stern");
    assert_eq!(order(&stern, 11, json!({"do": "start", "beat_s": 0.3, "count_in": 0})).status, 200);
    let too_fast = order(&stern, 12, json!({"do": "faster", "by_s": 0.2}));
    assert_eq!(too_fast.problem(), (409, "not_now".to_owned()));
    keep(&client, &[event(4, at.plus_seconds(60.0), "setting_ended", &json!({"last_place": 2, "hooks_after": 0}))]);
    assert_eq!(order(&client, 13, json!({"do": "faster"})).problem(), (409, "not_now".to_owned()), "setting has ended");
    assert!(client.get("/api/beat").json()["set"].is_null());
}

#[test]
fn verif_an_order_and_a_device_without_a_link_do_not_fight() {
    let (ship, client, at) = at_anchor();
    ordered(&client, 1, json!({"do": "start", "beat_s": 10.0, "count_in": 0}));
    ship.ship.clock.play(at.plus_seconds(47.0), 0.0);
    ordered(&client, 2, json!({"do": "set", "beat_s": 8.0}));
    // What a device anchored before that, and could send only now, does not take the order back.
    let anchor = |seconds_s: f64, position: i64, beat_s: f64| {
        json!({"basket": 1, "position": position, "at": at.plus_seconds(seconds_s), "beat_s": beat_s,
            "hooks_per_basket": 9, "float_takes_a_beat": true})
    };
    keep(&client, &[event(4, at.plus_seconds(24.0), "beat", &anchor(20.0, 2, 12.0))]);
    assert_eq!(client.get("/api/beat").json()["anchor"]["beat_s"], 8.0);
    // What it anchored at the same thing, told later, stands.
    keep(&client, &[event(5, at.plus_seconds(47.5), "beat", &anchor(40.0, 4, 9.0))]);
    let view = client.get("/api/beat").json();
    assert_eq!((&view["anchor"]["beat_s"], &view["due"]["position"]), (&json!(9.0), &json!(4)));
}

#[test]
fn verif_the_live_stream_mirrors_the_beat() {
    let ship = TestShip::new();
    let client = ship.here();
    begin(&client, computer());
    let started = ordered(&client, 1, json!({"do": "start", "beat_s": 0.3, "count_in": 0}));
    let mut live = client.live("", None);
    let mut positions = Vec::new();
    while positions.last().is_none_or(|last| *last < 4) {
        let message = live.next_named("beat").unwrap();
        assert!(message.id.is_none(), "only rows of the journal carry an id");
        assert_eq!(message.data["anchor"], started["anchor"]);
        positions.extend(message.data["due"]["position"].as_i64());
        positions.dedup();
    }
    assert!(positions.windows(2).all(|two| two[1] > two[0]), "{positions:?}");
    keep(&client, &[event(4, computer(), "stop_started", &json!({}))]);
    while live.next_named("beat").unwrap().data["stopped"].is_null() {}
    let mut elsewhere = client.live("", None);
    assert!(!elsewhere.next_named("beat").unwrap().data["stopped"].is_null(), "a new screen is told at once");
}

#[test]
fn verif_a_server_killed_in_mid_set_asks_once_about_the_silence() {
    let ship = TestShip::new();
    let client = ship.here();
    begin(&client, computer());
    let started = ordered(&client, 1, json!({"do": "start", "beat_s": 0.4, "count_in": 0}));
    let begun: UtcInstant = started["anchor"]["at_utc"].as_str().unwrap().parse().unwrap();
    wait_for("the beat is kept", || ship.folder.path().join("beat.json").exists());
    std::thread::sleep(Duration::from_millis(1_000));
    let folder = ship.close();
    std::thread::sleep(Duration::from_millis(2_600));
    let again = TestShip::in_folder(folder, Limits::default());
    let client = again.here();
    wait_for("the question", || client.get("/api/beat").json()["silences"][0].is_object());
    let view = client.get("/api/beat").json();
    let asked = &view["silences"][0];
    let silent_s = asked["silent_s"].as_f64().unwrap();
    assert!((2.4..12.0).contains(&silent_s), "{silent_s}");
    let due = asked["hooks_due"].as_f64().unwrap();
    // Nine beats of ten are hooks.
    assert!((silent_s / 0.4 * 0.9 - due).abs() < 3.0, "{due} hooks in {silent_s} s");
    // The beat ran on by the clock.
    let now: UtcInstant = view["now_utc"].as_str().unwrap().parse().unwrap();
    let beats = now.seconds_since(begun) / 0.4;
    let told = &view["due"];
    let clipped = (told["basket"].as_f64().unwrap() - 1.0) * 10.0 + told["position"].as_f64().unwrap();
    assert_within("beats", clipped + 1.0 - told["next_in_s"].as_f64().unwrap() / 0.4, beats, 1e-3);
    let silences = |client: &Client| {
        let events = client.get("/api/events").json();
        let rows = events["events"].as_array().unwrap().clone();
        rows.into_iter().filter(|row| row["event"]["kind"] == "beat_silent").collect::<Vec<_>>()
    };
    let written = silences(&client);
    assert_eq!(written.len(), 1);
    assert_eq!(written[0]["event"]["happened_basis"], "instrument");
    // Started again it does not ask about the same time again.
    let from = written[0]["event"]["data"]["from_at"].clone();
    let third = TestShip::in_folder(again.close(), Limits::default());
    let client = third.here();
    wait_for("the beat", || client.get("/api/beat").json()["due"].is_object());
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(silences(&client).iter().filter(|row| row["event"]["data"]["from_at"] == from).count(), 1);
    // Answered it is settled: the rest of the hooks were missed.
    let mut data = written[0]["event"]["data"].clone();
    data["hooks_clipped"] = json!(2);
    let answer = json!({"target": written[0]["event"]["id"], "why": "answer", "data": data});
    keep(&client, &[event(4, computer(), "amended", &answer)]);
    let open = client.get("/api/beat").json()["silences"].clone();
    assert!(open.as_array().unwrap().iter().all(|silence| silence["from_utc"] != from), "{open}");
    let hooks = client.get("/api/sets/1/hooks").json();
    let missed = hooks.as_array().unwrap().iter().filter(|hook| hook["fate"] == "missed").count();
    assert_within("missed", f64::from(u32::try_from(missed).unwrap()), due - 2.0, 1e-9);
}

/// A voice that counts, and hangs or breaks when told to.
struct Counting {
    tones: Arc<AtomicUsize>,
    hangs: Arc<AtomicBool>,
}

impl Voice for Counting {
    fn sound(&mut self, notes: &[Note]) -> Result<(), VoiceError> {
        assert!(!notes.is_empty());
        self.tones.fetch_add(1, Ordering::Relaxed);
        Ok(())
    }

    fn well(&mut self) -> Result<(), VoiceError> {
        while self.hangs.load(Ordering::Relaxed) {
            std::thread::sleep(Duration::from_millis(10));
        }
        Ok(())
    }
}

#[test]
fn verif_a_horn_that_hangs_is_shown_and_is_a_silence() {
    let (tones, hangs) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
    let (its_tones, its_hangs) = (Arc::clone(&tones), Arc::clone(&hangs));
    let ship = TestShip::with_a_horn(VoiceMaker::new(move || {
        Ok(Box::new(Counting { tones: Arc::clone(&its_tones), hangs: Arc::clone(&its_hangs) }))
    }));
    let client = ship.here();
    begin(&client, computer());
    ordered(&client, 1, json!({"do": "start", "beat_s": 0.3}));
    wait_for("tones", || tones.load(Ordering::Relaxed) >= 6);
    let sounding = client.get("/api/beat").json()["sounding"].clone();
    assert_eq!((&sounding["wanted"], &sounding["stalled"]), (&json!(true), &json!(false)));
    assert!(sounding["since_utc"].is_string() && sounding["last_tone_utc"].is_string());
    hangs.store(true, Ordering::Relaxed);
    wait_for("the stall", || client.get("/api/beat").json()["sounding"]["stalled"] == true);
    let heard = tones.load(Ordering::Relaxed);
    assert_eq!(client.get("/api/beat").json()["silences"], json!([]), "while it lasts it is shown, not asked");
    std::thread::sleep(Duration::from_millis(600));
    hangs.store(false, Ordering::Relaxed);
    wait_for("the question", || client.get("/api/beat").json()["silences"][0].is_object());
    let asked = client.get("/api/beat").json()["silences"][0].clone();
    assert!(asked["silent_s"].as_f64().unwrap() > 1.0 && asked["hooks_due"].as_i64().unwrap() >= 3);
    wait_for("tones again", || tones.load(Ordering::Relaxed) > heard + 2);
    // It did not catch up: what was missed is passed over.
    assert_eq!(client.get("/api/beat").json()["sounding"]["stalled"], false);
}

#[test]
fn verif_a_computer_without_a_sound_device_says_so() {
    let ship = TestShip::with_a_horn(VoiceMaker::new(|| Err(VoiceError::NoDevice)));
    let client = ship.here();
    begin(&client, computer());
    ordered(&client, 1, json!({"do": "start", "beat_s": 0.3, "count_in": 0}));
    wait_for("the word", || client.get("/api/beat").json()["sounding"]["trouble"].is_string());
    let sounding = client.get("/api/beat").json()["sounding"].clone();
    assert_eq!((&sounding["stalled"], &sounding["since_utc"]), (&json!(true), &Value::Null));
}
