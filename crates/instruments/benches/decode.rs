//! How many sentences a second one core decodes, over a recorded log (see `tests/data/underway/SOURCE.md`).

#![allow(missing_docs, reason = "criterion's macro makes an undocumented function")]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use instruments::frame::Framer;
use instruments::sentence;

fn decode(criterion: &mut Criterion) {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/underway/underway.nmea");
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) => panic!("{path}: {error}"),
    };
    let sentences = bytes.iter().filter(|&&byte| byte == b'\n').count() as u64;
    let mut group = criterion.benchmark_group("decode");
    group.throughput(Throughput::Elements(sentences));
    group.bench_function("frame, checksum and fields", |bencher| {
        bencher.iter(|| {
            let mut framer = Framer::new(false);
            let mut valid = 0_u64;
            framer.push(&bytes, &mut |framed| {
                let reading = sentence::read(framed.body);
                valid += u64::from(std::hint::black_box(reading).valid == Some(true));
            });
            valid
        });
    });
    group.finish();
}

criterion_group!(benches, decode);
criterion_main!(benches);
