//! Doubts about a stream: kept, counted and told, never a reason to drop data.

/// Something about a stream that a person should know.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Doubt {
    /// What sort, one word in snake case.
    pub kind: String,
    /// One plain sentence.
    pub text: String,
}

impl Doubt {
    /// A doubt.
    pub fn new(kind: &str, text: impl Into<String>) -> Self {
        Self { kind: kind.to_owned(), text: text.into() }
    }
}

/// The program's own day of birth: GPS receivers that lost count of weeks (1,024 weeks, Aug 1999, Apr 2019,
/// Nov 2038; gpsd "NMEA Revealed") show dates before it.
const EARLIEST_YEAR: i16 = 2020;
const LATEST_YEAR: i16 = 2037;

/// A doubt about a date that came from the sentences.
#[must_use]
pub fn about_date(utc: quantity::UtcInstant) -> Option<Doubt> {
    let (year, month, day) = utc.ymd();
    (!(EARLIEST_YEAR..=LATEST_YEAR).contains(&year)).then(|| {
        Doubt::new(
            "date_unlikely",
            format!(
                "the receiver says {year:04}-{month:02}-{day:02}; receivers that lost count of the GPS weeks are \
                 1,024 weeks off. The times are kept as sent; compare with another clock."
            ),
        )
    })
}
