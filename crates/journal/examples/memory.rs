//! Resident memory with a journal of 100,000 events open: one writer, one reader, all rows read once.
//!
//! `cargo run -p journal --example memory`; reads VmRSS from /proc/self/status (Linux, proc(5)).

use std::error::Error;

use journal::{Incoming, Journal};
use quantity::UtcInstant;

const EVENTS: u64 = 100_000;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir()?;
    let journal = Journal::open(folder.path().join("journal.db"))?;
    for first in (1..=EVENTS).step_by(1_000) {
        journal.append((first..first + 1_000).map(event).collect())?;
    }
    let reader = journal.reader()?;
    let mut bytes = 0;
    for row in reader.rows() {
        bytes += row?.body.len();
    }
    let verdict = reader.verify(&[])?;
    let status = std::fs::read_to_string("/proc/self/status")?;
    for line in status.lines().filter(|line| line.starts_with("VmRSS") || line.starts_with("VmHWM")) {
        println!("{line}");
    }
    println!("{} rows verified: {}, {bytes} bytes of bodies read", verdict.rows, verdict.ok);
    Ok(())
}

fn event(seq: u64) -> Incoming {
    let body = format!(
        "{{\"id\":\"0190a5c2-7b1e-7000-8000-{seq:012}\",\"device\":\"rail\",\"device_seq\":{seq},\"kind\":\"note\",\
         \"version\":1,\"happened_at\":\"2026-03-04T05:06:07Z\",\"happened_basis\":\"tapped\",\"boot\":\"b1\",\
         \"monotonic_ms\":{seq},\"person\":null,\"set\":\"0190a5c2-7b1e-7000-8000-000000000001\",\"haul\":null,\
         \"data\":{{\"text\":\"float {seq}\"}}}}"
    );
    Incoming {
        bytes: body.into_bytes(),
        received_at: UtcInstant::from_micros_clamped(0),
        received_basis: "computer".to_owned(),
    }
}
