//! `gangion serve` as a user runs it: the demo, a kill in mid-set, instruments over TCP, and a stop on request.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

struct Served {
    child: Child,
    port: u16,
}

impl Served {
    fn start(data: &Path, more: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_gangion"))
            .args(["serve", "--bind", "127.0.0.1:0", "--data"])
            .arg(data)
            .args(more)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let port = line.trim_end().trim_end_matches('/').rsplit(':').next().and_then(|port| port.parse().ok());
        let port = port.unwrap_or_else(|| panic!("no address in {line:?}"));
        Self { child, port }
    }

    fn ask(&self, method: &str, path: &str, body: &str) -> (u16, Value) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let origin = format!("http://localhost:{}", self.port);
        let host = origin.trim_start_matches("http://");
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: {origin}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        )
        .unwrap();
        let mut text = String::new();
        stream.read_to_string(&mut text).unwrap();
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, serde_json::from_str(body).unwrap_or(Value::Null))
    }

    fn get(&self, path: &str) -> Value {
        let (status, value) = self.ask("GET", path, "");
        assert_eq!(status, 200, "{path}: {value}");
        value
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn wait_for(what: &str, mut done: impl FnMut() -> bool) {
    let begin = Instant::now();
    while !done() {
        assert!(begin.elapsed() < Duration::from_secs(60), "{what} did not come");
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn tap(seq: u64) -> String {
    json!({
        "id": format!("0195f2c0-0000-7000-8000-{seq:012x}"), "device": "stern-test", "device_seq": seq, "kind": "note",
        "version": 1, "happened_at": "2026-03-11T07:00:00Z", "happened_basis": "typed", "boot": null,
        "monotonic_ms": null, "person": null, "set": null, "haul": null, "data": {"text": "tapped"},
    })
    .to_string()
}

#[test]
fn verif_the_demo_is_served_and_a_kill_in_mid_set_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut served = Served::start(folder.path(), &["--demo", "--speed", "100"]);
    let voyage = served.get("/api/voyage");
    assert_eq!(voyage["voyage"]["vessel"]["name"], "Example Petrel");
    assert_eq!((&voyage["sets"][0]["stage"], &voyage["sets"][0]["hooks_set"]), (&json!("closed"), &json!(2491)));
    wait_for("the second set", || served.get("/api/voyage")["sets"][1]["stage"] == "setting");
    let hooks = served.get("/api/sets/1/hooks");
    assert!(hooks.as_array().unwrap().iter().filter(|hook| hook["depth_m"].as_f64().is_some()).count() > 2_400);
    assert_eq!(served.get("/api/sets/1/baskets").as_array().unwrap().len(), 100);
    assert_eq!(served.get("/api/clock")["basis"], "played");
    let mut kept = 0;
    for seq in 1..=20 {
        let (status, answer) = served.ask("POST", "/api/events", &tap(seq));
        assert_eq!((status, &answer["results"][0]["result"]), (200, &json!("kept")));
        kept = answer["results"][0]["ship_seq"].as_i64().unwrap();
    }
    served.child.kill().unwrap();
    served.child.wait().unwrap();
    // Started again it goes on where it was.
    let again = Served::start(folder.path(), &["--demo", "--speed", "100"]);
    assert!(again.get("/api/health")["ship_seq"].as_i64().unwrap() >= kept);
    assert_eq!(again.get("/api/devices/me?device=stern-test")["last_seq"], 20);
    let (_, answer) = again.ask("POST", "/api/events", &tap(20));
    assert_eq!(answer["results"][0]["result"], "repeat");
    let sets = again.get("/api/voyage")["sets"].clone();
    assert_eq!((sets.as_array().unwrap().len(), &sets[0]["hooks_hauled"]), (2, &voyage["sets"][0]["hooks_hauled"]));
    assert_eq!(again.get("/api/health")["set_aside"], 0);
}

#[test]
fn verif_the_demo_does_not_mix_with_a_real_voyage() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::start(folder.path(), &[]);
    assert_eq!(served.get("/api/voyage")["voyage"], Value::Null);
    served.ask("POST", "/api/events", &tap(1));
    drop(served);
    let output = Command::new(env!("CARGO_BIN_EXE_gangion"))
        .args(["serve", "--demo", "--bind", "127.0.0.1:0", "--data"])
        .arg(folder.path())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("voyage of its own"));
}

