//! Events of our own making for the tests of the journal.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]
#![allow(dead_code, reason = "each test file uses a part of it")]

use journal::{Incoming, Journal};
use quantity::UtcInstant;

/// The moment at which the tests' ship received its `n`th event.
pub fn received_at(n: u64) -> UtcInstant {
    UtcInstant::from_micros(1_772_582_400_000_000 + i64::try_from(n).unwrap() * 1_000_003).unwrap()
}

/// An envelope with a given id and text.
pub fn body_with(id: &str, device: &str, seq: u64, text: &str) -> String {
    let happened_at = received_at(seq);
    format!(
        "{{\"id\":\"{id}\",\"device\":\"{device}\",\"device_seq\":{seq},\"kind\":\"note\",\"version\":1,\
         \"happened_at\":\"{happened_at}\",\"happened_basis\":\"tapped\",\"boot\":\"start-{device}\",\
         \"monotonic_ms\":{},\"person\":\"rail\",\"set\":\"set-{}\",\"haul\":null,\"data\":{{\"text\":\"{text}\"}}}}",
        seq * 1_000,
        seq % 7
    )
}

/// The id of a device's event.
pub fn id_of(device: &str, seq: u64) -> String {
    format!("0190-{device}-{seq:06}")
}

/// A device's event.
pub fn body(device: &str, seq: u64) -> String {
    body_with(&id_of(device, seq), device, seq, &format!("float {seq} clipped by {device}"))
}

/// Bytes as they arrive.
pub fn incoming(bytes: impl Into<Vec<u8>>, n: u64) -> Incoming {
    Incoming { bytes: bytes.into(), received_at: received_at(n), received_basis: "satellite".to_owned() }
}

/// Events `from..=to` of a device.
pub fn events(device: &str, from: u64, to: u64) -> Vec<Incoming> {
    (from..=to).map(|seq| incoming(body(device, seq), seq)).collect()
}

/// The export of a journal as text.
pub fn exported(path: &std::path::Path) -> String {
    let mut out = Vec::new();
    Journal::open_read_only(path).unwrap().export(&mut out).unwrap();
    String::from_utf8(out).unwrap()
}
