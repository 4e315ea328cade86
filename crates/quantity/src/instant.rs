//! A moment in UTC, kept as whole microseconds since 1970-01-01T00:00:00Z.
//!
//! On the wire: RFC 3339 (IETF 2002, "Date and Time on the Internet: Timestamps"), always `Z`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A moment in UTC; whole microseconds since 1970-01-01T00:00:00Z. Leap seconds do not exist in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UtcInstant(i64);

/// Why a text or a number is not a moment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InstantError {
    /// The text is not an RFC 3339 date and time with an offset.
    #[error("\"{text}\" is not a date and time such as 2026-03-04T13:07:45Z")]
    NotRfc3339 {
        /// The text as it came.
        text: String,
    },
    /// The moment lies outside the years that a calendar can show.
    #[error("{micros} microseconds since 1970 lie outside the years 1 to 9999")]
    OutOfRange {
        /// Microseconds since 1970-01-01T00:00:00Z.
        micros: i64,
    },
}

/// 0001-01-01T00:00:00Z and 9999-12-30T00:00:00Z.
const RANGE_MICROS: std::ops::RangeInclusive<i64> = -62_135_596_800_000_000..=253_402_128_000_000_000;

impl UtcInstant {
    /// From whole microseconds since 1970.
    ///
    /// # Errors
    /// [`InstantError::OutOfRange`] outside the years 1 to 9999.
    pub fn from_micros(micros: i64) -> Result<Self, InstantError> {
        if RANGE_MICROS.contains(&micros) { Ok(Self(micros)) } else { Err(InstantError::OutOfRange { micros }) }
    }

    /// From microseconds, held at the ends of the years 1 to 9999.
    #[must_use]
    pub fn from_micros_clamped(micros: i64) -> Self {
        Self(micros.clamp(*RANGE_MICROS.start(), *RANGE_MICROS.end()))
    }

    /// Whole microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// Seconds from `earlier` to `self`; negative when `self` is the earlier one.
    #[must_use]
    pub fn seconds_since(self, earlier: Self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "differences within a century stay below 2^53 µs")]
        let micros = self.0.saturating_sub(earlier.0) as f64;
        micros / 1e6
    }

    /// This moment moved by `seconds_s` (rounded to a microsecond, held at the ends of the calendar).
    #[must_use]
    pub fn plus_seconds(self, seconds_s: f64) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a float cast saturates; the clamp follows")]
        let step = (seconds_s * 1e6).round() as i64;
        Self::from_micros_clamped(self.0.saturating_add(step))
    }

    /// Midnight UTC of a calendar day.
    ///
    /// # Errors
    /// [`InstantError::NotRfc3339`] when there is no such day.
    pub fn from_ymd(year: i16, month: i8, day: i8) -> Result<Self, InstantError> {
        let date = jiff::civil::Date::new(year, month, day)
            .map_err(|_| InstantError::NotRfc3339 { text: format!("{year:04}-{month:02}-{day:02}") })?;
        let days = date.since(jiff::civil::date(1970, 1, 1)).map_or(0, |span| i64::from(span.get_days()));
        Self::from_micros(days * 86_400_000_000)
    }

    /// `(year, month, day)` of the UTC day that this moment lies in.
    #[must_use]
    pub fn ymd(self) -> (i16, i8, i8) {
        let date = self.civil().date();
        (date.year(), date.month(), date.day())
    }

    /// Seconds since midnight UTC, in [0, 86 400).
    #[must_use]
    pub fn second_of_day_s(self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "below 86 400 000 000")]
        let micros = self.0.rem_euclid(86_400_000_000) as f64;
        micros / 1e6
    }

    /// Midnight UTC of the day that this moment lies in.
    #[must_use]
    pub fn midnight(self) -> Self {
        Self(self.0 - self.0.rem_euclid(86_400_000_000))
    }

    fn civil(self) -> jiff::civil::DateTime {
        // The range is checked on every way in, so jiff's own range always holds it.
        let stamp = jiff::Timestamp::from_microsecond(self.0).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        jiff::tz::Offset::UTC.to_datetime(stamp)
    }
}

impl FromStr for UtcInstant {
    type Err = InstantError;

    fn from_str(text: &str) -> Result<Self, InstantError> {
        let refuse = || InstantError::NotRfc3339 { text: text.chars().take(64).collect() };
        let stamp: jiff::Timestamp = text.parse().map_err(|_| refuse())?;
        Self::from_micros(stamp.as_microsecond())
    }
}

impl fmt::Display for UtcInstant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let civil = self.civil();
        write!(
            f,
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}",
            civil.year(),
            civil.month(),
            civil.day(),
            civil.hour(),
            civil.minute(),
            civil.second()
        )?;
        let micros = self.0.rem_euclid(1_000_000);
        if micros == 0 {
            write!(f, "Z")
        } else if micros % 1000 == 0 {
            write!(f, ".{:03}Z", micros / 1000)
        } else {
            write!(f, ".{micros:06}Z")
        }
    }
}

impl Serialize for UtcInstant {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for UtcInstant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Text;
        impl serde::de::Visitor<'_> for Text {
            type Value = UtcInstant;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a date and time such as \"2026-03-04T13:07:45Z\"")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<UtcInstant, E> {
                text.parse().map_err(E::custom)
            }
        }
        deserializer.deserialize_str(Text)
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for UtcInstant {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .format(Some(utoipa::openapi::SchemaFormat::KnownFormat(utoipa::openapi::KnownFormat::DateTime)))
            .description(Some("RFC 3339 date and time in UTC"))
            .into()
    }
}

#[cfg(feature = "schema")]
impl utoipa::ToSchema for UtcInstant {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_text_and_back_keeps_the_microsecond() {
        for text in ["2026-03-04T13:07:45Z", "1969-12-31T23:59:59.999Z", "2024-02-29T00:00:00.000001Z"] {
            assert_eq!(text.parse::<UtcInstant>().unwrap().to_string(), text);
        }
        let with_offset: UtcInstant = "2026-03-04T13:07:45+13:00".parse().unwrap();
        assert_eq!(with_offset.to_string(), "2026-03-04T00:07:45Z");
    }

    #[test]
    fn verif_days_and_seconds() {
        let noon: UtcInstant = "2024-02-29T12:00:00Z".parse().unwrap();
        assert_eq!(noon.ymd(), (2024, 2, 29));
        assert_eq!(noon.midnight(), UtcInstant::from_ymd(2024, 2, 29).unwrap());
        assert_eq!(noon.seconds_since(noon.midnight()).to_bits(), 43_200.0_f64.to_bits());
        assert_eq!(noon.plus_seconds(-43_200.0), noon.midnight());
        assert!(UtcInstant::from_ymd(2023, 2, 29).is_err());
    }

    #[test]
    fn verif_nonsense_is_refused_in_a_sentence() {
        let error = "yesterday".parse::<UtcInstant>().unwrap_err();
        assert!(error.to_string().contains("yesterday"));
    }
}
