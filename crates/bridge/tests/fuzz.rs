//! Nonsense of every sort: no answer is a fault of the server, every problem is worded, and nothing stops the others.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::io::{Read, Write};
use std::path::Path;

use proptest::prelude::{Strategy, any, prop, prop_oneof};
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use support::{TestShip, connect, note};

fn runner(seed: u8) -> TestRunner {
    TestRunner::new_with_rng(Config::default(), TestRng::from_seed(RngAlgorithm::ChaCha, &[seed; 32]))
}

fn golden() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../voyage/tests/data/golden/v1");
    let read = |kind: &voyage::Kind| std::fs::read(folder.join(format!("{}.json", kind.name()))).unwrap();
    voyage::Kind::ALL.iter().map(read).collect()
}

#[test]
fn verif_posts_of_nonsense_never_break_the_server() {
    let ship = TestShip::new();
    let (here, mut runner) = (ship.here(), runner(1));
    let samples = golden();
    let change = (any::<prop::sample::Index>(), any::<u8>(), 0..4_u8);
    let bodies = (any::<prop::sample::Index>(), prop::collection::vec(change, 0..6), any::<bool>());
    for _ in 0..1_500 {
        let (sample, changes, batch) = bodies.new_tree(&mut runner).unwrap().current();
        let mut body = samples[sample.index(samples.len())].clone();
        for (at, byte, what) in changes {
            let at = at.index(body.len());
            match what {
                0 => body[at] = byte,
                1 => drop(body.remove(at)),
                2 => body.insert(at, byte),
                _ => body.truncate(at + 1),
            }
            if body.is_empty() {
                body.push(b' ');
            }
        }
        if batch {
            body = [b"[", body.as_slice(), b",", note("here", 1).as_bytes(), b"]"].concat();
        }
        let origin = format!("http://{}", here.host);
        let reply = here.send("POST", "/api/events", &[("Origin", &origin)], &body);
        let shown = String::from_utf8_lossy(&body);
        assert!(reply.status == 200 || reply.status == 400, "{}: {shown}", reply.status);
        let answer = reply.json();
        if reply.status == 200 {
            for result in answer["results"].as_array().unwrap() {
                let taken = result["result"] == "kept" || result["result"] == "repeat";
                assert!(taken || result["reason"].as_str().is_some_and(|reason| !reason.is_empty()), "{shown}");
            }
        } else {
            assert!(answer["text"].as_str().unwrap().contains("nothing"), "{shown}");
        }
    }
    for path in ["/api/voyage", "/api/events", "/api/health"] {
        assert_eq!(here.get(path).status, 200, "{path} after all that");
    }
    for set in 1..=here.get("/api/voyage").json()["sets"].as_array().unwrap().len() {
        for part in ["", "/hooks", "/baskets", "/places", "/fish", "/map"] {
            assert_eq!(here.get(&format!("/api/sets/{set}{part}")).status, 200);
        }
    }
}

#[test]
fn verif_addresses_of_nonsense_are_answered_with_a_problem() {
    let ship = TestShip::new();
    let (here, mut runner) = (ship.here(), runner(2));
    ship.here().post("/api/events", &note("here", 1));
    let piece = prop_oneof!["[a-z0-9._~%-]{0,12}", "%[0-9a-f]{2}", "-?[0-9]{1,30}"];
    let start = prop::sample::select(vec!["sets/", "sets/1/", "events", "devices/", "voyage", "live/", "../", ""]);
    let query = prop_oneof!["", "\\?(after|limit|voyage|device)=[!-~&&[^ #]]{0,20}", "\\?[a-z=&%]{0,20}"];
    let addresses = (start, piece, query);
    for _ in 0..1_500 {
        let (start, piece, query) = addresses.new_tree(&mut runner).unwrap().current();
        let path = format!("/api/{start}{piece}{query}");
        let reply = here.send("GET", &path, &[], b"");
        assert!(reply.status < 500, "{path}: {}", reply.status);
        if reply.status >= 400 && reply.status != 414 && !reply.body.is_empty() {
            assert!(reply.json()["code"].is_string(), "{path}: {}", reply.text());
        }
    }
}

#[test]
fn verif_bytes_that_are_no_http_harm_nobody() {
    let ship = TestShip::new();
    let mut runner = runner(3);
    let noise = prop::collection::vec(any::<u8>(), 1..400);
    for _ in 0..200 {
        let bytes = noise.new_tree(&mut runner).unwrap().current();
        let mut stream = connect(ship.address);
        let _ = stream.write_all(&bytes);
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        assert!(answer.is_empty() || answer.starts_with(b"HTTP/1.1 4"), "{}", String::from_utf8_lossy(&answer));
    }
    assert_eq!(ship.here().get("/api/voyage").status, 200);
}
