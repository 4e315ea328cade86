//! The horn's thread: plays the score on the ship's own computer, and says of itself whether it does.
//!
//! It opens the sound device itself and opens it again when it breaks; a device that takes nothing is no horn, and the
//! keeper tells the screens so.

use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use quantity::UtcInstant;
use voyage::score::Note;

use super::play::{Player, Step};
use crate::app::App;

/// A device that broke is opened again after so long.
const AGAIN: Duration = Duration::from_secs(3);
/// How long the horn sleeps while no line is laid.
const IDLE: Duration = Duration::from_millis(100);

/// Why nothing sounds.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum VoiceError {
    /// There is no sound device.
    #[error("this computer has no sound device that can be used")]
    NoDevice,
    /// The device cannot be opened or broke.
    #[error("the sound device does not take tones ({said})")]
    Device {
        /// What the system said.
        said: String,
    },
}

/// Something that sounds notes.
pub trait Voice {
    /// Begins to sound notes now; does not wait for their end.
    ///
    /// # Errors
    /// [`VoiceError`] when the device takes nothing.
    fn sound(&mut self, notes: &[Note]) -> Result<(), VoiceError>;

    /// Whether the device still takes what it is given.
    ///
    /// # Errors
    /// [`VoiceError`] when it has broken.
    fn well(&mut self) -> Result<(), VoiceError>;
}

/// Opens a voice, on the thread that will use it.
#[derive(Clone)]
pub struct VoiceMaker(Arc<dyn Fn() -> Result<Box<dyn Voice>, VoiceError> + Send + Sync>);

impl VoiceMaker {
    /// From what opens it.
    pub fn new(open: impl Fn() -> Result<Box<dyn Voice>, VoiceError> + Send + Sync + 'static) -> Self {
        Self(Arc::new(open))
    }
}

impl fmt::Debug for VoiceMaker {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("VoiceMaker")
    }
}

/// What the horn says of itself.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sounding {
    /// Since when the device is open.
    pub(crate) since: Option<UtcInstant>,
    /// When a tone last began.
    pub(crate) last_tone: Option<UtcInstant>,
    /// When the thread last came round with a device that is well.
    pub(crate) alive: Option<Instant>,
    /// The same by the ship's time.
    pub(crate) alive_at: Option<UtcInstant>,
    /// Why it does not sound.
    pub(crate) trouble: Option<VoiceError>,
    /// Tones since the start.
    pub(crate) tones: u64,
    /// Tones that were passed over because they came too late.
    pub(crate) passed_over: u64,
    /// The latest that a tone began, seconds.
    pub(crate) latest_s: f64,
}

/// Starts the horn, where there is one.
pub(crate) fn start(app: &Arc<App>, ended: &Arc<AtomicBool>) -> std::io::Result<Option<JoinHandle<()>>> {
    let Some(maker) = app.beat.voice.clone() else { return Ok(None) };
    let (app, ended) = (Arc::clone(app), Arc::clone(ended));
    let thread = std::thread::Builder::new().name("beat-horn".to_owned()).spawn(move || {
        while !ended.load(Ordering::Relaxed) {
            let trouble = match (maker.0)() {
                Ok(voice) => play(&app, &ended, voice),
                Err(error) => Some(error),
            };
            note(&app, |sounding| (sounding.since, sounding.trouble) = (None, trouble));
            let begin = Instant::now();
            while begin.elapsed() < AGAIN && !ended.load(Ordering::Relaxed) {
                std::thread::sleep(IDLE);
            }
        }
    })?;
    Ok(Some(thread))
}

fn note(app: &App, change: impl FnOnce(&mut Sounding)) {
    if let Some(sounding) = app.beat.sounding.lock().unwrap_or_else(PoisonError::into_inner).as_mut() {
        change(sounding);
    }
}

/// Plays until the device breaks or the server ends.
fn play(app: &App, ended: &AtomicBool, mut voice: Box<dyn Voice>) -> Option<VoiceError> {
    let clock = &app.ship.clock;
    let mut player = Player::default();
    let opened = clock.now().0;
    player.skip_to(opened);
    note(app, |sounding| (sounding.since, sounding.trouble) = (Some(opened), None));
    while !ended.load(Ordering::Relaxed) {
        if let Err(error) = voice.well() {
            return Some(error);
        }
        let now = clock.now().0;
        note(app, |sounding| (sounding.alive, sounding.alive_at) = (Some(Instant::now()), Some(now)));
        // A voyage that is played at another speed than its own has no rhythm to work to.
        let line = app.beat.laying().filter(|_| clock.runs_true());
        let Some(line) = line else {
            player.skip_to(now);
            std::thread::sleep(IDLE);
            continue;
        };
        match player.step(&line, now) {
            Step::Sleep(wait_s) => std::thread::sleep(Duration::from_secs_f64(wait_s.clamp(0.0, 0.02))),
            Step::Sound(tone) => {
                if let Err(error) = voice.sound(tone.sound.notes()) {
                    return Some(error);
                }
                let begun = clock.now().0;
                note(app, |sounding| {
                    sounding.last_tone = Some(begun);
                    sounding.tones += 1;
                    sounding.latest_s = sounding.latest_s.max(begun.seconds_since(tone.at));
                });
            }
        }
        note(app, |sounding| sounding.passed_over = player.passed_over);
    }
    None
}
