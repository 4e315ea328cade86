//! Wind: MWV and MWD. Where it blows from; speeds in m/s.
//!
//! Source: gpsd "NMEA Revealed". 1 kn = 1852/3600 m/s, 1 statute mile = 1609.344 m (exact).

use super::fields::Fields;
use super::{Reading, WindReference};

/// Metres a second per knot.
pub(crate) const M_S_PER_KN: f64 = 1852.0 / 3600.0;

/// angle, R/T, speed, K/M/N, A/V. Status V: no wind at all. An unknown unit or reference: no value.
pub(super) fn mwv<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.valid = match fields.raw(4) {
        b"A" => Some(true),
        b"V" => Some(false),
        _ => None,
    };
    let angle_deg = fields.bearing_deg(0);
    let speed = fields.not_negative(2);
    if reading.valid == Some(false) {
        return;
    }
    reading.wind_reference = match fields.raw(1) {
        b"R" => Some(WindReference::Relative),
        b"T" => Some(WindReference::BowTheoretical),
        _ => None,
    };
    reading.wind_angle_deg = angle_deg.filter(|_| reading.wind_reference.is_some());
    reading.wind_speed_m_s = speed.and_then(|speed| match fields.raw(3) {
        b"M" => Some(speed),
        b"N" => Some(speed * M_S_PER_KN),
        b"K" => Some(speed / 3.6),
        b"S" => Some(speed * 1609.344 / 3600.0),
        _ => None,
    });
}

/// direction, T, direction, M, kn, N, m/s, M. The speed is that of the true wind even where no direction is sent.
pub(super) fn mwd<'a>(reading: &mut Reading<'a>, fields: &mut Fields<'a>) {
    reading.wind_angle_deg = fields.bearing_deg(0);
    reading.wind_speed_m_s = fields.not_negative(6).or_else(|| fields.not_negative(4).map(|knots| knots * M_S_PER_KN));
    if reading.wind_angle_deg.is_some() || reading.wind_speed_m_s.is_some() {
        reading.wind_reference = Some(WindReference::TrueNorth);
    }
}
