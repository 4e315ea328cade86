//! From a file's bytes to rows of text: encodings, lines to skip, columns, numbers and times as they are written.

use jiff::civil::DateTime;
use jiff::tz::Offset;
use quantity::UtcInstant;

use super::error::RecorderError;
use super::mapping::{Column, Mapping, TimeColumn};

/// A file's rows, ready to be asked for columns.
pub(super) struct Table {
    /// The names of the columns, when there is a header.
    pub names: Option<Vec<String>>,
    /// Line number in the file and the row's fields.
    pub rows: Vec<(u64, csv::StringRecord)>,
    /// Rows that the CSV reader itself refused.
    pub broken: usize,
}

/// When a row was written, before zone and drift are taken off.
pub(super) enum Written {
    /// A moment that is known in UTC.
    Utc(UtcInstant),
    /// The recorder's own clock, as if it showed UTC.
    OwnClock(UtcInstant),
}

/// Bytes as text: UTF-8 and UTF-16 as they are, anything else byte for byte (ISO 8859-1).
pub(super) fn decode(bytes: &[u8]) -> String {
    let wide = |unit: fn([u8; 2]) -> u16| {
        let units = bytes[2..].chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
        char::decode_utf16(units).map(|letter| letter.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    };
    match bytes {
        [0xFF, 0xFE, ..] => wide(u16::from_le_bytes),
        [0xFE, 0xFF, ..] => wide(u16::from_be_bytes),
        _ => match std::str::from_utf8(bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes)) {
            Ok(text) => text.to_owned(),
            Err(_) => bytes.iter().copied().map(char::from).collect(),
        },
    }
}

/// The text before the readings, where a serial number may stand, and the text from the columns on.
pub(super) fn split(text: &str, lines_to_skip: usize) -> (&str, &str) {
    let mut at = 0;
    for _ in 0..lines_to_skip {
        match text[at..].find('\n') {
            Some(end) => at += end + 1,
            None => return (text, ""),
        }
    }
    text.split_at(at)
}

impl Table {
    /// The rows of a text.
    pub fn of(text: &str, mapping: &Mapping) -> Result<Self, RecorderError> {
        let (_, body) = split(text, mapping.lines_to_skip);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(mapping.delimiter_byte()?)
            .trim(csv::Trim::All)
            .from_reader(body.as_bytes());
        let mut table = Self { names: None, rows: Vec::new(), broken: 0 };
        let skipped = u64::try_from(mapping.lines_to_skip).unwrap_or(u64::MAX);
        for record in reader.records() {
            let Ok(record) = record else {
                table.broken += 1;
                continue;
            };
            if mapping.header && table.names.is_none() {
                table.names = Some(record.iter().map(str::to_owned).collect());
                continue;
            }
            if record.iter().all(str::is_empty) {
                continue;
            }
            let line = record.position().map_or(0, csv::Position::line).saturating_add(skipped);
            table.rows.push((line, record));
        }
        Ok(table)
    }

    /// Which field of a row a column is.
    pub fn place_of(&self, column: &Column, file: &str) -> Result<usize, RecorderError> {
        let name = match column {
            Column::Number(number) => return Ok(number.saturating_sub(1)),
            Column::Name(name) => name.trim().to_lowercase(),
        };
        let names = self.names.as_deref().unwrap_or_default();
        names.iter().position(|there| there.trim().to_lowercase() == name).ok_or_else(|| {
            let there: Vec<String> = names.iter().take(20).map(|name| shortened(name)).collect();
            RecorderError::NoColumn {
                file: file.to_owned(),
                column: format!("\"{}\"", shortened(&name)),
                there: if there.is_empty() { "without names".to_owned() } else { there.join(", ") },
            }
        })
    }
}

/// A number as it is written, or what is wrong with it.
pub(super) fn number(text: &str, decimal_mark: &str) -> Result<f64, String> {
    let refuse = || format!("\"{}\" is no number with the decimal mark {decimal_mark}", shortened(text));
    let plain = if decimal_mark == "," {
        if text.contains('.') {
            return Err(refuse());
        }
        text.replace(',', ".")
    } else {
        text.to_owned()
    };
    let value: f64 = plain.trim().parse().map_err(|_| refuse())?;
    if value.is_finite() && value.abs() < 1e6 { Ok(value) } else { Err(refuse()) }
}

/// The moment in a row's time fields, or what is wrong with it.
pub(super) fn written(
    time: &TimeColumn,
    text: &str,
    date: Option<&str>,
    decimal_mark: &str,
) -> Result<Written, String> {
    if let Some(since) = time.seconds_since {
        let count: f64 =
            text.replace(decimal_mark, ".").parse().map_err(|_| format!("\"{}\" is no count", shortened(text)))?;
        let seconds_s = count * time.seconds_per_unit.unwrap_or(1.0);
        return if seconds_s.abs() < 1e11 {
            Ok(Written::Utc(since.plus_seconds(seconds_s)))
        } else {
            Err(format!("\"{}\" is no plausible count", shortened(text)))
        };
    }
    let (text, format) = match (date, &time.date_format, &time.format) {
        (Some(date), Some(date_format), Some(format)) => {
            (format!("{date} {text}"), Some(format!("{date_format} {format}")))
        }
        (_, _, format) => (text.to_owned(), format.clone()),
    };
    let refuse = || match &format {
        Some(format) => format!("\"{}\" is no time such as {format}", shortened(&text)),
        None => format!("\"{}\" is no ISO 8601 time such as 2026-03-04 13:07:45", shortened(&text)),
    };
    let own = |civil: DateTime| {
        let stamp = Offset::UTC.to_timestamp(civil).map_err(|_| refuse())?;
        UtcInstant::from_micros(stamp.as_microsecond()).map(Written::OwnClock).map_err(|_| refuse())
    };
    let Some(format) = &format else {
        if let Ok(utc) = text.parse::<UtcInstant>() {
            return Ok(Written::Utc(utc));
        }
        return own(text.parse().map_err(|_| refuse())?);
    };
    let parts = jiff::fmt::strtime::parse(format, &text).map_err(|_| refuse())?;
    if parts.offset().is_some() {
        let stamp = parts.to_timestamp().map_err(|_| refuse())?;
        return UtcInstant::from_micros(stamp.as_microsecond()).map(Written::Utc).map_err(|_| refuse());
    }
    own(parts.to_datetime().map_err(|_| refuse())?)
}

/// At most 40 letters, none of them a control character.
pub(super) fn shortened(text: &str) -> String {
    text.chars().take(40).map(|letter| if letter.is_control() { '·' } else { letter }).collect()
}
