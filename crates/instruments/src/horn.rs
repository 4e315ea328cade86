//! The ship's horn: notes made into sound, and (feature `sound`) the computer's sound device that plays them.
//!
//! A note is a sine with a soft attack and fall, so that it does not click; notes are added up and never clip. The
//! device asks for samples all the time, silence too: that it goes on asking is the proof that it lives.
//!
//! Source: the raised-cosine (Hann) ramp, F. J. Harris, "On the use of windows for harmonic analysis with the discrete
//! Fourier transform", Proceedings of the IEEE 66(1), 1978, eq. 23b: SOURCE NOT CHECKED; the tests check the ramp.

use std::f64::consts::PI;

/// Attack and fall of a note, ms: soft enough not to click, short enough to mark a moment (own judgement).
const RAMP_MS: f64 = 8.0;
/// How loud a note is, of what the device can do; two notes together stay below all of it.
const LOUDNESS: f64 = 0.45;

/// One note from the moment at which a sound begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HornNote {
    /// From the beginning of the sound, ms.
    pub after_ms: f64,
    /// How long it lasts, ramps counted, ms.
    pub length_ms: f64,
    /// Its pitch, Hz.
    pub frequency_hz: f64,
}

/// Notes that are sounding, sample by sample.
#[derive(Debug, Clone)]
pub struct Mixer {
    samples_per_s: f64,
    /// Samples made so far.
    made: u64,
    /// The sample at which each note's sound began, and the note.
    notes: Vec<(u64, HornNote)>,
}

impl Mixer {
    /// A mixer for a device of that many samples a second.
    #[must_use]
    pub fn new(samples_per_s: u32) -> Self {
        Self { samples_per_s: f64::from(samples_per_s), made: 0, notes: Vec::new() }
    }

    /// Begins to sound notes with the next sample.
    pub fn sound(&mut self, notes: &[HornNote]) {
        self.notes.extend(notes.iter().map(|note| (self.made, *note)));
    }

    /// Whether anything is still to come.
    #[must_use]
    pub fn sounds(&self) -> bool {
        !self.notes.is_empty()
    }

    /// The next sample, −1 to 1.
    pub fn next_sample(&mut self) -> f64 {
        let (made, samples_per_s) = (self.made, self.samples_per_s);
        let mut sum = 0.0;
        self.notes.retain(|(begun, note)| {
            #[expect(clippy::cast_precision_loss, reason = "a sound lasts some thousands of samples")]
            let since_ms = (made - begun) as f64 / samples_per_s * 1e3 - note.after_ms;
            if since_ms >= 0.0 {
                sum += value(note, since_ms);
            }
            since_ms < note.length_ms
        });
        self.made += 1;
        (sum * LOUDNESS).clamp(-1.0, 1.0)
    }
}

fn value(note: &HornNote, since_ms: f64) -> f64 {
    let left_ms = note.length_ms - since_ms;
    if left_ms <= 0.0 {
        return 0.0;
    }
    let edge = (since_ms.min(left_ms) / RAMP_MS).min(1.0);
    let envelope = 0.5 - 0.5 * (PI * edge).cos();
    envelope * (2.0 * PI * note.frequency_hz * since_ms / 1e3).sin()
}

/// Sounds as a WAV file (RIFF, 16 bit, one channel): each with its beginning in seconds.
#[must_use]
pub fn wav(sounds: &[(f64, Vec<HornNote>)], lasts_s: f64, samples_per_s: u32) -> Vec<u8> {
    let mut mixer = Mixer::new(samples_per_s);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a float cast saturates")]
    let at = |second_s: f64| (second_s * f64::from(samples_per_s)).round() as u64;
    let count = u32::try_from(at(lasts_s)).unwrap_or(0);
    let bytes = count.saturating_mul(2);
    let mut file = Vec::new();
    file.extend(b"RIFF");
    file.extend(bytes.saturating_add(36).to_le_bytes());
    file.extend(b"WAVEfmt ");
    file.extend(16_u32.to_le_bytes());
    // PCM, one channel.
    file.extend([1, 0, 1, 0]);
    file.extend(samples_per_s.to_le_bytes());
    file.extend(samples_per_s.saturating_mul(2).to_le_bytes());
    file.extend([2, 0, 16, 0]);
    file.extend(b"data");
    file.extend(bytes.to_le_bytes());
    for sample in 0..u64::from(count) {
        for (_, notes) in sounds.iter().filter(|(begin_s, _)| at(*begin_s) == sample) {
            mixer.sound(notes);
        }
        #[expect(clippy::cast_possible_truncation, reason = "within −1 and 1")]
        let level = (mixer.next_sample() * f64::from(i16::MAX)).round() as i16;
        file.extend(level.to_le_bytes());
    }
    file
}

