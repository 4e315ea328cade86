//! One recorder's file as depths in UTC: units, sign, zone, clock drift and the level of the surface taken into account.
//!
//! What is doubtful is doubted and stays; only rows that are no reading fall away, and they are counted.

use quantity::UtcInstant;
use serde::Serialize;

use super::doubt::Doubt;
use super::error::RecorderError;
use super::inspect;
use super::mapping::{DepthUnit, Mapping, Positive};
use super::placement::Placement;
use super::pressure;
use super::text::{self, Table, Written};

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Sample {
    /// When, UTC.
    pub utc: UtcInstant,
    /// Depth below the surface, metres.
    pub depth_m: f64,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
}

/// A recorder's file, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The file's name.
    pub file: String,
    /// The readings in order of time, no two at one moment.
    pub samples: Vec<Sample>,
    /// The usual time from one reading to the next, seconds; none for less than two readings.
    pub interval_s: Option<f64>,
    /// What was taken off as the level of the surface, metres: at the first and at the last reading.
    pub surface_offset_m: [f64; 2],
    /// Why the readings must not be used before somebody has looked; none when they may.
    pub unfit: Option<String>,
    /// What is not certain.
    pub doubts: Vec<Doubt>,
}

/// The text before the readings (skipped lines and header), where a serial number may stand.
#[must_use]
pub fn before_readings(bytes: &[u8], mapping: &Mapping) -> String {
    let text = text::decode(bytes);
    let lines = mapping.lines_to_skip + usize::from(mapping.header);
    text::split(&text, lines).0.chars().take(100_000).collect()
}

/// Reads a recorder's file.
///
/// `latitude_deg` is that of the set, for depth from pressure; the mapping's own goes before it.
///
/// # Errors
/// [`RecorderError`] when the mapping does not fit the file, or nothing in it is a reading.
pub fn read(
    file: &str,
    bytes: &[u8],
    mapping: &Mapping,
    placement: &Placement,
    latitude_deg: Option<f64>,
) -> Result<Reading, RecorderError> {
    mapping.check()?;
    let table = Table::of(&text::decode(bytes), mapping)?;
    let mut doubts = Vec::new();
    let mut samples = rows(file, &table, mapping, placement, latitude_deg, &mut doubts)?;
    inspect::put_in_order(file, &mut samples, &mut doubts);
    take_off_drift(&mut samples, placement.clock.or(mapping.clock).map_or([0.0; 2], |c| [c.at_start_s, c.at_end_s]));
    let interval_s = inspect::interval_s(&samples);
    inspect::gaps_and_pace(file, &samples, interval_s, &mut doubts);
    let mut unfit = inspect::upside_down(file, &samples, mapping, &mut doubts);
    inspect::clipped(file, &samples, &mut doubts);
    let stated_m = placement.surface_offset_m.or(mapping.surface_offset_m);
    let surface_offset_m = inspect::take_off_surface(file, &mut samples, stated_m, unfit.is_some(), &mut doubts);
    // Before and after alike: a pressure that is off by an atmosphere.
    if mapping.pressure.is_some() && doubts.iter().filter(|doubt| doubt.kind == "air_pressure").count() == 2 {
        unfit.get_or_insert_with(|| "the pressure of the air seems to be stated wrongly".to_owned());
    }
    Ok(Reading { file: file.to_owned(), samples, interval_s, surface_offset_m, unfit, doubts })
}

