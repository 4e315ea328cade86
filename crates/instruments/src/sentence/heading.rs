//! Headings: HDT, HDG, HDM.
//!
//! Source: gpsd "NMEA Revealed", HDG: to obtain the magnetic heading, add easterly or subtract westerly
//! deviation to the sensor reading; to obtain the true heading, add easterly variation to that.

use super::Reading;
use super::fields::Fields;

/// heading, T.
pub(super) fn hdt<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.heading_deg_true = fields.bearing_deg(0);
}

/// heading, M.
pub(super) fn hdm<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.heading_deg_magnetic = fields.bearing_deg(0);
}

/// sensor heading, deviation, E/W, variation, E/W. The deviation is applied where it is sent.
pub(super) fn hdg<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    let deviation_deg = fields.east_deg(1).unwrap_or(0.0);
    reading.heading_deg_magnetic =
        fields.bearing_deg(0).map(|sensor_deg| quantity::wrap_bearing_deg(sensor_deg + deviation_deg));
    reading.magnetic_variation_deg = fields.east_deg(3);
}
