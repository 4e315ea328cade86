//! The ship's UTC: satellite time from the instruments where there is one, else the computer's clock, and which.
//!
//! The last satellite time is carried on by the computer's steady counter, so that a step of its clock does no harm.
//! A quartz runs off by some tens of millionths: after an hour without satellites by a fifth of a second at most,
//! and then the computer's own clock is as good a word (own judgement).

use std::sync::{PoisonError, RwLock};
use std::time::{Duration, Instant, SystemTime};

use quantity::UtcInstant;
use serde::Serialize;
use utoipa::ToSchema;

/// How long a satellite time is carried on.
const CARRIED: Duration = Duration::from_secs(3_600);

/// What the ship's time rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TimeBasis {
    /// The satellites, within the last hour.
    Satellite,
    /// The computer's own clock.
    Computer,
    /// A voyage that is played.
    Played,
}

impl TimeBasis {
    /// The word in the journal.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Satellite => "satellite",
            Self::Computer => "computer",
            Self::Played => "played",
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Anchor {
    utc: UtcInstant,
    at: Instant,
    rate: f64,
    basis: TimeBasis,
}

/// Tells the ship's time.
#[derive(Debug, Default)]
pub struct ShipClock {
    anchor: RwLock<Option<Anchor>>,
}

impl ShipClock {
    /// The ship's time now and what it rests on.
    #[must_use]
    pub fn now(&self) -> (UtcInstant, TimeBasis) {
        self.at(Instant::now())
    }

    /// Seconds of the ship's time in a second: 1, but for a voyage that is played.
    #[must_use]
    pub fn rate(&self) -> f64 {
        let anchor = *self.anchor.read().unwrap_or_else(PoisonError::into_inner);
        anchor.filter(|anchor| anchor.basis == TimeBasis::Played).map_or(1.0, |anchor| anchor.rate)
    }

    fn at(&self, now: Instant) -> (UtcInstant, TimeBasis) {
        let anchor = *self.anchor.read().unwrap_or_else(PoisonError::into_inner);
        match anchor {
            Some(anchor) if anchor.basis == TimeBasis::Played || now.saturating_duration_since(anchor.at) < CARRIED => {
                let passed_s = now.saturating_duration_since(anchor.at).as_secs_f64();
                (anchor.utc.plus_seconds(passed_s * anchor.rate), anchor.basis)
            }
            _ => (computer_utc(), TimeBasis::Computer),
        }
    }

    /// Whether the ship's time runs as time does: not where a voyage is played slower or faster than it was.
    #[must_use]
    pub fn runs_true(&self) -> bool {
        let anchor = *self.anchor.read().unwrap_or_else(PoisonError::into_inner);
        anchor.is_none_or(|anchor| (anchor.rate - 1.0).abs() < 1e-9)
    }

    /// The satellites say that it was `utc` at `heard`.
    pub fn satellites_say(&self, utc: UtcInstant, heard: Instant) {
        self.set(Anchor { utc, at: heard, rate: 1.0, basis: TimeBasis::Satellite });
    }

    /// A voyage is played: it is `utc` now and runs on at `rate`.
    pub fn play(&self, utc: UtcInstant, rate: f64) {
        self.set(Anchor { utc, at: Instant::now(), rate, basis: TimeBasis::Played });
    }

    fn set(&self, anchor: Anchor) {
        *self.anchor.write().unwrap_or_else(PoisonError::into_inner) = Some(anchor);
    }
}

/// The computer's clock.
pub(crate) fn computer_utc() -> UtcInstant {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    UtcInstant::from_micros_clamped(i64::try_from(since.as_micros()).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_satellite_time_is_carried_on_for_an_hour() {
        let clock = ShipClock::default();
        let heard = Instant::now();
        assert_eq!(clock.at(heard).1, TimeBasis::Computer);
        let utc: UtcInstant = "2031-03-02T05:06:07Z".parse().unwrap();
        clock.satellites_say(utc, heard);
        assert_eq!(clock.at(heard + Duration::from_secs(600)), (utc.plus_seconds(600.0), TimeBasis::Satellite));
        assert_eq!(clock.at(heard + CARRIED).1, TimeBasis::Computer);
    }

    #[test]
    fn verif_a_played_voyage_runs_at_its_own_rate() {
        let clock = ShipClock::default();
        let utc: UtcInstant = "2026-03-09T15:00:00Z".parse().unwrap();
        clock.play(utc, 60.0);
        let later = clock.at(Instant::now() + Duration::from_secs(7_200));
        assert_eq!(later.1, TimeBasis::Played);
        assert!((later.0.seconds_since(utc) - 60.0 * 7_200.0).abs() < 60.0);
        assert!((clock.rate() - 60.0).abs() < 1e-9 && (ShipClock::default().rate() - 1.0).abs() < 1e-9);
    }
}