/// Every row that is a reading, in the file's order.
fn rows(
    file: &str,
    table: &Table,
    mapping: &Mapping,
    placement: &Placement,
    latitude_deg: Option<f64>,
    doubts: &mut Vec<Doubt>,
) -> Result<Vec<Sample>, RecorderError> {
    let time_at = table.place_of(&mapping.time.column, file)?;
    let date_at = mapping.time.date_column.as_ref().map(|column| table.place_of(column, file)).transpose()?;
    let value_at = match (&mapping.depth, &mapping.pressure) {
        (Some(depth), _) => table.place_of(&depth.column, file)?,
        (None, Some(pressure)) => table.place_of(&pressure.column, file)?,
        (None, None) => return Ok(Vec::new()),
    };
    let warm_at = mapping.temperature.as_ref().map(|column| table.place_of(column, file)).transpose()?;
    let to_depth = depth_of(file, mapping, latitude_deg)?;
    let zone_h = placement.time_zone_utc_h.or(mapping.time_zone_utc_h);

    let mut samples = Vec::with_capacity(table.rows.len());
    let (mut unread, mut first_fault) = (table.broken, None);
    for (line, row) in &table.rows {
        let field = |at: usize| row.get(at).unwrap_or_default();
        let read = text::written(&mapping.time, field(time_at), date_at.map(field), &mapping.decimal_mark)
            .and_then(|when| Ok((when, text::number(field(value_at), &mapping.decimal_mark)?)));
        match read {
            Ok((when, value)) => {
                let utc = match (when, zone_h) {
                    (Written::Utc(utc), _) => utc,
                    (Written::OwnClock(own), Some(zone_h)) => own.plus_seconds(-zone_h * 3600.0),
                    (Written::OwnClock(_), None) => return Err(RecorderError::NoZone { file: file.to_owned() }),
                };
                let temperature_c = warm_at.and_then(|at| text::number(field(at), &mapping.decimal_mark).ok());
                samples.push(Sample { utc, depth_m: to_depth(value), temperature_c });
            }
            Err(fault) => {
                unread += 1;
                first_fault.get_or_insert_with(|| format!("line {line}: {fault}"));
            }
        }
    }
    let first_fault = first_fault.unwrap_or_else(|| "no line was left after those to skip".to_owned());
    if samples.is_empty() {
        return Err(RecorderError::NothingReadable { file: file.to_owned(), lines: unread, first_fault });
    }
    if unread > 0 {
        let all = unread + samples.len();
        let text = format!("{unread} of {all} lines are no reading and were passed over; the first is {first_fault}.");
        doubts.push(Doubt::new("unreadable_lines", file, text));
    }
    Ok(samples)
}

/// How a value of the depth or pressure column becomes a depth, metres.
fn depth_of(
    file: &str,
    mapping: &Mapping,
    latitude_deg: Option<f64>,
) -> Result<Box<dyn Fn(f64) -> f64>, RecorderError> {
    if let Some(depth) = &mapping.depth {
        let unit_m = match depth.unit {
            DepthUnit::Metre => 1.0,
            DepthUnit::Fathom => 1.8288,
            DepthUnit::Foot => 0.3048,
        };
        let sign = if depth.positive == Some(Positive::Up) { -1.0 } else { 1.0 };
        return Ok(Box::new(move |value| sign * unit_m * value));
    }
    let latitude_deg = mapping
        .latitude_deg
        .or(latitude_deg)
        .filter(|latitude_deg| latitude_deg.abs() <= 90.0)
        .ok_or_else(|| RecorderError::NoLatitude { file: file.to_owned() })?;
    let column = mapping.pressure.clone();
    Ok(Box::new(move |value| {
        column
            .as_ref()
            .map_or(value, |column| pressure::depth_m(pressure::sea_pressure_dbar(value, column), latitude_deg))
    }))
}

/// Takes the clock's lead off, evenly from the first reading's to the last one's.
fn take_off_drift(samples: &mut [Sample], [start_s, end_s]: [f64; 2]) {
    let (Some(first), Some(last)) = (samples.first().map(|s| s.utc), samples.last().map(|s| s.utc)) else { return };
    let span_s = last.seconds_since(first);
    for sample in samples {
        let part = if span_s > 0.0 { sample.utc.seconds_since(first) / span_s } else { 0.0 };
        sample.utc = sample.utc.plus_seconds(-(start_s + (end_s - start_s) * part));
    }
}
