//! An attacker's tests: a name made to point here, pages of other sites, another's token, guessed codes, bodies that
//! are too large or too slow, and paths that lead out of the pages.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::io::{Read, Write};
use std::time::{Duration, Instant};

use bridge::Limits;
use serde_json::json;
use support::{Client, TestShip, connect, note, read_reply};

fn known(client: &Client) -> usize {
    client.get("/api/events").json()["events"].as_array().unwrap().len()
}

#[test]
fn verif_a_name_made_to_point_here_is_refused_everywhere() {
    let ship = TestShip::new();
    let port = ship.address.port();
    let here = ship.here();
    for host in [
        format!("evil.test:{port}"),
        "localhost".to_owned(),
        format!("localhost.evil.test:{port}"),
        format!("127.0.0.2:{port}"),
        String::new(),
    ] {
        for path in ["/", "/api/voyage", "/api/live", "/api/events", "/api/openapi.json", "/nothing"] {
            let reply = here.send("GET", path, &[("Host", &host)], b"");
            assert_eq!(reply.problem(), (403, "host_not_known".to_owned()), "{host} {path}");
            assert!(reply.header("access-control-allow-origin").is_none());
        }
        let origin = format!("http://{host}");
        let headers = [("Host", host.as_str()), ("Origin", origin.as_str())];
        let reply = here.send("POST", "/api/events", &headers, note("rail", 1).as_bytes());
        assert_eq!(reply.problem(), (403, "host_not_known".to_owned()), "{host}");
    }
    // Two Hosts, and a target that names another host than the header.
    let twice = [("Host", here.host.as_str()), ("Host", "evil.test")];
    assert_eq!(here.send("GET", "/api/voyage", &twice, b"").status, 403);
    let absolute = format!("http://evil.test:{port}/api/voyage");
    assert_eq!(here.send("GET", &absolute, &[], b"").status, 403);
    assert_eq!(known(&here), 0);
    assert_eq!(here.get("/api/voyage").status, 200);
    assert_eq!(ship.elsewhere().get("/").status, 200, "an allowed name gets the pages");
}

