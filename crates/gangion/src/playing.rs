//! The demo voyage played into a server: the first set at once, the second set's setting and soak at the speed asked
//! for, then at speed 1, where it waits for a person to haul it.
//!
//! The ship's clock runs in the demo's own time meanwhile. Started again on the same folder it goes on where it was:
//! the script gives the same events each time, and those that are there already are not kept twice.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use bridge::Ship;
use quantity::UtcInstant;
use voyage::Kind;

use crate::commands::replay::{Due, prepare};
use crate::demo;
use crate::plumbing::Failure;

/// Events that go to the writer at once.
const BATCH: usize = 2_000;
/// The longest sleep, so that an end is heeded soon.
const NAP: Duration = Duration::from_millis(100);

/// Events to come, in one piece of memory: what the script needed to be made is given back.
struct Tape {
    bytes: Vec<u8>,
    /// When each event is due, and where its bytes end.
    marks: Vec<(UtcInstant, usize)>,
}

impl Tape {
    fn of(rest: &[Due]) -> Self {
        let mut tape = Self { bytes: Vec::new(), marks: Vec::with_capacity(rest.len()) };
        for due in rest {
            tape.bytes.extend_from_slice(&due.bytes);
            tape.marks.push((due.at, tape.bytes.len()));
        }
        tape
    }

    fn events(&self) -> impl Iterator<Item = (UtcInstant, &[u8])> {
        let starts = std::iter::once(0).chain(self.marks.iter().map(|(_, end)| *end));
        starts.zip(&self.marks).map(|(start, (at, end))| (*at, &self.bytes[start..*end]))
    }
}

/// A demo of which the first part has been played.
pub struct Begun {
    /// What is still to come, in order.
    rest: Tape,
    /// When the clock goes on from.
    from: UtcInstant,
    /// The end of the second set's soak; from then on only the ship itself goes on.
    soak_end: UtcInstant,
}

/// A demo that is being played; ends when dropped.
pub struct Player {
    ended: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Drop for Player {
    fn drop(&mut self) {
        self.ended.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Plays the first set at once, and what was played before.
///
/// # Errors
/// [`Failure`] when the journal holds a real voyage, or cannot be written.
pub fn begin(ship: &Arc<Ship>) -> Result<Begun, Failure> {
    // On a thread of its own, whose memory the server's threads take over.
    let ship = Arc::clone(ship);
    let begun = std::thread::spawn(move || begin_here(&ship)).join();
    begun.map_err(|_| Failure::Failed("the demo could not be played; this is a fault of the program.".to_owned()))?
}

fn begin_here(ship: &Ship) -> Result<Begun, Failure> {
    let demo = demo::generate(demo::SEED).map_err(Failure::failed)?;
    let mut due = prepare(&demo.instruments, None, &demo.deck).due;
    let kinds: Vec<(usize, Kind)> = due
        .iter()
        .enumerate()
        .filter_map(|(at, due)| voyage::read_event(&due.bytes).ok().map(|event| (at, event.envelope.kind)))
        .collect();
    let first_after = |from: usize, wanted| kinds.iter().find(|(at, kind)| *at > from && *kind == wanted);
    let second = kinds.iter().filter(|(_, kind)| *kind == Kind::SettingStarted).nth(1).map(|(at, _)| *at);
    let hauled = second.and_then(|setting| first_after(setting, Kind::HaulStarted)).map(|(at, _)| *at);
    let Some((setting, hauling)) = second.zip(hauled) else {
        return Err(Failure::Failed("the demo's script has no second set; this is a fault of the program.".to_owned()));
    };
    let soak_end = due[hauling].at;
    // What happened on deck from the haul on is left to the person who hauls; the ship itself goes on.
    let after = due.split_off(hauling);
    due.extend(after.into_iter().filter(|due| due.line.is_none()));
    let known = known_of(ship, &due)?;
    let begun = setting.max(known);
    let rest = due.split_off(begun.min(due.len()));
    let from = due.last().map_or(soak_end, |due| due.at);
    ship.clock.play(from, 0.0);
    for batch in due.chunks(BATCH) {
        ship.keep(batch.iter().map(|due| due.bytes.clone()).collect()).map_err(Failure::failed)?;
    }
    Ok(Begun { rest: Tape::of(&rest), from, soak_end })
}

/// How many of the demo's events the journal holds already.
fn known_of(ship: &Ship, due: &[Due]) -> Result<usize, Failure> {
    let reader = journal::Journal::open_read_only(ship.path()).map_err(Failure::failed)?;
    let stored: std::collections::BTreeSet<Vec<u8>> =
        reader.rows().map(|row| row.map(|row| row.body)).collect::<Result<_, _>>().map_err(Failure::failed)?;
    let known = due.iter().rposition(|due| stored.contains(&due.bytes)).map_or(0, |last| last + 1);
    if known == 0 && !stored.is_empty() {
        return Err(Failure::BadInput(format!(
            "{} holds a voyage of its own ({} entries); the demo goes into a folder of its own. Nothing was changed.",
            ship.path().display(),
            stored.len()
        )));
    }
    Ok(known)
}

impl Begun {
    /// Plays on so many times faster than it happened until the end of the soak, then at the pace it happened.
    pub fn play_on(self, ship: &Arc<Ship>, times_faster: f64) -> Player {
        let ended = Arc::new(AtomicBool::new(false));
        let (ship, told) = (Arc::clone(ship), Arc::clone(&ended));
        let thread = std::thread::spawn(move || self.play(&ship, times_faster, &told));
        Player { ended, thread: Some(thread) }
    }

    fn play(self, ship: &Ship, times_faster: f64, ended: &AtomicBool) {
        let slow = |at: UtcInstant| at >= self.soak_end;
        let mut clock = Pace::new(ship, self.from, if slow(self.from) { 1.0 } else { times_faster });
        for (at, bytes) in self.rest.events() {
            if slow(at) && clock.rate > 1.0 {
                clock.wait_for(self.soak_end, ended);
                clock = Pace::new(ship, self.soak_end, 1.0);
            }
            clock.wait_for(at, ended);
            if ended.load(Ordering::Relaxed) {
                return;
            }
            // Where the journal has stopped, health says so.
            let _ = ship.keep(vec![bytes.to_vec()]);
        }
    }
}

/// The demo's time.
struct Pace {
    from: UtcInstant,
    begun: Instant,
    rate: f64,
}

impl Pace {
    fn new(ship: &Ship, from: UtcInstant, rate: f64) -> Self {
        ship.clock.play(from, rate);
        Self { from, begun: Instant::now(), rate }
    }

    fn wait_for(&self, at: UtcInstant, ended: &AtomicBool) {
        while !ended.load(Ordering::Relaxed) {
            let left_s = at.seconds_since(self.from) / self.rate - self.begun.elapsed().as_secs_f64();
            if left_s <= 0.0 {
                return;
            }
            std::thread::sleep(NAP.min(Duration::from_secs_f64(left_s)));
        }
    }
}
