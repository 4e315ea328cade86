//! Fixes and time: RMC, GGA, GLL, VTG, ZDA.
//!
//! Source: gpsd "NMEA Revealed". The mode letters of RMC, GLL and VTG are given as the fix quality number
//! that GGA uses for the same thing (0 invalid, 1 autonomous, 2 differential, 3 precise, 4 RTK, 5 float RTK,
//! 6 estimated, 7 manual, 8 simulator). The 13th field of RMC (NMEA 4.1, navigational status) is not read:
//! ordinary receivers send `V` there with a good fix.

use super::Reading;
use super::fields::Fields;

/// Kilometres per nautical mile (exact).
const KM_PER_NMI: f64 = 1.852;

/// The mode letter in field `at` as a GGA quality number.
fn quality_of_mode(fields: &Fields<'_>, at: usize) -> Option<u8> {
    Some(match fields.raw(at) {
        b"N" => 0,
        b"A" => 1,
        b"D" => 2,
        b"P" => 3,
        b"R" => 4,
        b"F" => 5,
        b"E" => 6,
        b"M" => 7,
        b"S" => 8,
        _ => return None,
    })
}

/// Status letter and mode together; without a status letter there is no claim of validity.
fn validity(fields: &Fields<'_>, status_at: usize, quality: Option<u8>) -> Option<bool> {
    match fields.raw(status_at) {
        b"V" => Some(false),
        b"A" => Some(quality != Some(0)),
        _ if quality == Some(0) => Some(false),
        _ => None,
    }
}

fn place(reading: &mut Reading<'_>, position_deg: Option<(f64, f64)>) {
    if reading.valid != Some(false)
        && let Some((latitude_deg, longitude_deg)) = position_deg
    {
        reading.latitude_deg = Some(latitude_deg);
        reading.longitude_deg = Some(longitude_deg);
    }
}

/// time, A/V, lat, N/S, lon, E/W, kn, course, ddmmyy, variation, E/W, [mode], [nav status].
pub(super) fn rmc<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.time = fields.time(0);
    reading.fix_quality = quality_of_mode(fields, 11);
    reading.valid = validity(fields, 1, reading.fix_quality);
    let position_deg = fields.position_deg(2);
    place(reading, position_deg);
    let (speed_kn, course_deg) = (fields.not_negative(6), fields.bearing_deg(7));
    if reading.valid != Some(false) {
        reading.speed_over_ground_kn = speed_kn;
        reading.course_deg_true = course_deg;
    }
    reading.date = fields.day_six_digits(8);
    reading.magnetic_variation_deg = fields.east_deg(9);
}

/// time, lat, N/S, lon, E/W, quality, satellites, HDOP, altitude, M, geoid, M, age, station.
pub(super) fn gga<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.time = fields.time(0);
    reading.fix_quality = fields.whole(5).and_then(|quality| u8::try_from(quality).ok());
    reading.valid = reading.fix_quality.map(|quality| quality != 0);
    let position_deg = fields.position_deg(1);
    place(reading, position_deg);
}

/// lat, N/S, lon, E/W, time, A/V, [mode].
pub(super) fn gll<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.time = fields.time(4);
    reading.fix_quality = quality_of_mode(fields, 6);
    reading.valid = validity(fields, 5, reading.fix_quality);
    let position_deg = fields.position_deg(0);
    place(reading, position_deg);
}

/// course, T, course magnetic, M, kn, N, km/h, K, [mode]; the oldest form has no letters and four fields.
pub(super) fn vtg<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    let oldest = fields.count() <= 5 && fields.raw(1) != b"T";
    let (knots_at, km_h_at) = if oldest { (2, 3) } else { (4, 6) };
    reading.fix_quality = if oldest { None } else { quality_of_mode(fields, 8) };
    reading.valid = reading.fix_quality.map(|quality| quality != 0);
    let course_deg = fields.bearing_deg(0);
    let speed_kn = fields.not_negative(knots_at).or_else(|| fields.not_negative(km_h_at).map(|km_h| km_h / KM_PER_NMI));
    if reading.valid != Some(false) {
        reading.course_deg_true = course_deg;
        reading.speed_over_ground_kn = speed_kn;
    }
}

/// time, day, month, year, zone hours, zone minutes.
pub(super) fn zda<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.time = fields.time(0);
    reading.date = fields.day_three_fields(1);
}