#[test]
fn verif_a_post_needs_one_of_our_own_pages() {
    let ship = TestShip::new();
    let (here, port) = (ship.here(), ship.address.port());
    let body = note("rail", 1);
    let post = |headers: &[(&str, &str)]| here.send("POST", "/api/events", headers, body.as_bytes());
    let refused = (403, "origin_not_known".to_owned());
    assert_eq!(post(&[]).problem(), refused, "none at all");
    let elsewhere = format!("http://deck.test:{port}");
    let other_port = format!("http://localhost:{}", port.wrapping_add(1));
    let secure = format!("https://localhost:{port}");
    for origin in ["null", "http://evil.test", "http://localhost", &elsewhere, &other_port, &secure, ""] {
        assert_eq!(post(&[("Origin", origin)]).problem(), refused, "{origin}");
    }
    let own = format!("http://localhost:{port}");
    assert_eq!(post(&[("Origin", &own), ("Origin", "http://evil.test")]).problem(), refused);
    for site in ["cross-site", "same-site"] {
        let reply = post(&[("Origin", &own), ("Sec-Fetch-Site", site)]);
        assert_eq!(reply.problem(), (403, "cross_site".to_owned()), "{site}");
        let read = here.send("GET", "/api/voyage", &[("Sec-Fetch-Site", site)], b"");
        assert_eq!(read.problem(), (403, "cross_site".to_owned()), "{site}");
    }
    let link = [("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "navigate")];
    assert_eq!(here.send("GET", "/", &link, b"").status, 200, "a link may open the page");
    assert_eq!(here.send("GET", "/api/voyage", &link, b"").status, 403);
    for method in ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"] {
        let reply = here.send(method, "/api/events", &[], b"");
        assert!((400..500).contains(&reply.status), "{method}");
        assert!(reply.header("access-control-allow-origin").is_none());
    }
    let form = [("Origin", own.as_str()), ("Content-Type", "text/plain")];
    assert_eq!(post(&form).problem(), (415, "not_json".to_owned()));
    assert_eq!(known(&here), 0, "nothing of all that was kept");
    assert_eq!(post(&[("Origin", &own), ("Sec-Fetch-Site", "same-origin")]).status, 200);
    let numeric = format!("http://127.0.0.1:{port}");
    assert_eq!(post(&[("Origin", &numeric)]).status, 200, "both names of this computer are its own");
    assert_eq!(known(&here), 1);
}

#[test]
fn verif_every_answer_is_hardened_and_tells_nothing_of_the_inside() {
    let ship = TestShip::new();
    let here = ship.here();
    let folder = ship.folder.path().display().to_string();
    let odd = [
        "/../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/..%2fdevices.json",
        "/devices.json",
        "/voyage.journal",
        "/.git/config",
        "/api/",
        "/api/nothing",
        "/api/sets/1",
        "/api/sets/-1",
        "/api/sets/999999999999999999999",
        "/api/sets/1/hooks?voyage=x",
        "/api/sets/%ff",
        "/api/events?after=nonsense",
        "/api/events?after=a.1&after=b.2",
        "/api/events?limit=0",
        "/api/live?after=nonsense",
    ];
    for path in odd {
        let reply = here.get(path);
        assert!((400..500).contains(&reply.status), "{path}: {}", reply.status);
        let text = reply.text();
        assert!(!text.contains("panicked") && !text.contains(".rs:") && !text.contains(&folder), "{path}: {text}");
    }
    for path in ["/", "/api/health", "/nothing", "/api/nothing"] {
        let reply = here.get(path);
        let policy = reply.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"));
        assert!(!policy.contains("unsafe"), "{policy}");
        assert_eq!(reply.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(reply.header("x-frame-options"), Some("DENY"));
        assert_eq!(reply.header("referrer-policy"), Some("no-referrer"));
        assert!(reply.header("strict-transport-security").is_none(), "never: http must stay usable");
        assert!(reply.header("server").is_none());
        assert_eq!(reply.header("cross-origin-opener-policy"), Some("same-origin"));
        assert_eq!(ship.elsewhere().get(path).header("cross-origin-opener-policy"), None);
    }
    assert_eq!(here.get("/api/health").header("cache-control"), Some("no-store"));
    let page = here.get("/");
    let tag = page.header("etag").unwrap().to_owned();
    assert_eq!(here.send("GET", "/", &[("If-None-Match", &tag)], b"").status, 304);
}

#[test]
fn verif_a_stranger_sees_nothing_but_the_page_and_the_door() {
    let ship = TestShip::new();
    let stranger = ship.elsewhere();
    assert_eq!(stranger.get("/").status, 200);
    assert_eq!(stranger.get("/api/openapi.json").status, 200);
    for path in
        ["/api/health", "/api/clock", "/api/voyage", "/api/sets/1", "/api/events", "/api/live", "/api/devices/me"]
    {
        assert_eq!(stranger.get(path).problem(), (401, "not_paired".to_owned()), "{path}");
    }
    for path in ["/api/devices", "/api/export"] {
        assert_eq!(stranger.get(path).problem(), (403, "only_at_the_ships_computer".to_owned()), "{path}");
    }
    assert_eq!(stranger.post("/api/events", &note("rail", 1)).problem(), (401, "not_paired".to_owned()));
    for path in
        ["/api/pairing", "/api/pin", "/api/pin/unlock", "/api/pin/lock", "/api/backups", "/api/devices/a/revoke"]
    {
        let reply = stranger.post(path, "{}");
        assert_eq!(reply.problem(), (403, "only_at_the_ships_computer".to_owned()), "{path}");
    }
    // A proxy on the ship's computer does not make its clients this computer.
    for name in ["Forwarded", "X-Forwarded-For", "Via"] {
        let reply = ship.here().send("GET", "/api/devices", &[(name, "10.66.0.7")], b"");
        assert_eq!(reply.status, 403, "{name}");
    }
    let mut thief = ship.elsewhere();
    thief.cookies.push(format!("gangion_device={}", "a".repeat(64)));
    thief.cookies.push(format!("gangion_wheelhouse={}", "a".repeat(64)));
    assert_eq!(thief.get("/api/voyage").status, 401);
}

#[test]
fn verif_bodies_that_are_too_large_are_refused_and_change_nothing() {
    let limits = Limits { body_bytes: 100_000, events_a_post: 50, ..Limits::default() };
    let ship = TestShip::with(limits);
    let here = ship.here();
    let large = here.post("/api/events", &" ".repeat(150_000));
    assert_eq!(large.problem(), (413, "too_large".to_owned()));
    let endless = here.post("/api/events", &" ".repeat(3_000_000));
    assert_eq!(endless.status, 413);
    let many: Vec<String> = (1..=51).map(|seq| note("rail", seq)).collect();
    assert_eq!(here.post("/api/events", &format!("[{}]", many.join(","))).problem(), (413, "too_large".to_owned()));
    for nonsense in ["", "   ", "hello", "[", "[{]", "7"] {
        assert_eq!(here.post("/api/events", nonsense).status, 400, "{nonsense}");
    }
    assert_eq!(known(&here), 0);
    // One event that is too large is refused by itself and does not keep its neighbour out.
    let fat = support::event("rail", 1, "note", &json!({"text": "x".repeat(70_000)}));
    let reply = here.post("/api/events", &format!("[{fat},{}]", note("rail", 2))).json();
    assert_eq!(reply["results"][0]["result"], "refused");
    assert!(fat.contains(reply["results"][0]["id"].as_str().unwrap()), "the answer names its id");
    assert_eq!(reply["results"][1]["result"], "kept");
}

#[test]
fn verif_slow_clients_are_cut() {
    let limits =
        Limits { head_time: Duration::from_millis(400), body_time: Duration::from_millis(400), ..Limits::default() };
    let ship = TestShip::with(limits);
    let here = ship.here();
    let begin = Instant::now();
    // Says nothing; dribbles its head.
    let mut silent = connect(ship.address);
    let mut dribbling = connect(ship.address);
    dribbling.write_all(b"GET /api/voyage HTTP/1.1\r\nHos").unwrap();
    for stream in [&mut silent, &mut dribbling] {
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        assert!(answer.is_empty() || answer.starts_with(b"HTTP/1.1 408"), "{}", String::from_utf8_lossy(&answer));
    }
    // Promises a body that does not come.
    let origin = format!("http://{}", here.host);
    let mut slow = connect(ship.address);
    slow.write_all(&here.head("POST", "/api/events", &[("Origin", &origin)], Some(5_000))).unwrap();
    slow.write_all(b"{\"id\":").unwrap();
    assert_eq!(read_reply(slow).problem(), (408, "too_slow".to_owned()));
    assert!(begin.elapsed() < Duration::from_secs(5), "{:?}", begin.elapsed());
    assert_eq!(here.get("/api/voyage").status, 200, "the others are served");
}

#[test]
fn verif_too_many_live_streams_are_refused_and_freed_again() {
    let ship = TestShip::with(Limits { live_streams: 4, live_streams_each: 2, ..Limits::default() });
    let rail = ship.paired("rail-1", "rail");
    let open: Vec<_> = (0..2).map(|_| rail.live("", None)).collect();
    assert!(open.iter().all(|live| live.status == 200));
    assert_eq!(rail.get("/api/live").problem(), (429, "too_many".to_owned()));
    let rest: Vec<_> = (0..2).map(|_| ship.here().live("", None)).collect();
    assert!(rest.iter().all(|live| live.status == 200));
    assert_eq!(ship.here().get("/api/live").status, 429);
    drop((open, rest));
    let begin = Instant::now();
    while rail.live("", None).status != 200 {
        assert!(begin.elapsed() < Duration::from_secs(5), "streams that were closed still count");
        std::thread::sleep(Duration::from_millis(20));
    }
}
