//! Live instruments into the journal: sources → the ship's state → events, the ship's clock, and what screens show now.
//!
//! One thread owns the state; each source has a thread of its own that opens it again when it breaks. The raw bytes go
//! to daily files beside the journal first, so that nothing is lost by what is made of them.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use bridge::Ship;
use instruments::cadence::Cadence;
use instruments::clock::DateBasis;
use instruments::decode::{Decoder, Heard};
use instruments::doubt::about_date;
use instruments::raw_files::RawFiles;
use instruments::sources::{FromSource, Source, listen};
use instruments::state::{Preferences, ShipState};
use serde_json::json;

use crate::plumbing::Failure;

/// A source that broke is opened again after so long.
const AGAIN: Duration = Duration::from_secs(5);
/// The state is looked at that often.
const LOOK: Duration = Duration::from_millis(200);
/// Screens are told the state that often.
const SHOW: Duration = Duration::from_secs(1);
/// Whether the line is worked is asked that often; it decides how often the state becomes an event.
const ASK: Duration = Duration::from_secs(5);
/// Raw bytes are flushed that often.
const FLUSH: Duration = Duration::from_secs(30);

/// An instrument source from the command line.
///
/// # Errors
/// [`Failure::BadInput`] naming what it should be.
pub fn parse_source(text: &str) -> Result<Source, Failure> {
    let bad = || {
        Failure::BadInput(format!(
            "--nmea \"{text}\" is none of tcp:HOST:PORT, udp:ADDR:PORT and serial:PATH@BAUD; nothing was started."
        ))
    };
    let with_port = |rest: &str| {
        let port = rest.rsplit_once(':').filter(|(host, _)| !host.is_empty()).and_then(|(_, port)| port.parse().ok());
        port.filter(|port: &u16| *port > 0).map(|_| rest.to_owned()).ok_or_else(bad)
    };
    match text.split_once(':').ok_or_else(bad)? {
        ("tcp", rest) => Ok(Source::Tcp(with_port(rest)?)),
        ("udp", rest) => Ok(Source::Udp(with_port(rest)?)),
        ("serial", rest) => {
            let (path, baud) = rest.rsplit_once('@').unwrap_or((rest, "4800"));
            let baud = baud.parse().ok().filter(|baud| (300..=1_000_000).contains(baud)).ok_or_else(bad)?;
            if path.is_empty() {
                return Err(bad());
            }
            Ok(Source::Serial { path: path.to_owned(), baud })
        }
        _ => Err(bad()),
    }
}

