//! Every address of the API document, with what its schema allows and with what it does not: never a fault of the server.
//!
//! Parameters and bodies are made from the document itself (OpenAPI 3.1, whose schemas are JSON Schema 2020-12), so a new
//! address is tried as soon as it is described. One value in a few is of a wrong type, missing, or a number that no ship knows.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Map, Value, json};
use support::{Client, TestShip, note};

/// Bodies and queries tried at each address.
const TRIES: usize = 40;
/// Not tried: a stream without end, and what changes who may go on asking.
const LEFT_OUT: [&str; 4] = ["/api/live", "/api/pin", "/api/pin/lock", "/api/pin/unlock"];

struct Maker<'a> {
    document: &'a Value,
    dice: ChaCha8Rng,
}

impl Maker<'_> {
    fn one_in(&mut self, n: u32) -> bool {
        self.dice.random_range(0..n) == 0
    }

    fn number(&mut self) -> Value {
        let odd = [0.0, -1.0, 1e308, -1e308, 1e-300, 9_007_199_254_740_993.0, 181.0, -90.000_1, 25.0, 7.0, 0.75];
        if self.one_in(3) {
            json!(odd.choose(&mut self.dice).unwrap())
        } else {
            json!(self.dice.random_range(-5.0..300.0))
        }
    }

    fn text(&mut self) -> Value {
        let long = "x".repeat(5_000);
        let words = [
            "",
            "A",
            "null",
            "2026-03-04T13:00:00Z",
            "9999-12-31T23:59:59Z",
            "-0001-01-01T00:00:00Z",
            "../../etc/passwd",
            "<script>",
            "👍🏽",
            "\u{0}",
            "0198a3c0-0000-7000-8000-000000000001",
            "to_first",
            "last",
            "start",
            "faster",
            long.as_str(),
        ];
        json!(words.choose(&mut self.dice).unwrap())
    }

    fn anything(&mut self) -> Value {
        match self.dice.random_range(0..6) {
            0 => Value::Null,
            1 => json!(true),
            2 => self.number(),
            3 => self.text(),
            4 => json!([[], [1, [2, [3]]]]),
            _ => json!({"type": "Polygon", "coordinates": [[[1e9, "x"], []]]}),
        }
    }

    fn value(&mut self, schema: &Value, depth: usize) -> Value {
        if depth > 8 || self.one_in(12) {
            return self.anything();
        }
        if let Some(target) = schema["$ref"].as_str() {
            let schema = self.document.pointer(target.trim_start_matches('#')).unwrap().clone();
            return self.value(&schema, depth + 1);
        }
        for several in ["oneOf", "anyOf", "allOf"] {
            if let Some(some) = schema[several].as_array() {
                let chosen = some.choose(&mut self.dice).unwrap().clone();
                return self.value(&chosen, depth + 1);
            }
        }
        if let Some(words) = schema["enum"].as_array() {
            return words.choose(&mut self.dice).unwrap().clone();
        }
        let kind = match &schema["type"] {
            Value::Array(kinds) => kinds.choose(&mut self.dice).unwrap().as_str().unwrap_or_default().to_owned(),
            kind => kind.as_str().unwrap_or_default().to_owned(),
        };
        match kind.as_str() {
            "object" => {
                let mut made = Map::new();
                for (name, part) in schema["properties"].as_object().into_iter().flatten() {
                    let needed = schema["required"].as_array().is_some_and(|names| names.iter().any(|one| one == name));
                    if (needed && !self.one_in(15)) || self.one_in(2) {
                        made.insert(name.clone(), self.value(part, depth + 1));
                    }
                }
                Value::Object(made)
            }
            "array" => {
                let count = self.dice.random_range(0..4);
                (0..count).map(|_| self.value(&schema["items"], depth + 1)).collect()
            }
            "integer" if !self.one_in(4) => json!(self.dice.random_range(-1_i64..40)),
            "integer" | "number" => self.number(),
            "boolean" => json!(self.one_in(2)),
            "string" => self.text(),
            "null" => Value::Null,
            _ => self.anything(),
        }
    }

    /// A path with its parameters in it.
    fn address(&mut self, path: &str, parameters: &Value) -> String {
        let (mut address, mut query) = (path.to_owned(), Vec::new());
        for parameter in parameters.as_array().into_iter().flatten() {
            let name = parameter["name"].as_str().unwrap();
            let value = match self.value(&parameter["schema"], 0) {
                Value::String(text) => text,
                other => other.to_string(),
            };
            let value: String = value.bytes().take(300).map(|byte| format!("%{byte:02x}")).collect();
            if parameter["in"] == "path" {
                // A set that there is, now and then.
                let value = if self.one_in(2) { "1".to_owned() } else { value };
                address = address.replace(&format!("{{{name}}}"), &value);
            } else if parameter["in"] == "query" && !self.one_in(3) {
                query.push(format!("{name}={value}"));
            }
        }
        if query.is_empty() { address } else { format!("{address}?{}", query.join("&")) }
    }
}

