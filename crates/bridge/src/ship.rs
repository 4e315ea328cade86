//! The ship as the server sees it: the journal with its one writer, a tail that tells every new row in order, the
//! events in memory, and the book that they add up to.
//!
//! Rows go out to the live streams from the tail alone, read back from the journal, so that what is told is what is
//! kept, in ship order, whoever delivered it.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use forecast::HookDepth;
use journal::{Answer, Incoming, Journal, JournalError, Reader, StoredRow};
use quantity::UtcInstant;
use serde::Serialize;
use serde_json::Value;
use serde_json::value::RawValue;
use tokio::sync::{broadcast, watch};
use voyage::{Book, Kind, Logged, SetRecord, VoyageRecord};

use crate::cursor::Cursor;
use crate::ship_clock::ShipClock;

/// How long the tail waits before it looks by itself.
const LOOK: Duration = Duration::from_millis(500);

/// A line that nobody has touched for so long is not being set any more, though nobody said that it ended: its beat is
/// not followed further (own judgement; no line takes half that long to set).
const UNTOUCHED_S: f64 = 12.0 * 3_600.0;

/// A row of the journal on its way to the live streams.
#[derive(Debug)]
pub(crate) struct Row {
    pub(crate) ship_seq: i64,
    /// The row as JSON: cursor, sequence, time of receipt, the event byte for byte.
    pub(crate) json: String,
}

/// The depths of all positions of a set.
type Depths = Arc<Vec<HookDepth>>;

/// The book at a moment.
#[derive(Debug)]
pub(crate) struct Folded {
    pub(crate) book: Book,
    /// Up to which row it was drawn.
    pub(crate) cursor: Cursor,
    /// The moment up to which open sets were judged.
    pub(crate) now: UtcInstant,
    /// Depths of the sets that were asked for, by voyage and set.
    depths: Mutex<BTreeMap<(usize, usize), Depths>>,
}

impl Folded {
    /// The depths of a set of this book; worked out once.
    pub(crate) fn depths(&self, voyage: &VoyageRecord, set: &SetRecord) -> Depths {
        let mut known = self.depths.lock().unwrap_or_else(PoisonError::into_inner);
        let own = known.entry((voyage.number, set.number));
        Arc::clone(own.or_insert_with(|| Arc::new(forecast::depths(set))))
    }
}

/// What the tail and the handlers share.
#[derive(Debug)]
struct Log {
    epoch: String,
    /// Held by whoever follows the journal, so that rows are told in order.
    following: Mutex<()>,
    events: RwLock<Vec<Logged>>,
    /// When the ship last received an event that the instruments did not make.
    touched: Mutex<Option<UtcInstant>>,
    rows: broadcast::Sender<Arc<Row>>,
    /// How many rows have come that may change the beat.
    beat_changes: AtomicU64,
    /// Ship sequence of the last row told.
    head: watch::Sender<i64>,
    /// Why the journal takes nothing more, once that is so.
    stopped: watch::Sender<Option<String>>,
}

/// The journal, its tail and its book.
#[derive(Debug)]
pub struct Ship {
    log: Arc<Log>,
    /// The ship's clock.
    pub clock: ShipClock,
    nudge: Option<Sender<()>>,
    tail: Option<JoinHandle<()>>,
    readers: Mutex<Vec<Reader>>,
    /// The last book, when it was begun, and how long it took.
    folded: Mutex<Option<(Arc<Folded>, Instant, Duration)>>,
    state_now: watch::Sender<Option<Value>>,
    journal: Journal,
}

#[derive(Serialize)]
struct RowJson<'a> {
    cursor: String,
    ship_seq: i64,
    received_at: UtcInstant,
    event: &'a RawValue,
}

impl Ship {
    /// Opens the journal (makes it where there is none), reads it once and follows it from then on.
    ///
    /// # Errors
    /// [`JournalError`] when the journal is no sound one or another program writes it.
    pub fn open(path: &Path, live_behind: usize) -> Result<Self, JournalError> {
        Self::open_with(path, live_behind, journal::Options::default())
    }

