//! Movement through the water and the water itself: VHW, VBW, VLW, VDR, MTW.
//!
//! Source: gpsd "NMEA Revealed". Speeds sent only in km/h are divided by 1.852 (exact).

use super::Reading;
use super::fields::Fields;

/// heading, T, heading, M, kn, N, km/h, K.
pub(super) fn vhw<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.heading_deg_true = fields.bearing_deg(0);
    reading.heading_deg_magnetic = fields.bearing_deg(2);
    reading.speed_through_water_kn = fields.number(4).or_else(|| fields.number(6).map(|km_h| km_h / 1.852));
}

/// along and across through the water, A/V, along and across over ground, A/V: knots, ahead and starboard positive.
/// Only the speed along through the water is given on.
pub(super) fn vbw<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    let along_kn = fields.number(0);
    reading.valid = match fields.raw(2) {
        b"A" => Some(true),
        b"V" => Some(false),
        _ => None,
    };
    if reading.valid != Some(false) {
        reading.speed_through_water_kn = along_kn;
    }
}

/// total, N, since reset, N: nautical miles through the water (newer forms add those over ground).
pub(super) fn vlw<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.distance_through_water_nmi = fields.not_negative(0);
    reading.trip_through_water_nmi = fields.not_negative(2);
}

/// set, T, set, M, drift kn, N: the current, towards.
pub(super) fn vdr<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.current_set_deg_true = fields.bearing_deg(0);
    reading.current_drift_kn = fields.not_negative(4);
}

/// temperature, C. Fahrenheit, which the standard does not know, is converted where the letter says so.
pub(super) fn mtw<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.water_temperature_c = fields.number(0).and_then(|value| match fields.raw(1) {
        b"C" | b"" => Some(value),
        b"F" => Some((value - 32.0) / 1.8),
        _ => None,
    });
}