fn a_set(here: &Client) {
    let gear = json!({"gear": "g", "main_line": {"diameter_mm": 3.6}, "float_line_m": 20, "hooks_per_basket": 9, "clip_spacing_m": 40,
        "branch_lines": [{"type": "b", "length_m": 20, "weight_in_water_n": 0.6}], "float_takes_a_beat": true});
    for (seq, kind, data) in [
        (1, "voyage_opened", json!({"utc_offset_min": 720})),
        (2, "gear_described", gear),
        (3, "setting_started", json!({"gear": "g"})),
    ] {
        let reply = here.post("/api/events", &support::event("fuzz", seq, kind, &data));
        assert_eq!(reply.status, 200);
    }
    assert_eq!(here.post("/api/events", &note("fuzz", 4)).status, 200);
}

#[test]
fn verif_every_address_bears_what_its_schema_says_and_what_it_does_not() {
    let ship = TestShip::new();
    let here = ship.here();
    a_set(&here);
    let document: Value = serde_json::from_str(include_str!("../openapi.json")).unwrap();
    let mut maker = Maker { document: &document, dice: ChaCha8Rng::seed_from_u64(20_261_125) };
    let origin = format!("http://{}", here.host);
    let (mut tried, mut good, mut refused) = (0, 0, 0);
    for (path, methods) in document["paths"].as_object().unwrap() {
        if LEFT_OUT.contains(&path.as_str()) {
            continue;
        }
        for (method, described) in methods.as_object().unwrap() {
            let schema = &described["requestBody"]["content"]["application/json"]["schema"];
            for _ in 0..TRIES {
                let address = maker.address(path, &described["parameters"]);
                let body = if schema.is_null() { Vec::new() } else { maker.value(schema, 0).to_string().into_bytes() };
                let headers: &[(&str, &str)] = if method == "get" { &[] } else { &[("Origin", &origin)] };
                let reply = here.send(&method.to_uppercase(), &address, headers, &body);
                let shown = String::from_utf8_lossy(&body);
                // A ship whose journal has stopped says so with 503; this one has not.
                assert!(reply.status < 500, "{method} {address}: {} {}\n{shown}", reply.status, reply.text());
                if reply.status >= 400 && reply.status != 414 && !reply.body.is_empty() {
                    let text = reply.json()["text"].as_str().unwrap_or_default().to_owned();
                    assert!(text.len() > 10, "{method} {address}: {} is not worded: {text}\n{shown}", reply.status);
                    assert!(!text.contains("panicked") && !text.contains("/src/"), "{text}");
                    refused += 1;
                } else {
                    good += 1;
                }
                tried += 1;
            }
        }
    }
    assert!(good > tried / 10 && refused > tried / 10, "{good} good and {refused} refused of {tried}");
    assert_eq!(here.get("/api/health").status, 200);
}
