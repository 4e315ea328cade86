//! The API document is committed as it is made; every address in it answers, and it shows each kind of event.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;
use support::TestShip;

/// One sample of each kind, as the voyage's own tests keep them.
fn examples() -> BTreeMap<String, Value> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../voyage/tests/data/golden/v1");
    let read = |kind: &voyage::Kind| {
        let path = folder.join(format!("{}.json", kind.name()));
        let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        (kind.name().to_owned(), serde_json::from_slice(&bytes).unwrap())
    };
    voyage::Kind::ALL.iter().map(read).collect()
}

#[test]
fn regress_the_document_is_the_committed_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("openapi.json");
    let made = format!("{}\n", serde_json::to_string_pretty(&bridge::document::document(&examples())).unwrap());
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(&path, &made).unwrap();
        return;
    }
    let committed = std::fs::read_to_string(&path).unwrap();
    let line = committed.lines().zip(made.lines()).position(|(old, new)| old != new);
    assert!(
        committed == made,
        "openapi.json is out of date (first difference: line {:?}); run cargo xtask bless and look at what changed",
        line.map(|line| line + 1)
    );
}

#[test]
fn verif_the_document_says_what_it_should() {
    let document = bridge::document::document(&examples());
    assert!(document["openapi"].as_str().unwrap().starts_with("3.1"));
    assert_eq!(document["info"]["title"], "Gangion");
    assert!(document["info"]["contact"].is_null(), "no library's author stands for ours");
    let shown = &document["paths"]["/api/events"]["post"]["requestBody"]["content"]["application/json"]["examples"];
    for kind in voyage::Kind::ALL {
        let example = &shown[kind.name()]["value"];
        assert_eq!(example["kind"], kind.name());
        assert!(voyage::read_event(example.to_string().as_bytes()).is_ok(), "{}", kind.name());
    }
    let schemas = document["components"]["schemas"].as_object().unwrap();
    let live = ["Hello", "KeptRow", "ShipNow", "Health", "DevicesChanged", "Goodbye", "LiveMessage", "Envelope"];
    for name in live.into_iter().chain(["Problem", "PostResults", "HookRow", "Report", "Doubt"]) {
        assert!(schemas.contains_key(name), "{name}");
    }
    let text = document.to_string();
    for reference in text.split("\"$ref\":\"#/components/schemas/").skip(1) {
        let name = reference.split('"').next().unwrap();
        assert!(schemas.contains_key(name), "a reference to {name} points nowhere");
    }
}

#[test]
fn verif_every_address_of_the_document_answers() {
    let ship = TestShip::new();
    let document = ship.here().get("/api/openapi.json").json();
    assert!(document["paths"].as_object().unwrap().len() > 15);
    for (path, methods) in document["paths"].as_object().unwrap() {
        let path =
            path.replace("{number}", "1").replace("{device}", "none").replace("{what}", "zones").replace("{name}", "a");
        for method in methods.as_object().unwrap().keys() {
            if path == "/api/live" {
                assert_eq!(ship.here().live("", None).status, 200);
                continue;
            }
            let (method, origin) = (method.to_uppercase(), format!("http://{}", ship.here().host));
            let headers = [("Origin", origin.as_str()), ("Content-Type", "application/json")];
            let body: &[u8] = if method == "GET" { b"" } else { b"{}" };
            let reply = ship.here().send(&method, &path, &headers, body);
            let unknown = reply.status == 404 && reply.text().contains("nothing under this address");
            assert!(!unknown && reply.status != 405 && reply.status < 500, "{method} {path}: {}", reply.text());
        }
    }
}
