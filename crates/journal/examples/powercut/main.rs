//! Power cuts, replayed: a writer runs under strace, every write, truncation and flush of its files is
//! recorded with every acknowledgement; for random instants the files are built again from what was flushed
//! and a random part of what was not, torn at 512 bytes; then the journal is opened, verified, and must hold
//! every acknowledged row.
//!
//! `cargo run -p journal --example powercut -- [CUTS] [SEED]`; Linux, needs strace.
//! The model of the disk is that of SQLite's documentation, "Atomic Commit In SQLite", section 2, with
//! sectors of 512 bytes written in any order.

mod disk;
mod record;

use std::collections::BTreeSet;
use std::error::Error;
use std::io::Write;
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};

use disk::Disk;
use journal::{Answer, Incoming, Journal};
use quantity::UtcInstant;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use record::Step;

type Outcome<T> = Result<T, Box<dyn Error>>;

const CHILD: &str = "JOURNAL_UNDER_STRACE";
/// Openings of the journal in one recording, and deliveries in each.
const OPENINGS: u64 = 4;
const DELIVERIES: u64 = 120;
/// Cuts of the control.
const LIES: usize = 40;

fn main() -> ExitCode {
    let outcome = match std::env::var(CHILD) {
        Ok(path) => write_and_acknowledge(Path::new(&path)),
        Err(_) => replay(),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("powercut: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Records one run, then cuts the power at random instants of it.
fn replay() -> Outcome<()> {
    let mut words = std::env::args().skip(1);
    let cuts: usize = words.next().map_or(Ok(240), |word| word.parse())?;
    let seed: u64 = words.next().map_or(Ok(1), |word| word.parse())?;
    if !Command::new("strace").arg("-V").stdout(Stdio::null()).status().is_ok_and(|status| status.success()) {
        return Err("strace is missing; install it with: apt-get install -y strace".into());
    }
    let folder = tempfile::tempdir()?;
    let sea = folder.path().join("recorded");
    std::fs::create_dir(&sea)?;
    let log = folder.path().join("strace.log");
    let traced = Command::new("strace")
        .args(["-f", "-y", "-xx", "-s", "1000000", "-o"])
        .arg(&log)
        .args(["-e", "trace=openat,lseek,write,pwrite64,ftruncate,fdatasync,fsync,unlink", "--"])
        .arg(std::env::current_exe()?)
        .env(CHILD, sea.join("journal.db"))
        .stdout(Stdio::null())
        .status()?;
    if !traced.success() {
        return Err(format!("the recorded writer ended with {traced}").into());
    }
    let steps = record::read(&log, &sea)?;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (torn, worst, bad) = cut(&steps, cuts, 0, folder.path(), &mut random)?;
    // The same on a disk that lies about 7 of 10 flushes: a check that finds nothing there would be blind.
    let (_, _, seen) = cut(&steps, LIES, 70, folder.path(), &mut random)?;
    let flushes = steps.iter().filter(|step| matches!(step, Step::Flush { .. })).count();
    let writes = steps.iter().filter(|step| matches!(step, Step::Write { .. })).count();
    let last = steps.iter().rev().find_map(|step| if let Step::Acknowledged(last) = step { Some(*last) } else { None });
    println!(
        "{cuts} power cuts in a run of {writes} writes, {flushes} flushes and {} acknowledged rows (seed {seed}): \
         {torn} with unflushed writes (at most {worst} at once), {} bad; control, a disk that ignores 70 % of its \
         flushes: {} of {LIES} bad",
        last.unwrap_or(0),
        bad.len(),
        seen.len()
    );
    if seen.is_empty() {
        return Err("the control found nothing, so this check sees nothing".into());
    }
    if bad.is_empty() { Ok(()) } else { Err(bad.join("\n").into()) }
}

/// Cuts the power `cuts` times on a disk that ignores `lies_percent` of its flushes: how many cuts lost or tore
/// something, how many changes were unflushed at most, and what was bad.
fn cut(
    steps: &[Step],
    cuts: usize,
    lies_percent: usize,
    folder: &Path,
    random: &mut ChaCha8Rng,
) -> Outcome<(usize, usize, Vec<String>)> {
    let mut instants: Vec<usize> = (0..cuts).map(|_| below(random, steps.len())).collect();
    instants.sort_unstable();
    let mut disk = Disk::default();
    let (mut done, mut acknowledged, mut torn, mut worst) = (0, 0, 0, 0);
    let mut bad = Vec::new();
    for (number, instant) in instants.iter().enumerate() {
        for step in &steps[done..*instant] {
            match step {
                Step::Acknowledged(last) => acknowledged = *last,
                Step::Flush { .. } if below(random, 100) < lies_percent => {}
                other => disk.step(other),
            }
        }
        done = *instant;
        worst = worst.max(disk.unflushed());
        torn += usize::from(disk.unflushed() > 0);
        let cut = folder.join("cut");
        disk.cut_into(&cut, random)?;
        if let Err(error) = check(&cut.join("journal.db"), acknowledged) {
            bad.push(format!("cut {number} at step {instant}, {acknowledged} rows acknowledged: {error}"));
        }
        std::fs::remove_dir_all(&cut)?;
    }
    Ok((torn, worst, bad))
}

/// The files after a cut: a journal that verifies, has all acknowledged rows, and takes more.
fn check(path: &Path, acknowledged: u64) -> Outcome<()> {
    let journal = Journal::open(path)?;
    let reader = journal.reader()?;
    let verdict = reader.verify(&[])?;
    if !verdict.ok {
        return Err(format!("it does not verify: {:?}", verdict.faults).into());
    }
    let mut there = BTreeSet::new();
    for row in reader.rows() {
        there.insert(row?.body);
    }
    let lost = (1..=acknowledged).filter(|seq| !there.contains(body(*seq).as_bytes())).count();
    if lost > 0 {
        return Err(format!("{lost} acknowledged rows are lost").into());
    }
    let answers = journal.append(vec![event(1_000_000)?])?;
    if !answers.iter().all(Answer::is_stored) || !reader.verify(&[])?.ok {
        return Err("it takes no further row".into());
    }
    Ok(())
}

/// The recorded process: deliveries of 1 to 40 events, an acknowledgement on stdout after each.
fn write_and_acknowledge(path: &Path) -> Outcome<()> {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut seq = 0;
    for _ in 0..OPENINGS {
        let journal = Journal::open(path)?;
        for _ in 0..DELIVERIES {
            let size = below(&mut random, 40) as u64 + 1;
            let events = (seq + 1..=seq + size).map(event).collect::<Outcome<Vec<_>>>()?;
            if !journal.append(events)?.iter().all(Answer::is_stored) {
                return Err("an event was not kept".into());
            }
            seq += size;
            std::io::stdout().lock().write_all(format!("ack {seq}\n").as_bytes())?;
        }
    }
    Ok(())
}

fn event(seq: u64) -> Outcome<Incoming> {
    Ok(Incoming {
        bytes: body(seq).into_bytes(),
        received_at: UtcInstant::from_micros(1_772_582_400_000_000)?.plus_seconds(seq as f64),
        received_basis: "satellite".to_owned(),
    })
}

/// One event in 50 is long, so that rows spill over several pages too.
fn body(seq: u64) -> String {
    let text = if seq.is_multiple_of(50) { "long ".repeat(2_500) } else { format!("float {seq} clipped") };
    format!(
        "{{\"id\":\"0190-{seq:08}\",\"device\":\"rail\",\"device_seq\":{seq},\"kind\":\"note\",\"version\":1,\
         \"happened_at\":\"2026-03-04T00:00:00Z\",\"happened_basis\":\"tapped\",\"boot\":null,\"monotonic_ms\":null,\
         \"person\":null,\"set\":null,\"haul\":null,\"data\":{{\"text\":\"{text}\"}}}}"
    )
}

/// A number in 0..limit; 0 for an empty range.
pub(crate) fn below(random: &mut ChaCha8Rng, limit: usize) -> usize {
    usize::try_from(random.next_u64() % (limit.max(1) as u64)).unwrap_or(0)
}
