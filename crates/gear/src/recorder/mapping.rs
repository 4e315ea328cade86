//! The column mapping: which column of a recorder's text file is what, in which unit and zone, and where it hung.
//!
//! Our own plain words; every maker's export can be described. Nothing is guessed: what a file needs and the mapping does
//! not say is refused with the field's name, and a word that the mapping does not know is refused too.

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};

use super::error::RecorderError;
use super::placement::{ClockAhead, Placement};

/// How the files of a batch of recorders are to be read, and where each recorder hung.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Mapping {
    /// The one character between columns, or the word `tab`; a comma when left out.
    #[serde(default = "comma")]
    pub delimiter: String,
    /// `.` or `,` within numbers; `.` when left out.
    #[serde(default = "point")]
    pub decimal_mark: String,
    /// Lines before the columns begin.
    #[serde(default)]
    pub lines_to_skip: usize,
    /// Whether the next line after those names the columns; true when left out.
    #[serde(default = "yes")]
    pub header: bool,
    /// Where the time stands.
    pub time: TimeColumn,
    /// Where depth stands, if the file has depth.
    pub depth: Option<DepthColumn>,
    /// Where pressure stands, if the file has pressure. One of depth and pressure is needed, not both.
    pub pressure: Option<PressureColumn>,
    /// The column of the temperature in °C, if it is wanted.
    pub temperature: Option<Column>,
    /// Hours that the recorders' clocks were set ahead of UTC (New Zealand standard time 12, Peru −5). Needed unless the
    /// times bear their own offset or are `seconds_since`.
    pub time_zone_utc_h: Option<f64>,
    /// How far the recorders' clocks ran ahead, if that was measured.
    pub clock: Option<ClockAhead>,
    /// What the recorders showed at the surface, metres (pressure is turned into metres first). When left out it is
    /// measured from the readings before and after they were in the water.
    pub surface_offset_m: Option<f64>,
    /// Latitude of the set, degrees, north positive: needed to turn pressure into depth when the set does not say it.
    pub latitude_deg: Option<f64>,
    /// The recorders and where they hung.
    pub recorders: Vec<Placement>,
}

/// A column, by its name in the header or its number from 1.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Column {
    /// Its number, from 1.
    Number(usize),
    /// Its name in the header line; capitals and blanks around it do not matter.
    Name(String),
}

/// Where and how the time is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TimeColumn {
    /// The column of the time, or of date and time together.
    pub column: Column,
    /// Its format, such as `%d.%m.%Y %H:%M:%S`; ISO 8601 when left out.
    pub format: Option<String>,
    /// The column of the date, when it stands apart.
    pub date_column: Option<Column>,
    /// The date's format, such as `%Y-%m-%d`.
    pub date_format: Option<String>,
    /// The column counts from this moment in UTC; the time zone is not applied then.
    pub seconds_since: Option<UtcInstant>,
    /// Seconds in one unit of that count (86400 for days); 1 when left out.
    pub seconds_per_unit: Option<f64>,
}

/// A column of depths.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DepthColumn {
    /// The column.
    pub column: Column,
    /// The unit.
    pub unit: DepthUnit,
    /// Which way its numbers grow; `down` when left out, and doubted when the readings look otherwise.
    pub positive: Option<Positive>,
}

/// Units of depth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum DepthUnit {
    /// Metres.
    #[serde(rename = "m")]
    Metre,
    /// Fathoms of 1.8288 m.
    #[serde(rename = "fathom")]
    Fathom,
    /// Feet of 0.3048 m.
    #[serde(rename = "ft")]
    Foot,
}

/// Which way numbers grow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Positive {
    /// Deeper is more.
    Down,
    /// Deeper is less: −300 is 300 m down.
    Up,
}

/// A column of pressures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PressureColumn {
    /// The column.
    pub column: Column,
    /// The unit.
    pub unit: PressureUnit,
    /// Whether the pressure of the air is in the numbers.
    pub atmosphere: Atmosphere,
    /// The pressure of the air to take off when it is included, hPa; 1013.25 when left out.
    pub atmosphere_hpa: Option<f64>,
}

/// Units of pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum PressureUnit {
    /// Decibars.
    Dbar,
    /// Bars.
    Bar,
    /// Pounds-force per square inch.
    Psi,
    /// Kilopascals.
    Kpa,
    /// Hectopascals, that is millibars.
    Hpa,
}

/// Whether the air's pressure is in a pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Atmosphere {
    /// Some 1013 hPa at the surface.
    Included,
    /// About 0 at the surface.
    TakenOff,
}

