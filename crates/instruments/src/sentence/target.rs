//! Radar targets and waypoints: TLL, TTM, WPL.
//!
//! Source: gpsd "NMEA Revealed". The name of a radar target may carry the name of a radio buoy.

use super::Reading;
use super::fields::Fields;

/// What a radar says of a target beyond number, name and position.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Target<'a> {
    /// Distance from own ship.
    pub distance: Option<f64>,
    /// Bearing from own ship, degrees.
    pub bearing_deg: Option<f64>,
    /// Whether the bearing counts from true north, else from the bow.
    pub bearing_is_true: bool,
    /// Speed of the target.
    pub speed: Option<f64>,
    /// Course of the target, degrees.
    pub course_deg: Option<f64>,
    /// Whether the course counts from true north, else from the bow.
    pub course_is_true: bool,
    /// Distance at the closest approach.
    pub closest_distance: Option<f64>,
    /// Minutes to the closest approach; negative once it is past.
    pub closest_in_min: Option<f64>,
    /// `K` km, `N` nautical miles, `S` statute miles; speeds the same an hour.
    pub unit: Option<u8>,
    /// `L` lost, `Q` being acquired, `T` tracked.
    pub status: Option<&'a [u8]>,
}

/// number, lat, N/S, lon, E/W, name, time, L/Q/T, R.
pub(super) fn tll<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.target_number = fields.whole(0);
    if let Some((latitude_deg, longitude_deg)) = fields.position_deg(1) {
        reading.latitude_deg = Some(latitude_deg);
        reading.longitude_deg = Some(longitude_deg);
    }
    reading.waypoint = fields.text(5);
    reading.time = fields.time(6);
    reading.target = Some(Target { status: fields.text(7), ..Target::default() });
}

/// number, distance, bearing, T/R, speed, course, T/R, CPA, TCPA, K/N/S, name, L/Q/T, R, time, A/M/R.
pub(super) fn ttm<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.target_number = fields.whole(0);
    reading.waypoint = fields.text(10);
    reading.time = fields.time(13);
    reading.target = Some(Target {
        distance: fields.not_negative(1),
        bearing_deg: fields.bearing_deg(2),
        bearing_is_true: fields.raw(3) == b"T",
        speed: fields.not_negative(4),
        course_deg: fields.bearing_deg(5),
        course_is_true: fields.raw(6) == b"T",
        closest_distance: fields.not_negative(7),
        closest_in_min: fields.number(8),
        unit: fields.text(9).and_then(|unit| unit.first().copied()),
        status: fields.text(11),
    });
}

/// lat, N/S, lon, E/W, name.
pub(super) fn wpl<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    if let Some((latitude_deg, longitude_deg)) = fields.position_deg(0) {
        reading.latitude_deg = Some(latitude_deg);
        reading.longitude_deg = Some(longitude_deg);
    }
    reading.waypoint = fields.text(4);
}
