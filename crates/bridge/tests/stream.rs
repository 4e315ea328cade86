//! Posting and the live stream: nothing twice, nothing lost, nothing skipped.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use bridge::Limits;
use serde_json::{Value, json};
use support::{TestShip, event, note};

fn results(reply: &Value) -> Vec<String> {
    let results = reply["results"].as_array().unwrap().iter();
    results.map(|one| one["result"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn verif_posting_again_changes_nothing_and_contradictions_are_told() {
    let ship = TestShip::new();
    let here = ship.here();
    let batch = format!("[{},\n {}]", note("rail", 1), note("rail", 2));
    let first = here.post("/api/events", &batch).json();
    assert_eq!(results(&first), ["kept", "kept"]);
    let second = here.post("/api/events", &batch).json();
    assert_eq!(results(&second), ["repeat", "repeat"]);
    assert_eq!(first["results"][1]["ship_seq"], second["results"][1]["ship_seq"], "the same row answers");
    let single = here.post("/api/events", &note("rail", 1)).json();
    assert_eq!(results(&single), ["repeat"], "alone or in a batch the bytes are the same");
    // The same id with other bytes; a number that is used with another id; what is no event.
    let other_bytes = note("rail", 1).replace("note 1", "note one");
    let other_id = note("rail", 2).replace("0195f2c0", "0195f2c1");
    let unknown = event("rail", 3, "sung", &json!({}));
    let wrong_type = event("rail", 4, "landed", &json!({"species": 7}));
    let reply = here.post("/api/events", &format!("[{other_bytes},{other_id},{unknown},{wrong_type},7]")).json();
    assert_eq!(results(&reply), ["conflict", "conflict", "refused", "refused", "refused"]);
    for one in reply["results"].as_array().unwrap() {
        assert!(one["reason"].as_str().unwrap().len() > 20, "{one}");
    }
    assert!(reply["results"][3]["id"].is_string() && reply["results"][4]["id"].is_null());
    // Unknown codes, the future and the past are kept.
    let future = note("rail", 5).replace("2031-03-02", "2199-01-01");
    let strange = event("rail", 6, "landed", &json!({"species": "no such fish", "count_since_float": 1e300, "new": 1}));
    assert_eq!(results(&here.post("/api/events", &format!("[{future},{strange}]")).json()), ["kept", "kept"]);
    let stored = here.get("/api/events").json();
    assert_eq!(stored["events"].as_array().unwrap().len(), 4);
    assert_eq!(here.get("/api/health").json()["set_aside"], 2);
}

#[test]
fn verif_the_bytes_that_came_are_the_bytes_that_are_kept() {
    let ship = TestShip::new();
    let odd = note("rail", 1).replace(":", " :  ").replace("2031-03-02T05 :  06 :  07Z", "2031-03-02T05:06:07.000Z");
    let odd = odd.replace("note 1", "\\u0041 \\\"é\\\" ]}, [{");
    ship.here().post("/api/events", &format!("[ {odd}\n,{}]", note("rail", 2)));
    let lines = ship.here().get("/api/export").text();
    let first: Value = serde_json::from_str(lines.lines().next().unwrap()).unwrap();
    assert_eq!(first["body"].as_str().unwrap(), odd);
    assert_eq!(lines.lines().count(), 2);
}

#[test]
fn verif_rows_are_read_by_cursor_until_there_are_no_more() {
    let ship = TestShip::new();
    let here = ship.here();
    let batch: Vec<String> = (1..=25).map(|seq| note("rail", seq)).collect();
    here.post("/api/events", &format!("[{}]", batch.join(",")));
    let (mut after, mut seen) = (String::new(), Vec::new());
    loop {
        let rows = here.get(&format!("/api/events?limit=10{after}")).json();
        seen.extend(rows["events"].as_array().unwrap().iter().map(|row| row["event"]["device_seq"].as_u64().unwrap()));
        after = format!("&after={}", rows["next"].as_str().unwrap());
        assert_eq!(rows["afresh"], false);
        if rows["more"] == false {
            break;
        }
    }
    assert_eq!(seen, (1..=25).collect::<Vec<u64>>());
    let none = here.get(&format!("/api/events?limit=10{after}")).json();
    assert_eq!(none["events"], json!([]));
    let strange = here.get("/api/events?after=0000.7").json();
    assert_eq!((&strange["afresh"], strange["events"].as_array().unwrap().len()), (&json!(true), 25));
}

#[test]
fn verif_a_cut_stream_resumes_with_every_event_once() {
    let ship = TestShip::new();
    let here = ship.here();
    here.post("/api/events", &note("rail", 1));
    let cursor = here.get("/api/voyage").json()["cursor"].as_str().unwrap().to_owned();
    let poster = {
        let here = here.clone();
        std::thread::spawn(move || {
            for seq in 2..=400 {
                assert_eq!(here.post("/api/events", &note("rail", seq)).status, 200);
            }
        })
    };
    // The reader is cut again and again, in the middle of the catch-up and in the middle of what comes live.
    let mut seen = Vec::new();
    let mut last_id: Option<String> = None;
    let mut cuts = 0;
    while seen.len() < 399 {
        // The first visit names the view's cursor; each return names the last id, which goes before it.
        let mut live = here.live(&format!("?after={cursor}"), last_id.as_deref());
        for _ in 0..37 {
            if seen.len() == 399 {
                break;
            }
            let message = live.next_named("kept").unwrap();
            assert_eq!(message.id.as_deref(), message.data["cursor"].as_str());
            seen.push(message.data["event"]["device_seq"].as_u64().unwrap());
        }
        last_id.clone_from(&live.last_id);
        cuts += 1;
    }
    poster.join().unwrap();
    assert_eq!(seen, (2..=400).collect::<Vec<u64>>(), "every event once and in order");
    assert!(cuts >= 10);
}

#[test]
fn verif_only_rows_carry_an_id_and_a_new_reader_starts_from_now() {
    let ship = TestShip::with(Limits { heartbeat: Duration::from_millis(100), ..Limits::default() });
    let here = ship.here();
    here.post("/api/events", &note("rail", 1));
    let mut live = here.live("", None);
    let hello = live.next().unwrap();
    assert_eq!((hello.name.as_str(), &hello.id), ("hello", &None));
    assert_eq!(hello.data["cursor"], hello.data["from"]);
    assert_eq!(hello.data["afresh"], false);
    live.wait_for_heartbeat(Duration::from_secs(5));
    ship.ship.instruments_say(json!({"utc": "2031-03-02T05:06:07Z", "speed_over_ground_kn": 7.5}));
    let now = live.next().unwrap();
    assert_eq!((now.name.as_str(), &now.id), ("ship", &None));
    assert_eq!(now.data["state"]["speed_over_ground_kn"], 7.5);
    here.post("/api/pairing", r#"{"role":"rail"}"#);
    let devices = live.next().unwrap();
    assert_eq!((devices.name.as_str(), &devices.id), ("devices", &None));
    here.post("/api/events", &note("rail", 2));
    let kept = live.next().unwrap();
    assert_eq!(kept.name, "kept");
    assert_eq!(kept.id.unwrap(), format!("{}.2", ship.ship.epoch()));
    assert!(live.heartbeats > 0);
}

#[test]
fn verif_an_unknown_epoch_means_afresh() {
    let ship = TestShip::new();
    ship.here().post("/api/events", &format!("[{},{}]", note("rail", 1), note("rail", 2)));
    let old = ship.here().get("/api/voyage").json()["cursor"].as_str().unwrap().to_owned();
    let ship = TestShip::in_folder(ship.close(), Limits::default());
    for last_id in [old.as_str(), "nonsense", "x.99999"] {
        let mut live = ship.here().live("", Some(last_id));
        let hello = live.next().unwrap();
        assert_eq!(hello.data["afresh"], true, "{last_id}");
        let seqs: Vec<_> =
            (0..2).map(|_| live.next_named("kept").unwrap().data["ship_seq"].as_i64().unwrap()).collect();
        assert_eq!(seqs, [1, 2]);
    }
    // A sequence that this opening has not reached yet is not believed either.
    let ahead = format!("{}.77", ship.ship.epoch());
    assert_eq!(ship.here().live("", Some(&ahead)).next().unwrap().data["afresh"], true);
}

#[test]
fn verif_a_reader_that_falls_behind_is_closed_and_resumes_without_a_gap() {
    let ship = TestShip::with(Limits { live_behind: 32, ..Limits::default() });
    let here = ship.here();
    let start = here.get("/api/voyage").json()["cursor"].as_str().unwrap().to_owned();
    let mut live = here.live(&format!("?after={start}"), None);
    live.next_named("hello").unwrap();
    // More than all the buffers between us hold, while nothing is read.
    let text = "x".repeat(60_000);
    let total = 480;
    for batch in 0..8 {
        let events: Vec<String> =
            (1..=60).map(|n| event("rail", batch * 60 + n, "note", &json!({"text": text}))).collect();
        let reply = here.post("/api/events", &format!("[{}]", events.join(","))).json();
        assert!(results(&reply).iter().all(|result| result == "kept"));
    }
    let mut seen = Vec::new();
    let mut goodbye = None;
    while let Some(message) = live.next() {
        match message.name.as_str() {
            "kept" => seen.push(message.data["ship_seq"].as_i64().unwrap()),
            "goodbye" => goodbye = message.data["reason"].as_str().map(ToOwned::to_owned),
            _ => {}
        }
    }
    assert!(seen.len() < total, "the stream was closed before its end ({} rows)", seen.len());
    assert_eq!(goodbye.as_deref(), Some("behind"));
    // A batch larger than what a reader may be behind can close it before its first row: then it asks as before.
    let mut again = match &live.last_id {
        Some(last) => here.live("", Some(last)),
        None => here.live(&format!("?after={start}"), None),
    };
    while seen.len() < total {
        seen.push(again.next_named("kept").unwrap().data["ship_seq"].as_i64().unwrap());
    }
    assert_eq!(seen, (1..=480).collect::<Vec<i64>>(), "no row twice, none skipped");
}

#[test]
fn verif_a_reader_that_never_reads_is_cut() {
    let limits = Limits { stall_time: Duration::from_millis(300), live_behind: 1_000, ..Limits::default() };
    let ship = TestShip::with(limits);
    let rail = ship.paired("rail-1", "rail");
    let live = rail.live("", None);
    let text = "x".repeat(60_000);
    for batch in 0..8 {
        let events: Vec<String> =
            (1..=60).map(|n| event("here", batch * 60 + n, "note", &json!({"text": text}))).collect();
        ship.here().post("/api/events", &format!("[{}]", events.join(",")));
    }
    let begin = Instant::now();
    loop {
        let devices = ship.here().get("/api/devices").json();
        if devices["devices"][0]["live_streams"] == 0 {
            break;
        }
        assert!(begin.elapsed() < Duration::from_secs(10), "the stream still holds its place");
        std::thread::sleep(Duration::from_millis(50));
    }
    drop(live);
}

#[test]
fn verif_a_stop_says_goodbye_and_loses_nothing() {
    let ship = TestShip::new();
    let mut live = ship.here().live("", None);
    live.next_named("hello").unwrap();
    let threads: Vec<_> = (0..4_u64)
        .map(|part| {
            let here = ship.here();
            std::thread::spawn(move || {
                let mut kept = BTreeSet::new();
                for n in 1..=500 {
                    let seq = part * 1_000 + n;
                    let outcome = std::panic::catch_unwind(|| here.post("/api/events", &note("rail", seq)));
                    match outcome {
                        Ok(reply) if reply.status == 200 => kept.insert(seq),
                        _ => break,
                    };
                }
                kept
            })
        })
        .collect();
    std::thread::sleep(Duration::from_millis(300));
    let begin = Instant::now();
    let folder = ship.close();
    assert!(begin.elapsed() < Duration::from_secs(5), "stopping took {:?}", begin.elapsed());
    assert_eq!(live.next_named("goodbye").unwrap().data["reason"], "stopping");
    let acknowledged: BTreeSet<u64> = threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect();
    let ship = TestShip::in_folder(folder, Limits { events_an_answer: 10_000, ..Limits::default() });
    let rows = ship.here().get("/api/events?limit=10000").json();
    let stored: BTreeSet<u64> =
        rows["events"].as_array().unwrap().iter().map(|row| row["event"]["device_seq"].as_u64().unwrap()).collect();
    assert!(!acknowledged.is_empty() && acknowledged.is_subset(&stored), "an acknowledged event is gone");
}

#[test]
fn verif_a_device_learns_what_the_ship_holds_and_what_it_may_forget() {
    let ship = TestShip::new();
    let rail = ship.paired("rail-1", "rail");
    let me = rail.get("/api/devices/me").json();
    assert_eq!((&me["last_seq"], &me["may_forget_through_seq"]), (&Value::Null, &Value::Null));
    rail.post("/api/events", &format!("[{},{}]", note("rail-1", 1), note("rail-1", 2)));
    let me = rail.get("/api/devices/me").json();
    assert_eq!((&me["last_seq"], &me["may_forget_after_days"]), (&json!(2), &json!(30)));
    assert_eq!(me["hash"].as_str().unwrap().len(), 64);
    assert!(me["may_forget_through_seq"].is_null(), "no backup, nothing to forget");
    assert_eq!(rail.post("/api/backups", "").status, 403);
    let made = ship.here().post("/api/backups", "");
    assert_eq!(made.status, 200, "{}", made.text());
    assert_eq!(made.json()["rows"], 3);
    rail.post("/api/events", &note("rail-1", 3));
    let me = rail.get("/api/devices/me").json();
    assert_eq!((&me["last_seq"], &me["may_forget_through_seq"]), (&json!(3), &json!(2)));
    assert_eq!(rail.get("/api/devices/me?device=rail-1").json()["last_seq"], 3);
    let another = rail.get("/api/devices/me?device=another").problem();
    assert_eq!(another, (401, "not_paired".to_owned()), "nobody asks for another");
    let wiped = rail.post("/api/events", &note("rail-9", 1)).problem();
    assert_eq!(wiped, (401, "not_paired".to_owned()), "a wiped device pairs anew and keeps its queue");
    assert_eq!(ship.here().get("/api/devices/me?device=rail-9").json()["last_seq"], Value::Null);
    assert_eq!(ship.here().get("/api/devices/me?device=rail-1").json()["last_seq"], 3);
    let file = ship.folder.path().join("backups").join(made.json()["file"].as_str().unwrap());
    assert!(file.is_file());
}

#[test]
fn verif_a_full_disk_is_told_loudly_and_keeps_what_is_there() {
    let ship = TestShip::on_a_small_disk(60);
    let here = ship.here();
    let mut live = here.live("", None);
    live.next_named("hello").unwrap();
    let text = "x".repeat(10_000);
    let mut kept = 0;
    let problem = loop {
        assert!(kept < 1_000, "the disk never fills");
        let reply = here.post("/api/events", &event("rail", kept + 1, "note", &json!({"text": text})));
        if reply.status != 200 {
            break reply;
        }
        kept += 1;
    };
    assert_eq!(problem.problem(), (503, "journal_stopped".to_owned()));
    assert!(problem.text().contains("disk is full"), "{}", problem.text());
    let health = live.next_named("health").unwrap();
    assert_eq!(health.data["ok"], false);
    let health = here.get("/api/health");
    assert_eq!(health.status, 503);
    assert!(health.json()["stopped"].as_str().unwrap().contains("disk is full"));
    assert!(kept > 0);
    assert_eq!(here.get("/api/voyage").status, 200, "what is kept can be read");
    assert_eq!(here.get("/api/events?limit=1000").json()["events"].as_array().unwrap().len() as u64, kept);
    // A screen that comes later learns it too.
    assert_eq!(here.live("", None).next_named("health").unwrap().data["ok"], false);
}
