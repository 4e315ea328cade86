//! How fast the journal is: the chain verified against bare SHA-256 over the same bytes, single durable
//! appends against the disk's own flush, and batches.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on must fail")]

use std::hint::black_box;
use std::io::Write;
use std::time::Instant;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use journal::{Incoming, Journal};
use quantity::UtcInstant;
use sha2::{Digest, Sha256};

const ROWS: u64 = 100_000;

fn event(seq: u64) -> Incoming {
    let body = format!(
        "{{\"id\":\"0190a5c2-7b1e-7000-8000-{seq:012}\",\"device\":\"rail\",\"device_seq\":{seq},\"kind\":\"note\",\
         \"version\":1,\"happened_at\":\"2026-03-04T05:06:07Z\",\"happened_basis\":\"tapped\",\"boot\":\"b1\",\
         \"monotonic_ms\":{seq},\"person\":null,\"set\":\"0190a5c2-7b1e-7000-8000-000000000001\",\"haul\":null,\
         \"data\":{{\"text\":\"float {seq}\"}}}}"
    );
    let received_at = UtcInstant::from_micros_clamped(1_772_582_400_000_000 + i64::try_from(seq).unwrap_or(0));
    Incoming { bytes: body.into_bytes(), received_at, received_basis: "computer".to_owned() }
}

fn filled(path: &std::path::Path) -> Journal {
    let journal = Journal::open(path).expect("a new journal");
    for first in (1..=ROWS).step_by(2_000) {
        journal.append((first..first + 2_000).map(event).collect()).expect("kept");
    }
    journal
}

fn hash_bare(rows: u64, row: &[u8]) {
    for _ in 0..rows {
        black_box(Sha256::digest(black_box(row)));
    }
}

fn verifying(bench: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    let journal = filled(&folder.path().join("journal.db"));
    let reader = journal.reader().expect("a reader");
    let (faults, rows, bytes) = reader.verify_chain().expect("a walk");
    assert!(faults.is_empty() && rows == ROWS);
    let row = vec![b'x'; usize::try_from(bytes / rows).unwrap_or(0)];
    // Both in the same breath, so that a busy machine slows both alike.
    let (mut chain_s, mut bare_s) = (f64::MAX, f64::MAX);
    for _ in 0..7 {
        let began = Instant::now();
        black_box(reader.verify_chain().expect("a walk"));
        chain_s = chain_s.min(began.elapsed().as_secs_f64());
        let began = Instant::now();
        hash_bare(rows, &row);
        bare_s = bare_s.min(began.elapsed().as_secs_f64());
    }
    let per_second = rows as f64 / chain_s;
    println!(
        "chain verify {per_second:.0} rows/s, {:.2} times bare SHA-256 over the same {bytes} bytes",
        chain_s / bare_s
    );
    let mut group = bench.benchmark_group("verify");
    group.sample_size(10).throughput(Throughput::Elements(ROWS));
    group.bench_function("chain", |b| b.iter(|| reader.verify_chain().expect("a walk")));
    group.bench_function("everything", |b| b.iter(|| reader.verify(&[]).expect("a verdict")));
    group.bench_function("bare_sha256", |b| b.iter(|| hash_bare(rows, &row)));
    group.finish();
}

fn appending(bench: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    let journal = Journal::open(folder.path().join("journal.db")).expect("a new journal");
    let mut seq = 0;
    let mut group = bench.benchmark_group("append");
    group.sample_size(20).throughput(Throughput::Elements(1));
    let mut file = std::fs::File::create(folder.path().join("flushed")).expect("a file");
    group.bench_function("bare_flush_of_8_kB", |b| {
        b.iter(|| file.write_all(&[0; 8_192]).and_then(|()| file.sync_data()).expect("a flush"));
    });
    group.bench_function("single", |b| {
        b.iter(|| {
            seq += 1;
            journal.append(vec![event(seq)]).expect("kept")
        });
    });
    group.throughput(Throughput::Elements(2_500));
    group.bench_function("batch_of_2500", |b| {
        let mut next = || {
            seq += 2_500;
            (seq - 2_499..=seq).map(event).collect::<Vec<_>>()
        };
        b.iter_batched(&mut next, |events| journal.append(events).expect("kept"), BatchSize::PerIteration);
    });
    group.finish();
}

criterion_group!(benches, verifying, appending);
criterion_main!(benches);