#[test]
fn verif_instruments_over_tcp_become_events_and_set_the_ships_clock() {
    let folder = tempfile::tempdir().unwrap();
    let plotter = TcpListener::bind("127.0.0.1:0").unwrap();
    let source = format!("tcp:{}", plotter.local_addr().unwrap());
    let served = Served::start(folder.path(), &["--nmea", &source]);
    let (mut cable, _) = plotter.accept().unwrap();
    let send = |cable: &mut TcpStream, body: &str| {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        write!(cable, "${body}*{sum:02X}\r\n").unwrap();
    };
    send(&mut cable, "GPRMC,050607.00,A,1512.0000,S,17954.0000,E,7.5,074.0,020331,,,A");
    send(&mut cable, "INMTW,27.9,C");
    cable.write_all(b"noise \xff\xfe $GPXXX,garbled\r\n").unwrap();
    send(&mut cable, "HEHDT,075.2,T");
    wait_for("the ship's state", || !served.get("/api/events")["events"].as_array().unwrap().is_empty());
    wait_for("the temperature", || {
        let rows = served.get("/api/events");
        let last = rows["events"].as_array().unwrap().last().unwrap()["event"].clone();
        last["data"]["water_temperature_c"] == 27.9
    });
    let row = served.get("/api/events")["events"][0].clone();
    let event = &row["event"];
    assert_eq!((&event["kind"], &event["happened_basis"]), (&json!("ship_state"), &json!("instrument")));
    assert!((event["data"]["latitude_deg"].as_f64().unwrap() + 15.2).abs() < 1e-9);
    assert!((event["data"]["longitude_deg"].as_f64().unwrap() - 179.9).abs() < 1e-9);
    assert!(row["received_at"].as_str().unwrap().starts_with("2031-03-02T05:0"), "received by the satellites' clock");
    let clock = served.get("/api/clock");
    assert_eq!(clock["basis"], "satellite");
    assert!(clock["utc"].as_str().unwrap().starts_with("2031-03-02T05:0"), "{clock}");
    assert!(folder.path().join("instruments").read_dir().unwrap().next().is_some(), "raw bytes are kept");
    // The cable is pulled and put in again.
    drop(cable);
    let (mut cable, _) = plotter.accept().unwrap();
    send(&mut cable, "GPRMC,051607.00,A,1512.1000,S,17954.1000,E,7.5,074.0,020331,,,A");
    wait_for("the next state", || {
        let rows = served.get("/api/events");
        let last = rows["events"].as_array().unwrap().last().unwrap()["event"].clone();
        last["happened_at"].as_str().unwrap() >= "2031-03-02T05:16:07"
    });
}

#[cfg(unix)]
#[test]
fn verif_a_terminate_ends_it_cleanly() {
    let folder = tempfile::tempdir().unwrap();
    let mut served = Served::start(folder.path(), &[]);
    served.ask("POST", "/api/events", &tap(1));
    let asked = Command::new("kill").args(["-TERM", &served.child.id().to_string()]).status().unwrap();
    assert!(asked.success());
    assert_eq!(served.child.wait().unwrap().code(), Some(0));
    let journal = folder.path().join("voyage.journal");
    let verified = Command::new(env!("CARGO_BIN_EXE_gangion"))
        .args(["journal", "verify", "--journal"])
        .arg(&journal)
        .output()
        .unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
}

#[test]
fn verif_a_command_line_that_cannot_be_served_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().to_str().unwrap();
    for more in [
        ["--nmea", "carrier pigeon"],
        ["--host", "no host"],
        ["--screens", "/no/such/folder"],
        ["--bind", "nowhere"],
        ["--speed", "0"],
    ] {
        let output =
            Command::new(env!("CARGO_BIN_EXE_gangion")).args(["serve", "--data", data]).args(more).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{more:?}");
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(told.starts_with("gangion: ") && told.trim().lines().count() == 1, "{told}");
    }
}