impl Mapping {
    /// Refuses what cannot be read by it.
    ///
    /// # Errors
    /// [`RecorderError::Mapping`] with the field and what is wrong with it.
    pub fn check(&self) -> Result<(), RecorderError> {
        self.delimiter_byte()?;
        if self.decimal_mark != "." && self.decimal_mark != "," {
            return refuse("decimal_mark", format!("is \"{}\"; it must be . or ,", self.decimal_mark));
        }
        if self.decimal_mark == self.delimiter {
            return refuse("decimal_mark", "is the same as the delimiter".to_owned());
        }
        match (&self.depth, &self.pressure) {
            (None, None) => {
                return refuse("depth", "is missing, and pressure too; say which column holds one".to_owned());
            }
            (Some(_), Some(_)) => return refuse("depth", "and pressure are both given; keep one of them".to_owned()),
            _ => {}
        }
        self.time.check()?;
        check_column("depth.column", self.depth.as_ref().map(|depth| &depth.column), self.header)?;
        check_column("pressure.column", self.pressure.as_ref().map(|pressure| &pressure.column), self.header)?;
        check_column("temperature", self.temperature.as_ref(), self.header)?;
        check_column("time.column", Some(&self.time.column), self.header)?;
        check_column("time.date_column", self.time.date_column.as_ref(), self.header)?;
        let air_hpa = self.pressure.as_ref().and_then(|pressure| pressure.atmosphere_hpa);
        within("pressure.atmosphere_hpa", air_hpa, 800.0..=1100.0, "800 to 1100 hPa")?;
        within("latitude_deg", self.latitude_deg, -90.0..=90.0, "-90 to 90")?;
        check_offsets("", self.time_zone_utc_h, self.clock, self.surface_offset_m)?;
        self.recorders.iter().enumerate().try_for_each(|(index, recorder)| recorder.check(index + 1))
    }

    /// The delimiter as the byte that it is.
    ///
    /// # Errors
    /// [`RecorderError::Mapping`] when it is not one plain character.
    pub fn delimiter_byte(&self) -> Result<u8, RecorderError> {
        match self.delimiter.as_bytes() {
            b"tab" => Ok(b'\t'),
            [byte] if byte.is_ascii() && !matches!(byte, b'"' | b'\r' | b'\n' | b'.' | b'0'..=b'9') => Ok(*byte),
            _ => refuse(
                "delimiter",
                format!("is \"{}\"; it must be one character such as ; or the word tab", self.delimiter),
            ),
        }
    }
}

impl TimeColumn {
    fn check(&self) -> Result<(), RecorderError> {
        if self.date_column.is_some() && (self.date_format.is_none() || self.format.is_none()) {
            return refuse("time.date_format", "is needed when the date stands apart, and time.format too".to_owned());
        }
        if self.date_column.is_some() && self.seconds_since.is_some() {
            return refuse("time.seconds_since", "cannot go with a date column".to_owned());
        }
        if let Some(unit_s) = self.seconds_per_unit
            && !(unit_s > 0.0 && unit_s <= 86_400.0)
        {
            return refuse("time.seconds_per_unit", format!("is {unit_s} s; it must be above 0 and up to 86400 s"));
        }
        Ok(())
    }
}

pub(super) fn check_offsets(
    name: &str,
    zone_h: Option<f64>,
    clock: Option<ClockAhead>,
    surface_m: Option<f64>,
) -> Result<(), RecorderError> {
    let field = |what: &str| if name.is_empty() { what.to_owned() } else { format!("{name} {what}") };
    within(&field("time_zone_utc_h"), zone_h, -14.0..=14.0, "-14 to 14 hours")?;
    within(&field("surface_offset_m"), surface_m, -100.0..=100.0, "-100 to 100 m")?;
    let (start_s, end_s) = clock.map_or((None, None), |clock| (Some(clock.at_start_s), Some(clock.at_end_s)));
    within(&field("clock.at_start_s"), start_s, -1e7..=1e7, "within 10 million seconds")?;
    within(&field("clock.at_end_s"), end_s, -1e7..=1e7, "within 10 million seconds")
}

fn check_column(field: &str, column: Option<&Column>, header: bool) -> Result<(), RecorderError> {
    match column {
        Some(Column::Number(0)) => refuse(field, "is 0; columns count from 1".to_owned()),
        Some(Column::Name(name)) if !header => {
            refuse(field, format!("is \"{name}\", but header is false: give the column's number"))
        }
        _ => Ok(()),
    }
}

pub(super) fn within(
    field: &str,
    value: Option<f64>,
    range: std::ops::RangeInclusive<f64>,
    rule: &str,
) -> Result<(), RecorderError> {
    match value {
        Some(value) if !range.contains(&value) => refuse(field, format!("is {value}; it must be {rule}")),
        _ => Ok(()),
    }
}

pub(super) fn refuse<T>(field: &str, fault: String) -> Result<T, RecorderError> {
    Err(RecorderError::Mapping { field: field.to_owned(), fault })
}

fn comma() -> String {
    ",".to_owned()
}

fn point() -> String {
    ".".to_owned()
}

const fn yes() -> bool {
    true
}