#[cfg(feature = "sound")]
pub use device::{Horn, HornError};

#[cfg(feature = "sound")]
mod device {
    //! The sound device of this computer.

    use std::sync::atomic::{AtomicU64, Ordering};
    use std::sync::{Arc, Mutex, PoisonError};
    use std::time::{Duration, Instant};

    use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
    use cpal::{FromSample, SampleFormat, SizedSample, Stream, StreamConfig};

    use super::{HornNote, Mixer};

    /// A device that asks for no samples for so long has stopped.
    const PATIENCE: Duration = Duration::from_millis(800);

    /// Why nothing sounds.
    #[derive(Debug, thiserror::Error)]
    pub enum HornError {
        /// There is none.
        #[error("this computer has no sound device that can be used")]
        NoDevice,
        /// It cannot be opened, or broke.
        #[error("{said}")]
        Device {
            /// What the system said.
            said: String,
        },
    }

    #[derive(Debug, Default)]
    struct Shared {
        mixer: Mutex<Option<Mixer>>,
        /// How often the device has asked.
        asked: AtomicU64,
        broken: Mutex<Option<String>>,
    }

    /// An open sound device; closed when dropped.
    pub struct Horn {
        shared: Arc<Shared>,
        /// How often the device had asked when that last changed, and when.
        heard: (u64, Instant),
        _stream: Stream,
    }

    fn said(error: &impl std::fmt::Display) -> HornError {
        HornError::Device { said: error.to_string() }
    }

    impl Horn {
        /// Opens the usual output device of this computer.
        ///
        /// # Errors
        /// [`HornError`] when there is none or it does not open.
        pub fn open() -> Result<Self, HornError> {
            let device = cpal::default_host().default_output_device().ok_or(HornError::NoDevice)?;
            let config = device.default_output_config().map_err(|error| said(&error))?;
            let shared = Arc::new(Shared::default());
            let format = config.sample_format();
            let config: StreamConfig = config.into();
            *shared.mixer.lock().unwrap_or_else(PoisonError::into_inner) = Some(Mixer::new(config.sample_rate));
            let stream = match format {
                SampleFormat::F32 => stream::<f32>(&device, config, &shared),
                SampleFormat::I16 => stream::<i16>(&device, config, &shared),
                SampleFormat::I32 => stream::<i32>(&device, config, &shared),
                SampleFormat::U16 => stream::<u16>(&device, config, &shared),
                SampleFormat::U8 => stream::<u8>(&device, config, &shared),
                SampleFormat::F64 => stream::<f64>(&device, config, &shared),
                other => Err(HornError::Device { said: format!("its sample format {other} is not known here") }),
            }?;
            stream.play().map_err(|error| said(&error))?;
            Ok(Self { shared, heard: (0, Instant::now()), _stream: stream })
        }

        /// Begins to sound notes now.
        ///
        /// # Errors
        /// [`HornError`] when the device has broken.
        pub fn sound(&mut self, notes: &[HornNote]) -> Result<(), HornError> {
            self.well()?;
            if let Some(mixer) = self.shared.mixer.lock().unwrap_or_else(PoisonError::into_inner).as_mut() {
                mixer.sound(notes);
            }
            Ok(())
        }

        /// Whether the device still asks for samples.
        ///
        /// # Errors
        /// [`HornError`] when it has broken or stands still.
        pub fn well(&mut self) -> Result<(), HornError> {
            if let Some(said) = self.shared.broken.lock().unwrap_or_else(PoisonError::into_inner).clone() {
                return Err(HornError::Device { said });
            }
            let asked = self.shared.asked.load(Ordering::Relaxed);
            if asked != self.heard.0 {
                self.heard = (asked, Instant::now());
            } else if self.heard.1.elapsed() > PATIENCE {
                return Err(HornError::Device { said: "it takes no more sound".to_owned() });
            }
            Ok(())
        }
    }

