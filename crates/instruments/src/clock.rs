//! The clock of a stream: which UTC moment a sentence belongs to, when many carry a time but no date.
//!
//! Rule: a dated sentence (RMC, ZDA) carries its own moment. Any other takes the day of the last known moment;
//! when that would lie more than 12 h behind it, the next day (the stream passed midnight); when it would lie
//! almost a whole day ahead, the day before (a late sentence just after midnight).
//! Before any date is known the same rule runs on a day without a name.

use quantity::UtcInstant;

use crate::sentence::{Day, Reading, TimeOfDay};

/// Microseconds of a day.
const DAY_MICROS: i64 = 86_400_000_000;
const HOUR_MICROS: i64 = 3_600_000_000;

/// Where the date comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum DateBasis {
    /// Nobody has given one.
    Unknown,
    /// Given with the command or by a person.
    Given,
    /// RMC or ZDA.
    Sentences,
    /// The computer's own date.
    Computer,
}

/// A moment of a stream. Undated ones count from a day without a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StreamTime {
    /// Microseconds since 1970, or since the midnight before the stream's first time while undated.
    pub micros: i64,
    /// Whether the day is known.
    pub dated: bool,
}

impl StreamTime {
    /// The moment, when its day is known.
    #[must_use]
    pub fn utc(self) -> Option<UtcInstant> {
        self.dated.then(|| UtcInstant::from_micros_clamped(self.micros))
    }

    /// Seconds since the origin.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "microseconds of thousands of years, to a millisecond")]
    pub fn seconds_s(self) -> f64 {
        self.micros as f64 / 1e6
    }
}

/// Follows the times of one stream.
#[derive(Debug, Clone)]
pub struct StreamClock {
    basis: DateBasis,
    last: Option<StreamTime>,
    /// A date without a time yet: the first time of day falls on this very day.
    fresh_day_micros: Option<i64>,
}

impl StreamClock {
    /// A clock, with the UTC day of the stream's first time where someone knows it.
    #[must_use]
    pub fn new(day: Option<UtcInstant>, basis: DateBasis) -> Self {
        let day_micros = day.map(|day| day.midnight().micros());
        Self { basis: if day.is_some() { basis } else { DateBasis::Unknown }, last: None, fresh_day_micros: day_micros }
    }

    /// Where the date now comes from.
    #[must_use]
    pub const fn basis(&self) -> DateBasis {
        self.basis
    }

    /// The last moment.
    #[must_use]
    pub const fn last(&self) -> Option<StreamTime> {
        self.last
    }

    /// The moment of a sentence; none when it carries no time. Fixes and ZDA move the clock on; a void one
    /// does so only in time of day, for its date may be nonsense.
    pub fn time_of(&mut self, reading: &Reading<'_>) -> Option<StreamTime> {
        let time = reading.time?;
        let own_day = reading.date.and_then(day_micros);
        let at = match own_day {
            Some(day_micros) => StreamTime { micros: day_micros + micros(time), dated: true },
            None => self.place(time),
        };
        let moves = matches!(reading.kind, b"RMC" | b"GGA" | b"GLL" | b"ZDA");
        if moves && (own_day.is_none() || reading.valid != Some(false)) {
            if own_day.is_some() {
                self.basis = DateBasis::Sentences;
            }
            self.last = Some(at);
            self.fresh_day_micros = None;
        }
        Some(at)
    }

    fn place(&self, time: TimeOfDay) -> StreamTime {
        let Some(last) = self.last else {
            let dated = self.fresh_day_micros.is_some();
            return StreamTime { micros: self.fresh_day_micros.unwrap_or(0) + micros(time), dated };
        };
        let same_day = last.micros - last.micros.rem_euclid(DAY_MICROS) + micros(time);
        let ahead = same_day - last.micros;
        let at = if ahead < -12 * HOUR_MICROS {
            same_day + DAY_MICROS
        } else if ahead > 23 * HOUR_MICROS + HOUR_MICROS * 5 / 6 {
            same_day - DAY_MICROS
        } else {
            same_day
        };
        StreamTime { micros: at, dated: last.dated }
    }
}

fn micros(time: TimeOfDay) -> i64 {
    i64::from(time.ms) * 1000
}

fn day_micros(day: Day) -> Option<i64> {
    UtcInstant::from_ymd(day.year, day.month, day.day).ok().map(UtcInstant::micros)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sentence::read;

    fn times(day: Option<&str>, bodies: &[&str]) -> Vec<Option<String>> {
        let day = day.map(|day| format!("{day}T00:00:00Z").parse().unwrap());
        let mut clock = StreamClock::new(day, DateBasis::Given);
        bodies
            .iter()
            .map(|body| clock.time_of(&read(body.as_bytes())).and_then(StreamTime::utc).map(|utc| utc.to_string()))
            .collect()
    }

    #[test]
    fn verif_midnight_brings_the_next_day_and_a_late_sentence_the_day_before() {
        let found = times(
            Some("2024-02-28"),
            &[
                "GPZDA,235959,,,,00,",
                "GPGLL,,,,,000001,A,D",
                "GPGLL,,,,,235959.5,A,D",
                "GPGLL,,,,,000002,A,D",
                "GPGLL,,,,,130003,A,D",
            ],
        );
        let expected = ["28T23:59:59Z", "29T00:00:01Z", "28T23:59:59.500Z", "29T00:00:02Z", "29T13:00:03Z"];
        for (ours, theirs) in found.iter().zip(expected) {
            assert_eq!(ours.as_deref(), Some(format!("2024-02-{theirs}").as_str()));
        }
    }

    #[test]
    fn verif_date_comes_from_sentences_and_is_unknown_before() {
        let found =
            times(None, &["GPGLL,,,,,120000,A", "GPRMC,120001,A,,,,,,,040326,,", "GPGGA,120002,,,,,1", "IIMTW,17.9,C"]);
        assert_eq!(found[0], None);
        assert_eq!(found[2].as_deref(), Some("2026-03-04T12:00:02Z"));
        assert_eq!(found[3], None);
    }
}