    /// As [`Ship::open`], with options for the journal.
    ///
    /// # Errors
    /// As there.
    pub fn open_with(path: &Path, live_behind: usize, options: journal::Options) -> Result<Self, JournalError> {
        let journal = Journal::open_with(path, options)?;
        let reader = journal.reader()?;
        let log = Arc::new(Log {
            epoch: journal.epoch().to_owned(),
            following: Mutex::default(),
            events: RwLock::default(),
            touched: Mutex::default(),
            rows: broadcast::Sender::new(live_behind),
            beat_changes: AtomicU64::new(0),
            head: watch::Sender::new(0),
            stopped: watch::Sender::new(None),
        });
        log.follow(&reader)?;
        let (nudge, nudged) = channel();
        let shared = Arc::clone(&log);
        let tail = std::thread::Builder::new()
            .name("journal-tail".to_owned())
            .spawn(move || follow_until_closed(&shared, &reader, &nudged))
            .map_err(|source| JournalError::Io { doing: "starting the tail of", path: path.to_owned(), source })?;
        Ok(Self {
            log,
            clock: ShipClock::default(),
            nudge: Some(nudge),
            tail: Some(tail),
            readers: Mutex::default(),
            folded: Mutex::default(),
            state_now: watch::Sender::new(None),
            journal,
        })
    }

    /// Keeps events and returns after they are flushed; blocks its thread meanwhile.
    ///
    /// # Errors
    /// [`JournalError::Stopped`] when the journal takes nothing more.
    pub fn keep(&self, events: Vec<Vec<u8>>) -> Result<Vec<Answer>, JournalError> {
        let (received_at, basis) = self.clock.now();
        let incoming = events
            .into_iter()
            .map(|bytes| Incoming { bytes, received_at, received_basis: basis.word().to_owned() })
            .collect();
        let outcome = self.journal.append(incoming);
        if let Err(error) = &outcome {
            self.log.stopped.send_if_modified(|why| why.replace(error.to_string()).is_none());
        }
        self.look();
        outcome
    }

    /// Tells the tail that there may be new rows.
    fn look(&self) {
        if let Some(nudge) = &self.nudge {
            let _ = nudge.send(());
        }
    }

    /// What the ship's instruments say now: the `data` of a `ship_state` that need not become an event.
    pub fn instruments_say(&self, state: Value) {
        self.state_now.send_replace(Some(state));
    }

    /// A name for this opening of the journal.
    #[must_use]
    pub fn epoch(&self) -> &str {
        &self.log.epoch
    }

    /// Where the journal stands.
    #[must_use]
    pub fn cursor(&self) -> Cursor {
        Cursor { epoch: self.log.epoch.clone(), sequence: *self.log.head.borrow() }
    }

    pub(crate) fn rows(&self) -> broadcast::Receiver<Arc<Row>> {
        self.log.rows.subscribe()
    }

    pub(crate) fn state_now(&self) -> watch::Receiver<Option<Value>> {
        self.state_now.subscribe()
    }

    pub(crate) fn stopped(&self) -> watch::Receiver<Option<String>> {
        self.log.stopped.subscribe()
    }

    /// Rows after a sequence, as they are told on the live stream.
    pub(crate) fn rows_after(&self, sequence: i64, most: usize) -> Result<Vec<Row>, JournalError> {
        self.with_reader(|reader| {
            let rows = reader.rows_after(sequence).take(most);
            rows.map(|row| row.map(|row| self.log.as_json(&row))).collect()
        })
    }

    /// Works with a reader of the journal; readers are used again.
    pub(crate) fn with_reader<T>(
        &self,
        work: impl FnOnce(&Reader) -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        let free = self.readers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let reader = free.map_or_else(|| self.journal.reader(), Ok)?;
        let outcome = work(&reader)?;
        let mut free = self.readers.lock().unwrap_or_else(PoisonError::into_inner);
        if free.len() < 3 {
            free.push(reader);
        }
        Ok(outcome)
    }

