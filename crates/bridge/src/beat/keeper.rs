//! The keeper of the beat: follows the journal, tells the screens where the beat is, and writes down silences.
//!
//! Tones count as sounding while this thread comes round and, where the ship's computer sounds itself, its horn does.
//! Until when they did is kept beside the journal. When they come again after more than about a beat, one event
//! `beat_silent` is written, if hooks were due meanwhile; its question stands until somebody answers.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use quantity::UtcInstant;
use serde_json::json;
use voyage::beat::Laying;

use super::horn::{self, Sounding};
use super::memory::Sounded;
use super::view::BeatView;
use crate::app::App;
use crate::ship_clock::{TimeBasis, computer_utc};

/// How often the beat is looked at while a line is laid.
const TICK: Duration = Duration::from_millis(25);
/// How often otherwise.
const IDLE: Duration = Duration::from_millis(200);
/// How often it is kept until when tones sounded.
const KEEP: Duration = Duration::from_millis(500);
/// A silence is longer than a beat, and than this: quick beats are not asked about one by one (own judgement).
const SHORTEST_SILENCE_S: f64 = 1.0;
/// A journal that changes all the time is not folded more often than this, nor for more than a quarter of the time.
const FOLD: Duration = Duration::from_millis(60);
/// What could not be written is tried again after so long.
const AGAIN: Duration = Duration::from_secs(2);

/// The keeper's threads; they end when this is dropped.
#[derive(Debug)]
pub(crate) struct Keeper {
    ended: Arc<AtomicBool>,
    threads: Vec<JoinHandle<()>>,
}

impl Keeper {
    pub(crate) fn start(app: &Arc<App>) -> std::io::Result<Self> {
        let ended = Arc::new(AtomicBool::new(false));
        let mut keeper = Self { ended: Arc::clone(&ended), threads: Vec::new() };
        keeper.threads.extend(horn::start(app, &ended)?);
        let app = Arc::clone(app);
        let thread = std::thread::Builder::new().name("beat-keeper".to_owned());
        keeper.threads.push(thread.spawn(move || Watch::new(&app).run(&ended))?);
        Ok(keeper)
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.ended.store(true, Ordering::Relaxed);
        for thread in self.threads.drain(..) {
            let _ = thread.join();
        }
    }
}

/// A time without tones that is not written down yet.
#[derive(Debug, Clone)]
struct Owed {
    set: String,
    from: UtcInstant,
    to: UtcInstant,
}

struct Watch<'a> {
    app: &'a App,
    /// Up to which change of the beat the line was folded, when, and how long it took.
    folded: Option<(u64, Instant, Duration)>,
    /// When tones last sounded, by both clocks; none while no line is laid.
    sounded: Option<(String, UtcInstant, Instant)>,
    /// What was kept by the run before; looked at once.
    before: Option<Sounded>,
    owed: Option<(Owed, Instant)>,
    kept: Option<Instant>,
    told: Option<BeatView>,
}

/// Whether the horn, where there is one, comes round.
fn horn_is_well(sounding: Option<&Sounding>, within_s: f64) -> bool {
    sounding.is_none_or(|sounding| {
        sounding.trouble.is_none() && sounding.alive.is_some_and(|alive| alive.elapsed().as_secs_f64() < within_s)
    })
}

/// How long tones may be away before it is a silence: about a beat.
fn patience_s(line: &Laying, now: UtcInstant) -> f64 {
    line.due_at(now).map_or(SHORTEST_SILENCE_S, |due| due.anchor.beat_s.max(SHORTEST_SILENCE_S))
}

/// The beat as it is now, for an answer and for the live stream.
pub(crate) fn view_now(app: &App, line: Option<&Laying>) -> BeatView {
    let now = app.ship.clock.now().0;
    let sounding = app.beat.sounding();
    let stalled = line.is_some_and(|line| {
        let runs = line.due_at(now).is_some() && line.stopped().is_none() && app.ship.clock.runs_true();
        runs && !horn_is_well(sounding.as_ref(), patience_s(line, now))
    });
    BeatView::of(line, now, sounding.as_ref(), stalled)
}

impl<'a> Watch<'a> {
    fn new(app: &'a App) -> Self {
        let before = Sounded::read(&app.beat.memory);
        Self { app, folded: None, sounded: None, before, owed: None, kept: None, told: None }
    }

    fn run(mut self, ended: &AtomicBool) {
        while !ended.load(Ordering::Relaxed) {
            self.follow();
            let line = self.app.beat.laying();
            self.listen(line.as_deref());
            self.tell(line.as_deref());
            std::thread::sleep(if line.is_some() { TICK } else { IDLE });
        }
    }

