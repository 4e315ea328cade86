//! Measures how late tones begin on this computer while all of its processors are busy: real beats, a voice that is
//! only a clock. Run: `cargo run -p bridge --example beat -- [beats]` (200 beats of 0.3 s take a minute).

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use bridge::{Server, Setup, Ship, Voice, VoiceError, VoiceMaker};
use quantity::UtcInstant;
use serde_json::{Value, json};
use voyage::score::Note;

const BEAT_S: f64 = 0.3;

struct Clocked(Arc<Mutex<Vec<Instant>>>);

impl Voice for Clocked {
    fn sound(&mut self, _: &[Note]) -> Result<(), VoiceError> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(Instant::now());
        Ok(())
    }

    fn well(&mut self) -> Result<(), VoiceError> {
        Ok(())
    }
}

fn event(seq: u64, at: UtcInstant, kind: &str, data: &Value) -> Vec<u8> {
    json!({
        "id": format!("bench-{seq}"), "device": "bench", "device_seq": seq, "kind": kind, "version": 1,
        "happened_at": at, "happened_basis": "instrument", "boot": null, "monotonic_ms": null, "person": null,
        "set": null, "haul": null, "data": data,
    })
    .to_string()
    .into_bytes()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let beats: usize = std::env::args().nth(1).map_or(Ok(200), |text| text.parse())?;
    let folder = std::env::temp_dir().join(format!("gangion-beat-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    let heard = Arc::new(Mutex::new(Vec::new()));
    let its = Arc::clone(&heard);
    let ship = Arc::new(Ship::open(&folder.join("voyage.journal"), 1_000)?);
    let voice = VoiceMaker::new(move || Ok(Box::new(Clocked(Arc::clone(&its)))));
    let setup = Setup { voice: Some(voice), ..Setup::new(&folder) };
    let server = Server::start(Arc::clone(&ship), setup, "127.0.0.1:0".parse()?)?;
    let begin = ship.clock.now().0.plus_seconds(2.0);
    let from = Instant::now() + Duration::from_secs(2);
    let beat = json!({"basket": 1, "position": 0, "at": begin, "beat_s": BEAT_S, "hooks_per_basket": 25,
        "float_takes_a_beat": true});
    ship.keep(vec![
        event(1, ship.clock.now().0, "setting_started", &json!({})),
        event(2, ship.clock.now().0, "beat", &beat),
    ])?;
    let ended = Arc::new(std::sync::atomic::AtomicBool::new(false));
    let busy = std::thread::available_parallelism()?.get();
    for _ in 0..busy {
        let ended = Arc::clone(&ended);
        std::thread::spawn(move || {
            while !ended.load(std::sync::atomic::Ordering::Relaxed) {
                std::hint::spin_loop();
            }
        });
    }
    let lasts_s = f64::from(u32::try_from(beats)?) * BEAT_S;
    std::thread::sleep(Duration::from_secs_f64(2.0 + lasts_s));
    ended.store(true, std::sync::atomic::Ordering::Relaxed);
    server.stop();
    let heard = heard.lock().unwrap_or_else(PoisonError::into_inner);
    // Each tone against the beat that it is nearest to.
    let mut late_ms: Vec<f64> = heard
        .iter()
        .map(|at| {
            let since_s = at.saturating_duration_since(from).as_secs_f64();
            (since_s - (since_s / BEAT_S).round() * BEAT_S) * 1e3
        })
        .collect();
    late_ms.sort_by(f64::total_cmp);
    let at = |share: usize| late_ms.get((late_ms.len().saturating_sub(1)) * share / 100).copied().unwrap_or(f64::NAN);
    println!(
        "{} tones for {} beats with {busy} busy threads: late by {:.1} ms (half), {:.1} ms (99 of 100), {:.1} ms at most",
        heard.len(),
        beats + 1,
        at(50),
        at(99),
        at(100)
    );
    std::fs::remove_dir_all(&folder)?;
    Ok(())
}