    /// Where the journal's file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.journal.path()
    }

    /// Takes in what is kept already, so that whoever has had an answer finds his event in the next one.
    pub(crate) fn catch_up(&self) -> Result<(), JournalError> {
        self.with_reader(|reader| self.log.follow(reader))
    }

    /// The book as of now. Folding is done once for whoever asks meanwhile; blocks its thread.
    ///
    /// # Errors
    /// [`JournalError`] when the journal cannot be read.
    pub(crate) fn folded(&self) -> Result<Arc<Folded>, JournalError> {
        self.catch_up()?;
        let mut kept = self.folded.lock().unwrap_or_else(PoisonError::into_inner);
        let head = *self.log.head.borrow();
        if let Some((folded, folded_at, took)) = kept.as_ref() {
            let open = folded.book.voyages.iter().flat_map(|voyage| &voyage.sets).any(|set| set.open);
            // A book that takes long to fold is not folded for the sake of a second.
            let fresh = folded_at.elapsed() < Duration::from_secs(1).max(*took * 4);
            if folded.cursor.sequence == head && (!open || fresh) {
                return Ok(Arc::clone(folded));
            }
        }
        let begun = Instant::now();
        let touched = *self.log.touched.lock().unwrap_or_else(PoisonError::into_inner);
        let now = self.clock.now().0;
        let now = touched.map_or(now, |touched| now.min(touched.plus_seconds(UNTOUCHED_S)));
        let events = self.log.events.read().unwrap_or_else(PoisonError::into_inner);
        let book = voyage::fold(&events, Some(now));
        drop(events);
        let folded = Arc::new(Folded {
            book,
            cursor: Cursor { epoch: self.log.epoch.clone(), sequence: head },
            now,
            depths: Mutex::default(),
        });
        *kept = Some((Arc::clone(&folded), begun, begun.elapsed()));
        Ok(folded)
    }

    /// Whether line is going out or coming in; blocks its thread while folding.
    #[must_use]
    pub fn at_work(&self) -> bool {
        self.folded().is_ok_and(|folded| folded.book.voyages.iter().flat_map(|voyage| &voyage.sets).any(is_worked))
    }

    /// How many rows have come that may change the beat, and whether anybody has touched the voyage lately: a line that
    /// nobody touches is not being set any more.
    pub(crate) fn beat_changes(&self) -> (u64, bool) {
        let touched = *self.log.touched.lock().unwrap_or_else(PoisonError::into_inner);
        let now = self.clock.now().0;
        let lately = touched.is_some_and(|touched| now < touched.plus_seconds(UNTOUCHED_S));
        (self.log.beat_changes.load(Ordering::Relaxed), lately)
    }

    /// The row that holds an event, and the event as it came; none where the ship has none of that id.
    pub(crate) fn event_of(&self, id: &str) -> Result<Option<(i64, Value)>, JournalError> {
        self.catch_up()?;
        let events = self.log.events.read().unwrap_or_else(PoisonError::into_inner);
        let found = events.iter().rfind(|logged| logged.event.envelope.id == id).map(|logged| logged.ship_seq);
        drop(events);
        let Some(ship_seq) = found else { return Ok(None) };
        let row = self.with_reader(|reader| reader.rows_after(ship_seq - 1).next().transpose())?;
        let event = row.and_then(|row| serde_json::from_slice(&row.body).ok());
        Ok(event.map(|event| (ship_seq, event)))
    }

    /// The highest number of a device up to which all of its rows lie within the first `rows` rows.
    pub(crate) fn within(&self, device: &str, rows: i64) -> Option<u64> {
        let events = self.log.events.read().unwrap_or_else(PoisonError::into_inner);
        let of_device = events.iter().filter(|logged| logged.event.envelope.device == device);
        let (mut within, mut beyond) = (None, u64::MAX);
        for logged in of_device {
            let seq = logged.event.envelope.device_seq;
            if logged.ship_seq <= rows {
                within = within.max(Some(seq));
            } else {
                beyond = beyond.min(seq);
            }
        }
        within.map(|within| within.min(beyond.saturating_sub(1))).filter(|within| *within > 0)
    }
}