    /// Folds the line where the journal says something new of it.
    fn follow(&mut self) {
        let (changes, touched_lately) = self.app.ship.beat_changes();
        let wait = |took: Duration| FOLD.max(took * 3);
        let due = match self.folded {
            None => true,
            Some((upto, at, took)) => upto != changes && at.elapsed() >= wait(took),
        };
        if due {
            let begun = Instant::now();
            if let Ok(folded) = self.app.ship.folded() {
                self.app.beat.lay(folded.book.laying.clone().map(Arc::new));
                self.folded = Some((changes, Instant::now(), begun.elapsed()));
            }
        }
        if !touched_lately {
            self.app.beat.lay(None);
        }
    }

    /// Keeps until when tones sounded, and writes down a time in which they did not.
    fn listen(&mut self, line: Option<&Laying>) {
        self.pay();
        let ((now, basis), instant) = (self.app.ship.clock.now(), Instant::now());
        let Some(line) = line.filter(|line| self.app.ship.clock.runs_true() && line.due_at(now).is_some()) else {
            self.sounded = None;
            return;
        };
        let patience_s = patience_s(line, now);
        if let Some(before) = self.before.take().filter(|before| before.set == line.set) {
            // The ship's time may rest on something else than before: the computer's clock tells how long it was.
            let away_s = computer_utc().seconds_since(before.until_computer_utc);
            // A voyage that is played stands while the program is away.
            if away_s > patience_s && basis != TimeBasis::Played {
                self.owe(line, before.until_utc, before.until_utc.plus_seconds(away_s));
            }
        }
        // A horn that never came round: the silence begins with the watch over this line.
        let (until, at) = match self.app.beat.sounding() {
            None => (now, instant),
            Some(horn) => match (horn.alive_at.zip(horn.alive), &self.sounded) {
                (Some(round), _) => round,
                (None, Some((_, until, at))) => (*until, *at),
                (None, None) => (now, instant),
            },
        };
        let before = self.sounded.replace((line.set.clone(), until, at));
        if let Some((_, last, last_at)) = before.filter(|(set, ..)| *set == line.set)
            && at.saturating_duration_since(last_at).as_secs_f64() > patience_s
        {
            self.owe(line, last, until);
        }
        let keep = self.owed.is_none() && self.kept.is_none_or(|kept| kept.elapsed() >= KEEP);
        if keep && let Some((set, until, at)) = &self.sounded {
            let until_computer_utc = computer_utc().plus_seconds(-instant.duration_since(*at).as_secs_f64());
            let sounded = Sounded { set: set.clone(), until_utc: *until, until_computer_utc };
            // A disk that does not take it makes the silence told longer, and shows in /api/health by itself.
            let _ = sounded.write(&self.app.beat.memory);
            self.kept = Some(instant);
        }
    }

    /// A silence is written down where hooks were due in it, once.
    fn owe(&mut self, line: &Laying, from: UtcInstant, to: UtcInstant) {
        let hooks = line.clips(from, to).iter().any(|(_, clip)| clip.position > 0);
        // A run that was killed after writing the event and before keeping that tones sound again.
        let told = line.silences.iter().any(|silence| silence.from.seconds_since(from).abs() < 0.001);
        if hooks && !told {
            self.owed = Some((Owed { set: line.set.clone(), from, to }, Instant::now()));
            self.pay();
        }
    }

    fn pay(&mut self) {
        let Some((owed, due)) = self.owed.clone() else { return };
        if due > Instant::now() {
            return;
        }
        let data = json!({"from_at": owed.from, "to_at": owed.to});
        let event = self.app.own_event_of("beat_silent", &data, owed.to, Some(&owed.set), None);
        self.owed = match self.app.ship.keep(vec![event]) {
            Ok(_) => None,
            // The journal has stopped; screens are told so. The silence is told when it takes events again.
            Err(_) => Some((owed, Instant::now() + AGAIN)),
        };
    }

    fn tell(&mut self, line: Option<&Laying>) {
        if line.is_none() && self.told.as_ref().is_none_or(|told| told.set.is_none()) {
            return;
        }
        let view = view_now(self.app, line);
        let still = view.without_the_clock();
        if self.told.as_ref() != Some(&still) {
            self.told = Some(still);
            self.app.beat.tell(view);
        }
    }
}

/// The line as the journal has it at this moment, and takes the keeper along.
pub(crate) fn line_now(app: &App) -> Result<Option<Arc<Laying>>, journal::JournalError> {
    let folded = app.ship.folded()?;
    let line = folded.book.laying.clone().filter(|_| app.ship.beat_changes().1).map(Arc::new);
    app.beat.lay(line.clone());
    Ok(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_horn_that_does_not_come_round_is_not_well() {
        assert!(horn_is_well(None, 1.0), "without a horn there is nothing to watch");
        let mut sounding = Sounding::default();
        assert!(!horn_is_well(Some(&sounding), 1.0), "a horn that never came round");
        sounding.alive = Some(Instant::now());
        assert!(horn_is_well(Some(&sounding), 1.0));
        std::thread::sleep(Duration::from_millis(30));
        assert!(!horn_is_well(Some(&sounding), 0.02));
        sounding.trouble = Some(horn::VoiceError::NoDevice);
        assert!(!horn_is_well(Some(&sounding), 1.0));
    }
}
