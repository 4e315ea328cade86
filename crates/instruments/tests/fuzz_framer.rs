//! Any bytes in any chunks: no panic, and the same result as in one piece. Run longer with `FUZZ_SECONDS=180`.

use std::time::Duration;

use instruments::frame::{Counts, Framed, Framer, text_of};

fn seconds() -> Duration {
    Duration::from_secs(std::env::var("FUZZ_SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(2))
}

fn split<'a>(chunks: impl Iterator<Item = &'a [u8]>, lenient: bool) -> (Vec<(u64, String, bool)>, Counts) {
    let mut framer = Framer::new(lenient);
    let mut found = Vec::new();
    let mut keep = |f: Framed<'_>| found.push((f.line, text_of(f.raw), f.rejection.is_none()));
    chunks.for_each(|chunk| framer.push(chunk, &mut keep));
    framer.finish(&mut keep);
    (found, framer.counts())
}

#[test]
fn verif_any_bytes_in_any_chunks_give_the_same() {
    let mut runs = 0_u64;
    bolero::check!().with_test_time(seconds()).with_type::<(Vec<u8>, u8, bool)>().for_each(|(bytes, step, lenient)| {
        // Half of the bytes are mapped onto those that mean something.
        const MEANING: &[u8] = b"$!\\*\r\n,0123456789ABCDEFGPRMCcs:";
        let bytes: Vec<u8> =
            bytes.iter().map(|&b| if b < 128 { MEANING[usize::from(b) % MEANING.len()] } else { b }).collect();
        let whole = split(std::iter::once(&bytes[..]), *lenient);
        let cut = split(bytes.chunks(usize::from(*step).max(1)), *lenient);
        assert_eq!(whole, cut);
        assert_eq!(whole.1.sentences, whole.0.len() as u64);
        runs += 1;
    });
    println!("{runs} inputs");
    assert!(runs > 0);
}