/// Whether a set is being set or hauled.
fn is_worked(set: &SetRecord) -> bool {
    let hauling = set.parts.last().is_some_and(|part| part.ended_at.is_none());
    set.open && (hauling || (set.parts.is_empty() && set.ended_at.is_none()))
}

/// Kinds that may change what is due, or what is told beside it.
fn concerns_the_beat(kind: Kind) -> bool {
    use Kind::*;
    matches!(
        kind,
        VoyageOpened
            | VoyageClosed
            | ClockOffset
            | GearDescribed
            | TagsListed
            | BinDescribed
            | SetPlanned
            | SettingStarted
            | SettingEnded
            | BasketCounted
            | Beat
            | StopStarted
            | StopEnded
            | BeatSilent
            | GearChanged
            | FloatClipped
            | RadioBuoyLaunched
            | BinStarted
            | BinEnded
            | HaulStarted
            | HaulEnded
            | Amended
            | Voided
    )
}

impl Drop for Ship {
    fn drop(&mut self) {
        self.nudge = None;
        if let Some(tail) = self.tail.take() {
            let _ = tail.join();
        }
    }
}

impl Log {
    fn as_json(&self, row: &StoredRow) -> Row {
        let cursor = Cursor { epoch: self.epoch.clone(), sequence: row.ship_seq }.to_string();
        let nothing = RawValue::NULL;
        let json = match serde_json::from_slice::<&RawValue>(&row.body) {
            Ok(event) => to_json(&cursor, row, event),
            // The journal takes JSON only; should a row hold none, its place is told all the same.
            Err(_) => to_json(&cursor, row, nothing),
        };
        Row { ship_seq: row.ship_seq, json }
    }

    /// Reads what is new, tells it, and takes it into memory.
    fn follow(&self, reader: &Reader) -> Result<(), JournalError> {
        let _alone = self.following.lock().unwrap_or_else(PoisonError::into_inner);
        let last = *self.head.borrow();
        for row in reader.rows_after(last) {
            let row = row?;
            if self.rows.receiver_count() > 0 {
                let _ = self.rows.send(Arc::new(self.as_json(&row)));
            }
            // An event of a later program is told to the screens and stays out of the book.
            if let Ok(event) = voyage::read_event(&row.body) {
                if concerns_the_beat(event.envelope.kind) {
                    self.beat_changes.fetch_add(1, Ordering::Relaxed);
                }
                if event.envelope.kind != Kind::ShipState {
                    *self.touched.lock().unwrap_or_else(PoisonError::into_inner) = Some(row.received_at);
                }
                let logged = Logged { ship_seq: row.ship_seq, event };
                self.events.write().unwrap_or_else(PoisonError::into_inner).push(logged);
            }
            self.head.send_replace(row.ship_seq);
        }
        Ok(())
    }
}

fn to_json(cursor: &str, row: &StoredRow, event: &RawValue) -> String {
    let json = RowJson { cursor: cursor.to_owned(), ship_seq: row.ship_seq, received_at: row.received_at, event };
    serde_json::to_string(&json).unwrap_or_default()
}