    fn stream<T: SizedSample + FromSample<f32>>(
        device: &cpal::Device,
        config: StreamConfig,
        shared: &Arc<Shared>,
    ) -> Result<Stream, HornError> {
        let channels = usize::from(config.channels).max(1);
        let (asked, broke) = (Arc::clone(shared), Arc::clone(shared));
        let fill = move |samples: &mut [T], _: &cpal::OutputCallbackInfo| {
            asked.asked.fetch_add(1, Ordering::Relaxed);
            let mut mixer = asked.mixer.lock().unwrap_or_else(PoisonError::into_inner);
            for frame in samples.chunks_mut(channels) {
                #[expect(clippy::cast_possible_truncation, reason = "a sample within −1 and 1")]
                let level = mixer.as_mut().map_or(0.0, Mixer::next_sample) as f32;
                frame.fill(T::from_sample(level));
            }
        };
        let fault = move |error: cpal::Error| {
            use cpal::ErrorKind::{DeviceChanged, RealtimeDenied, Xrun};
            // A gap in the sound, or a slower thread, is no end of it.
            if !matches!(error.kind(), DeviceChanged | RealtimeDenied | Xrun) {
                *broke.broken.lock().unwrap_or_else(PoisonError::into_inner) = Some(error.to_string());
            }
        };
        device.build_output_stream(config, fill, fault, None).map_err(|error| said(&error))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    fn samples(notes: &[HornNote], count: usize) -> Vec<f64> {
        let mut mixer = Mixer::new(RATE);
        mixer.sound(notes);
        (0..count).map(|_| mixer.next_sample()).collect()
    }

    #[test]
    fn verif_a_note_has_its_pitch_its_length_and_a_soft_attack() {
        let note = HornNote { after_ms: 20.0, length_ms: 70.0, frequency_hz: 880.0 };
        let heard = samples(&[note], 4_800);
        assert!(heard[..960].iter().all(|level| level.abs() < 1e-12), "silent before it");
        assert!(heard[4_320..].iter().all(|level| level.abs() < 1e-12), "and after it");
        // Crossings upward: 880 a second over 70 ms.
        let crossings = heard.windows(2).filter(|two| two[0] <= 0.0 && two[1] > 0.0).count();
        assert!((61..=62).contains(&crossings), "{crossings}");
        let loudest = heard.iter().fold(0.0_f64, |most, level| most.max(level.abs()));
        assert!((loudest - LOUDNESS).abs() < 0.01);
        // No jump from sample to sample beyond that of the steady tone.
        let steepest = 2.0 * PI * 880.0 / f64::from(RATE) * LOUDNESS;
        assert!(heard.windows(2).all(|two| (two[1] - two[0]).abs() <= steepest * 1.05));
        assert!(heard[960..1_008].iter().all(|level| level.abs() < 0.1 * LOUDNESS), "the first millisecond is soft");
    }

    #[test]
    fn verif_notes_together_never_clip_and_are_given_up_when_over() {
        let note = HornNote { after_ms: 0.0, length_ms: 80.0, frequency_hz: 660.0 };
        let mut mixer = Mixer::new(RATE);
        for _ in 0..5 {
            mixer.sound(&[note]);
        }
        assert!((0..RATE).all(|_| mixer.next_sample().abs() <= 1.0));
        assert!(!mixer.sounds());
    }

    #[test]
    fn verif_a_wav_file_holds_each_sound_at_its_sample() {
        let note = HornNote { after_ms: 0.0, length_ms: 60.0, frequency_hz: 880.0 };
        let file = wav(&[(0.0, vec![note]), (0.3, vec![note])], 0.5, RATE);
        assert_eq!((&file[..4], &file[8..16], file.len()), (&b"RIFF"[..], &b"WAVEfmt "[..], 44 + 48_000));
        let level = |sample: usize| i16::from_le_bytes([file[44 + 2 * sample], file[45 + 2 * sample]]);
        let loud = |from: usize, to: usize| (from..to).any(|sample| level(sample).abs() > 1_000);
        assert!(loud(0, 2_880) && !loud(2_880, 14_400) && loud(14_400, 17_280) && !loud(17_280, 24_000));
        assert_eq!(level(480), level(14_400 + 480));
    }
}
