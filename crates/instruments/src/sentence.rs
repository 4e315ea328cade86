//! What one good NMEA 0183 sentence says, as numbers with units, without allocating.
//!
//! Field layouts: gpsd project, "NMEA Revealed" (`www/NMEA.adoc`, commit 46977faa, BSD-2-Clause) unless a
//! part says otherwise. An empty field is no value, never zero. A field that cannot be read is no value
//! and is named in [`Reading::bad_field`]. A void fix (status `V`, mode `N`, GGA quality 0) has
//! `valid: Some(false)` and neither position nor speed nor course; so has a wind of status `V` no wind.
//! Modes E, M and S (estimated, manual, simulator) keep their values and have a fix quality of 6, 7 or 8.

mod depth;
pub mod fields;
mod fix;
mod heading;
mod target;
mod water;
mod wind;
pub mod xdr;

use fields::Fields;
pub use target::Target;

/// What the angle of a wind is counted from, and whose wind it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum WindReference {
    /// Apparent wind, angle from the bow.
    Relative,
    /// True wind, angle from the bow.
    BowTheoretical,
    /// True wind, angle from true north.
    TrueNorth,
}

/// A calendar day as sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Day {
    /// Year with century.
    pub year: i16,
    /// 1 to 12.
    pub month: i8,
    /// 1 to 31.
    pub day: i8,
}

/// The time of day as sent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeOfDay {
    /// Whole milliseconds since midnight UTC, below 86 400 000.
    pub ms: u32,
    /// A leap second (:60) was sent and held at :59.
    pub clamped: bool,
}

/// What a sentence says. Only what it says is `Some`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
#[expect(missing_docs, reason = "the names say quantity and unit; the same as in `Decoded`, told there")]
pub struct Reading<'a> {
    pub talker: &'a [u8],
    pub kind: &'a [u8],
    pub date: Option<Day>,
    pub time: Option<TimeOfDay>,
    pub valid: Option<bool>,
    pub latitude_deg: Option<f64>,
    pub longitude_deg: Option<f64>,
    pub speed_over_ground_kn: Option<f64>,
    pub course_deg_true: Option<f64>,
    pub heading_deg_true: Option<f64>,
    pub heading_deg_magnetic: Option<f64>,
    pub magnetic_variation_deg: Option<f64>,
    pub speed_through_water_kn: Option<f64>,
    pub distance_through_water_nmi: Option<f64>,
    pub trip_through_water_nmi: Option<f64>,
    pub water_temperature_c: Option<f64>,
    pub depth_below_transducer_m: Option<f64>,
    pub transducer_offset_m: Option<f64>,
    pub wind_angle_deg: Option<f64>,
    pub wind_reference: Option<WindReference>,
    pub wind_speed_m_s: Option<f64>,
    pub current_set_deg_true: Option<f64>,
    pub current_drift_kn: Option<f64>,
    pub fix_quality: Option<u8>,
    pub waypoint: Option<&'a [u8]>,
    pub target_number: Option<u32>,
    /// TLL and TTM.
    pub target: Option<Target<'a>>,
    /// The groups of an XDR, see [`xdr::groups`].
    pub transducers: Option<&'a [u8]>,
    /// The fields of a VDM or VDO, for the assembly of AIS messages.
    pub encapsulated: Option<&'a [u8]>,
    /// Number (from 1) of the first field that could not be read.
    pub bad_field: Option<u8>,
}

/// Reads the bytes between start mark and `*`. A type not listed keeps talker and type only.
#[must_use]
pub fn read(body: &[u8]) -> Reading<'_> {
    let comma = body.iter().position(|&byte| byte == b',').unwrap_or(body.len());
    let (address, rest) = (&body[..comma], body.get(comma + 1..).unwrap_or_default());
    // Proprietary sentences: talker "P", the rest is maker and type.
    let at = if address.first() == Some(&b'P') { 1 } else { 2.min(address.len()) };
    let (talker, kind) = address.split_at(at);
    let mut reading = Reading { talker, kind, ..Reading::default() };
    if talker == b"P" {
        return reading;
    }
    match kind {
        b"XDR" => reading.transducers = Some(rest),
        b"VDM" | b"VDO" => reading.encapsulated = Some(rest),
        _ => {
            if let Some(reader) = reader_of(kind) {
                let mut fields = Fields::new(rest);
                reader(&mut reading, &mut fields);
                reading.bad_field = fields.bad_field();
            }
        }
    }
    reading
}

type Reader = for<'a> fn(&mut Reading<'a>, &mut Fields<'a>);

fn reader_of(kind: &[u8]) -> Option<Reader> {
    Some(match kind {
        b"RMC" => fix::rmc,
        b"GGA" => fix::gga,
        b"GLL" => fix::gll,
        b"VTG" => fix::vtg,
        b"ZDA" => fix::zda,
        b"HDT" => heading::hdt,
        b"HDG" => heading::hdg,
        b"HDM" => heading::hdm,
        b"VHW" => water::vhw,
        b"VBW" => water::vbw,
        b"VLW" => water::vlw,
        b"VDR" => water::vdr,
        b"MTW" => water::mtw,
        b"DPT" => depth::dpt,
        b"DBT" => depth::dbt,
        b"MWV" => wind::mwv,
        b"MWD" => wind::mwd,
        b"TLL" => target::tll,
        b"TTM" => target::ttm,
        b"WPL" => target::wpl,
        _ => return None,
    })
}
