//! Words and figures for a page: escaped text, parted thousands, positions, ship's clocks with their dates.

use quantity::{Position, UtcInstant};
use serde_json::Value;

const DAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Text that can stand in HTML and SVG, in elements and in quoted attributes.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            control if control.is_control() => safe.push(' '),
            other => safe.push(other),
        }
    }
    safe
}

/// A count with its thousands parted by a thin space that does not break.
#[must_use]
pub fn count(number: usize) -> String {
    let digits = number.to_string();
    let mut parted = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            parted.push('\u{202f}');
        }
        parted.push(digit);
    }
    parted
}

/// `1 hook`, `2 hooks`.
#[must_use]
pub fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(number), if number == 1 { one } else { many })
}

/// Degrees and minutes to a thousandth: `14°31.500′ S`.
#[must_use]
pub fn latitude(latitude_deg: f64) -> String {
    degrees_minutes(latitude_deg, 2, ['N', 'S'])
}

/// Degrees and minutes to a thousandth: `179°22.000′ E`.
#[must_use]
pub fn longitude(longitude_deg: f64) -> String {
    degrees_minutes(longitude_deg, 3, ['E', 'W'])
}

/// A position on two lines of a page.
#[must_use]
pub fn position(at: Option<Position>) -> String {
    at.map_or_else(
        || "— <small>position not recorded</small>".to_owned(),
        |at| format!("{} {}", latitude(at.latitude_deg()), longitude(at.longitude_deg())),
    )
}

fn degrees_minutes(degrees: f64, width: usize, letters: [char; 2]) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "at most 180 × 60 000")]
    let thousandths = (degrees.abs() * 60_000.0).round() as i64;
    let letter = if degrees < 0.0 { letters[1] } else { letters[0] };
    let (whole, rest) = (thousandths / 60_000, thousandths % 60_000);
    format!("{whole:0width$}°{:02}.{:03}′\u{a0}{letter}", rest / 1000, rest % 1000)
}

/// A graticule label: whole minutes, `14°30′ S`, or `180°`.
#[must_use]
pub fn latitude_short(latitude_deg: f64) -> String {
    short(latitude_deg, ['N', 'S'])
}

/// A graticule label: whole minutes, `179°30′ E`, or `180°`.
#[must_use]
pub fn longitude_short(longitude_deg: f64) -> String {
    short(longitude_deg, ['E', 'W'])
}

fn short(degrees: f64, letters: [char; 2]) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "at most 180 × 60")]
    let minutes = (degrees.abs() * 60.0).round() as i64;
    if minutes % 10_800 == 0 {
        return format!("{}°", minutes / 60);
    }
    let letter = if degrees < 0.0 { letters[1] } else { letters[0] };
    format!("{}°{:02}′\u{a0}{letter}", minutes / 60, minutes % 60)
}

/// A ship's clock.
#[derive(Debug, Clone, Copy)]
pub struct Clock {
    /// Ship time minus UTC, minutes; none where it was not entered and UTC stands.
    pub offset_min: Option<i64>,
}

impl Clock {
    fn ship(self, at: UtcInstant) -> UtcInstant {
        #[expect(clippy::cast_precision_loss, reason = "an offset is less than a day")]
        at.plus_seconds(self.offset_min.unwrap_or(0) as f64 * 60.0)
    }

    /// `UTC+13`, `UTC−03:30` or `UTC`.
    #[must_use]
    pub fn name(self) -> String {
        match self.offset_min {
            None | Some(0) => "UTC".to_owned(),
            Some(offset) => {
                let sign = if offset < 0 { '−' } else { '+' };
                let (hours, minutes) = (offset.abs() / 60, offset.abs() % 60);
                if minutes == 0 { format!("UTC{sign}{hours}") } else { format!("UTC{sign}{hours}:{minutes:02}") }
            }
        }
    }

    /// `02:00`, to the minute gone.
    #[must_use]
    pub fn hour_minute(self, at: UtcInstant) -> String {
        #[expect(clippy::cast_possible_truncation, reason = "less than a day of seconds")]
        let minutes = (self.ship(at).second_of_day_s() / 60.0) as i64;
        format!("{:02}:{:02}", minutes / 60, minutes % 60)
    }

    /// `Wed 3 March 02:00`.
    #[must_use]
    pub fn date_time(self, at: UtcInstant) -> String {
        let (_, month, day) = self.ship(at).ymd();
        format!("{} {day} {} {}", self.weekday(at), month_name(month), self.hour_minute(at))
    }

    /// `3 March 2031`.
    #[must_use]
    pub fn date(self, at: UtcInstant) -> String {
        let (year, month, day) = self.ship(at).ymd();
        format!("{day} {} {year}", month_name(month))
    }

    /// `3 and 4 March 2031`, or one date.
    #[must_use]
    pub fn dates(self, from: UtcInstant, to: UtcInstant) -> String {
        let (first, last) = (self.ship(from).ymd(), self.ship(to).ymd());
        if first == last {
            self.date(from)
        } else if first.0 == last.0 && first.1 == last.1 {
            let joint = if last.2 == first.2 + 1 { "and" } else { "to" };
            format!("{} {joint} {}", first.2, self.date(to))
        } else {
            format!("{} to {}", self.date(from), self.date(to))
        }
    }

    fn weekday(self, at: UtcInstant) -> &'static str {
        // 1970-01-01 was a Thursday.
        let days = UtcInstant::from_ymd(1970, 1, 1)
            .map_or(0.0, |epoch| self.ship(at).midnight().seconds_since(epoch) / 86_400.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 6")]
        let index = (days.round() + 3.0).rem_euclid(7.0) as usize;
        DAYS.get(index).copied().unwrap_or("")
    }
}

fn month_name(month: i8) -> &'static str {
    usize::try_from(month - 1).ok().and_then(|index| MONTHS.get(index)).copied().unwrap_or("")
}

/// `5 h 03 min`.
#[must_use]
pub fn duration(seconds_s: f64) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "a set lasts days, not ages")]
    let minutes = (seconds_s / 60.0).round() as i64;
    if minutes.abs() < 60 {
        format!("{minutes} min")
    } else {
        format!("{} h {:02} min", minutes / 60, minutes.abs() % 60)
    }
}

/// A value as the crew entered it, in words: text as it is, lists with commas, objects as `name value`.
#[must_use]
pub fn value(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Number(number) => number.to_string(),
        Value::Array(items) => items.iter().map(self::value).collect::<Vec<_>>().join(", "),
        Value::Object(map) => map
            .iter()
            .map(|(key, inner)| format!("{} {}", key.replace('_', " "), self::value(inner)))
            .collect::<Vec<_>>()
            .join(", "),
    }
}