/// Instruments being heard; ends when dropped.
pub struct Feed {
    ended: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Feed {
    /// Starts to hear the sources.
    pub fn start(ship: &Arc<Ship>, sources: Vec<Source>, data: &Path) -> Self {
        let ended = Arc::new(AtomicBool::new(false));
        if sources.is_empty() {
            return Self { ended, thread: None };
        }
        let (sender, receiver) = channel();
        for (number, source) in sources.into_iter().enumerate() {
            let (sender, ended) = (sender.clone(), Arc::clone(&ended));
            std::thread::spawn(move || hear(number, &source, &sender, &ended));
        }
        let (ship, told, data) = (Arc::clone(ship), Arc::clone(&ended), data.to_owned());
        let thread = std::thread::spawn(move || Merger::new(ship, &data).run(&receiver, &told));
        Self { ended, thread: Some(thread) }
    }
}

impl Drop for Feed {
    fn drop(&mut self) {
        self.ended.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Bytes of one source, and when they came.
struct Came {
    source: usize,
    bytes: Vec<u8>,
    at: Instant,
}

/// Hears one source for as long as somebody listens.
fn hear(number: usize, source: &Source, sender: &Sender<Came>, ended: &AtomicBool) {
    let mut told = String::new();
    while !ended.load(Ordering::Relaxed) {
        let why = match listen(source) {
            Err(error) => error.to_string(),
            Ok((receiver, _thread)) => loop {
                match receiver.recv() {
                    Ok(FromSource::Bytes(bytes, _)) => {
                        if ended.load(Ordering::Relaxed) {
                            return;
                        }
                        if bytes.is_empty() {
                            continue;
                        }
                        told.clear();
                        if sender.send(Came { source: number, bytes, at: Instant::now() }).is_err() {
                            return;
                        }
                    }
                    Ok(FromSource::Failed(error)) => break error.to_string(),
                    Ok(FromSource::Ended) | Err(_) => {
                        break format!("the instrument source {} has ended", source.name());
                    }
                }
            },
        };
        // Once for each trouble, not every five seconds.
        if told != why {
            eprintln!("gangion: {why}; it is tried again every {} s.", AGAIN.as_secs());
            told = why;
        }
        std::thread::sleep(AGAIN);
    }
}

/// Owns the state of the ship.
struct Merger {
    ship: Arc<Ship>,
    decoders: Vec<Decoder>,
    state: ShipState,
    cadence: Cadence,
    raw: RawFiles,
    raw_trouble: bool,
    begun: Instant,
    next_seq: u64,
    at_work: bool,
    asked: Option<Instant>,
    shown: Option<Instant>,
    flushed: Instant,
    heard_anything: bool,
}

impl Merger {
    fn new(ship: Arc<Ship>, data: &Path) -> Self {
        let folder: PathBuf = data.join("instruments");
        // Where it cannot be made, the first write says so.
        let _ = std::fs::create_dir_all(&folder);
        let begun = Instant::now();
        Self {
            ship,
            decoders: Vec::new(),
            state: ShipState::new(Preferences::default()),
            cadence: Cadence::default(),
            raw: RawFiles::new(&folder),
            raw_trouble: false,
            begun,
            next_seq: 1,
            at_work: false,
            asked: None,
            shown: None,
            flushed: begun,
            heard_anything: false,
        }
    }

    fn run(mut self, came: &Receiver<Came>, ended: &AtomicBool) {
        while !ended.load(Ordering::Relaxed) {
            match came.recv_timeout(LOOK) {
                Ok(came) => self.take(&came),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
            if self.heard_anything {
                self.look();
            }
        }
    }

    fn take(&mut self, came: &Came) {
        self.heard_anything = true;
        self.keep_raw(&came.bytes);
        while self.decoders.len() <= came.source {
            self.decoders.push(Decoder::new(false, None, DateBasis::Unknown));
        }
        let Self { ship, decoders, state, .. } = self;
        decoders[came.source].push(&came.bytes, &mut |heard: Heard<'_>| {
            let Some(reading) = &heard.reading else { return };
            let fixes = matches!(reading.kind, b"RMC" | b"GGA" | b"GLL" | b"ZDA") && reading.valid != Some(false);
            // A receiver that lost count of the weeks must not set the ship's clock.
            let own = heard.time.filter(|_| fixes).and_then(|time| time.utc()).filter(|utc| about_date(*utc).is_none());
            if let Some(utc) = own {
                ship.clock.satellites_say(utc, came.at);
            }
            state.take(reading, own.unwrap_or_else(|| ship.clock.now().0));
        });
    }

    /// Keeps the raw bytes; trouble with them is told once and never stops the voyage's log.
    fn keep_raw(&mut self, bytes: &[u8]) {
        let mut outcome = self.raw.append(bytes, self.ship.clock.now().0);
        if outcome.is_ok() && self.flushed.elapsed() >= FLUSH {
            self.flushed = Instant::now();
            outcome = self.raw.flush();
        }
        match outcome {
            Ok(()) => self.raw_trouble = false,
            Err(error) if !self.raw_trouble => {
                self.raw_trouble = true;
                eprintln!("gangion: {error}");
            }
            Err(_) => {}
        }
    }

    /// Makes an event of the state where one is due, and shows it to the screens.
    fn look(&mut self) {
        if self.asked.is_none_or(|asked| asked.elapsed() >= ASK) {
            self.asked = Some(Instant::now());
            self.at_work = self.ship.at_work();
        }
        let (now, _) = self.ship.clock.now();
        if self.shown.is_none_or(|shown| shown.elapsed() >= SHOW) {
            self.shown = Some(Instant::now());
            self.ship.instruments_say(self.state.event_data(now));
        }
        let steady = self.begun.elapsed();
        let Some(data) = self.cadence.due(&self.state, now, Some(steady.as_secs_f64()), self.at_work) else { return };
        let seq = self.next_seq;
        let epoch = self.ship.epoch();
        let envelope = json!({
            "id": bridge::fresh_id(), "device": format!("instruments-{epoch}"), "device_seq": seq,
            "kind": "ship_state", "version": 1, "happened_at": now.to_string(), "happened_basis": "instrument",
            "boot": epoch, "monotonic_ms": u64::try_from(steady.as_millis()).unwrap_or(u64::MAX),
            "person": null, "set": null, "haul": null, "data": data,
        });
        // Where the journal has stopped, health says so; the number is not used up.
        if self.ship.keep(vec![envelope.to_string().into_bytes()]).is_ok() {
            self.next_seq += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_sources_from_the_command_line() {
        assert_eq!(parse_source("tcp:10.0.0.2:10110").unwrap(), Source::Tcp("10.0.0.2:10110".to_owned()));
        assert_eq!(parse_source("udp:0.0.0.0:10110").unwrap(), Source::Udp("0.0.0.0:10110".to_owned()));
        let serial = |path: &str, baud| Source::Serial { path: path.to_owned(), baud };
        assert_eq!(parse_source("serial:/dev/ttyUSB0@38400").unwrap(), serial("/dev/ttyUSB0", 38_400));
        assert_eq!(parse_source("serial:/dev/ttyUSB0").unwrap(), serial("/dev/ttyUSB0", 4_800));
        for wrong in ["", "tcp", "tcp:", "tcp:host", "tcp::10110", "tcp:host:0", "serial:", "serial:a@x", "file:a"] {
            assert!(parse_source(wrong).is_err(), "{wrong}");
        }
    }
}