fn follow_until_closed(log: &Log, reader: &Reader, nudged: &Receiver<()>) {
    use std::sync::mpsc::RecvTimeoutError;
    loop {
        match nudged.recv_timeout(LOOK) {
            Ok(()) => while nudged.try_recv().is_ok() {},
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
        if let Err(error) = log.follow(reader) {
            log.stopped.send_if_modified(|why| why.replace(error.to_string()).is_none());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(seq: u64) -> Vec<u8> {
        format!(
            r#"{{"id":"e-{seq}","device":"rail","device_seq":{seq},"kind":"note","version":1,"happened_at":"2031-03-02T05:06:07Z","happened_basis":"tapped","boot":"b","monotonic_ms":{seq},"person":null,"set":null,"haul":null,"data":{{"text":"x"}}}}"#
        )
        .into_bytes()
    }

    #[test]
    fn verif_the_tail_tells_every_row_once_and_in_order() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("voyage.journal");
        let ship = Arc::new(Ship::open(&path, 10_000).unwrap());
        let mut rows = ship.rows();
        let threads: Vec<_> = (0..4)
            .map(|part| {
                let ship = Arc::clone(&ship);
                std::thread::spawn(move || {
                    for n in 1..=50 {
                        ship.keep(vec![event(part * 50 + n)]).unwrap();
                    }
                })
            })
            .collect();
        for thread in threads {
            thread.join().unwrap();
        }
        for expected in 1..=200 {
            assert_eq!(rows.blocking_recv().unwrap().ship_seq, expected);
        }
        let stored = ship.rows_after(0, 500).unwrap();
        assert_eq!(stored.len(), 200);
        let first: Value = serde_json::from_str(&stored[0].json).unwrap();
        assert_eq!(first["cursor"], format!("{}.1", ship.epoch()));
        assert_eq!(ship.folded().unwrap().cursor.sequence, 200);
        drop(rows);
        drop(ship);
        let again = Ship::open(&path, 10).unwrap();
        assert_eq!(again.cursor().sequence, 200, "what was kept is read at the next opening");
    }

    #[test]
    fn verif_a_line_that_nobody_touches_is_not_set_for_ever() {
        let folder = tempfile::tempdir().unwrap();
        let ship = Ship::open(&folder.path().join("voyage.journal"), 10).unwrap();
        let begin: UtcInstant = "2031-03-02T05:00:00Z".parse().unwrap();
        ship.clock.play(begin, 0.0);
        let of = |seq: u64, kind: &str, data: Value| {
            serde_json::json!({"id": format!("s-{seq}"), "device": "stern", "device_seq": seq, "kind": kind,
                "version": 1, "happened_at": begin, "happened_basis": "tapped", "boot": "b", "monotonic_ms": seq,
                "person": null, "set": null, "haul": null, "data": data})
            .to_string()
            .into_bytes()
        };
        let beat = serde_json::json!({"basket": 1, "position": 0, "at": begin, "beat_s": 6.0, "hooks_per_basket": 9,
            "float_takes_a_beat": true});
        let events = [("voyage_opened", Value::Null), ("setting_started", Value::Null), ("beat", beat)];
        ship.keep((1..).zip(events).map(|(seq, (kind, data))| of(seq, kind, data)).collect()).unwrap();
        assert!(ship.at_work());
        let hooks = |ship: &Ship| ship.folded().unwrap().book.voyages[0].sets[0].hooks.len();
        ship.clock.play(begin.plus_seconds(601.0), 0.0);
        std::thread::sleep(Duration::from_millis(1_100));
        assert_eq!(hooks(&ship), 90, "the beat runs on with the clock");
        ship.clock.play(begin.plus_seconds(90.0 * 86_400.0), 0.0);
        std::thread::sleep(Duration::from_millis(1_100));
        assert_eq!(hooks(&ship), 12 * 60 * 9, "half a day after the last word it is not followed further");
    }

    #[test]
    fn verif_a_device_may_forget_what_lies_within_the_backup_without_a_gap() {
        let folder = tempfile::tempdir().unwrap();
        let ship = Ship::open(&folder.path().join("voyage.journal"), 10).unwrap();
        for seq in [1, 3, 2, 4] {
            ship.keep(vec![event(seq)]).unwrap();
        }
        ship.catch_up().unwrap();
        let within: Vec<_> = (0..=4).map(|rows| ship.within("rail", rows)).collect();
        assert_eq!(within, [None, Some(1), Some(1), Some(3), Some(4)]);
        assert_eq!(ship.within("nobody", 4), None);
    }
}
