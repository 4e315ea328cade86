//! The beat on this computer's own loudspeaker: the score of `voyage` through the sound device of `instruments`.
//!
//! Built in with the feature `sound`; without it the flags say so in one sentence and nothing is started.

#[cfg(not(feature = "sound"))]
use bridge::VoiceMaker;

#[cfg(not(feature = "sound"))]
use crate::plumbing::Failure;

/// What sounds the beat.
///
/// # Errors
/// [`Failure`] when this program was built without sound.
#[cfg(not(feature = "sound"))]
pub fn voice() -> Result<VoiceMaker, Failure> {
    Err(without())
}

/// Sounds each tone once.
///
/// # Errors
/// [`Failure`] when this program was built without sound.
#[cfg(not(feature = "sound"))]
pub fn test() -> Result<(), Failure> {
    Err(without())
}

#[cfg(not(feature = "sound"))]
fn without() -> Failure {
    Failure::BadInput(
        "this program was built without sound (cargo build --features sound, with the ALSA headers); nothing was started."
            .to_owned(),
    )
}

#[cfg(feature = "sound")]
pub use with::{test, voice};

#[cfg(feature = "sound")]
mod with {
    //! With the sound device.

    use std::time::Duration;

    use bridge::{Voice, VoiceError, VoiceMaker};
    use instruments::horn::{Horn, HornError, HornNote};
    use voyage::score::{Note, Sound};

    use crate::plumbing::{Failure, write_line};

    struct Loudspeaker(Horn);

    fn notes_of(notes: &[Note]) -> Vec<HornNote> {
        notes
            .iter()
            .map(|note| HornNote {
                after_ms: f64::from(note.after_ms),
                length_ms: f64::from(note.length_ms),
                frequency_hz: f64::from(note.frequency_hz),
            })
            .collect()
    }

    fn why(error: HornError) -> VoiceError {
        match error {
            HornError::NoDevice => VoiceError::NoDevice,
            HornError::Device { said } => VoiceError::Device { said },
        }
    }

    impl Voice for Loudspeaker {
        fn sound(&mut self, notes: &[Note]) -> Result<(), VoiceError> {
            self.0.sound(&notes_of(notes)).map_err(why)
        }

        fn well(&mut self) -> Result<(), VoiceError> {
            self.0.well().map_err(why)
        }
    }

    fn open() -> Result<Loudspeaker, VoiceError> {
        Horn::open().map(Loudspeaker).map_err(why)
    }

    /// What sounds the beat; a device that is not there now is looked for again while the server runs.
    pub fn voice() -> Result<VoiceMaker, Failure> {
        Ok(VoiceMaker::new(|| open().map(|voice| Box::new(voice) as Box<dyn Voice>)))
    }

    /// Sounds each tone once, with its name.
    pub fn test() -> Result<(), Failure> {
        let failed = |error: VoiceError| Failure::Failed(format!("{error}; nothing sounded. Look at plug and volume."));
        let mut voice = open().map_err(failed)?;
        for sound in Sound::ALL {
            let name = serde_json::to_value(sound).map_err(Failure::failed)?;
            write_line(name.as_str().unwrap_or("tone"))?;
            voice.sound(sound.notes()).map_err(failed)?;
            std::thread::sleep(Duration::from_millis(900));
        }
        voice.well().map_err(failed)?;
        write_line("Each tone was given to the sound device; whether it was heard only you can say.")
    }
}
