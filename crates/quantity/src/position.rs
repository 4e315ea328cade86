//! A place on the earth's surface (WGS84), and the wrapping of angles at their seams.

use serde::Serialize;

/// A place on WGS84. Latitude north positive in [−90, 90], longitude east positive in [−180, 180).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Position {
    latitude_deg: f64,
    longitude_deg: f64,
}

/// Why two numbers are not a place.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PositionError {
    /// Latitude out of range or not a number.
    #[error("latitude {latitude_deg}° is outside −90° to 90°")]
    Latitude {
        /// The latitude as it came, degrees.
        latitude_deg: f64,
    },
    /// Longitude out of range or not a number.
    #[error("longitude {longitude_deg}° is outside −360° to 360°")]
    Longitude {
        /// The longitude as it came, degrees.
        longitude_deg: f64,
    },
}

impl Position {
    /// A place from degrees; the longitude may lie in [−360, 360] and is wrapped into [−180, 180).
    ///
    /// # Errors
    /// [`PositionError`] when a number is out of range or not a number.
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Self, PositionError> {
        if !(-90.0..=90.0).contains(&latitude_deg) {
            return Err(PositionError::Latitude { latitude_deg });
        }
        if !(-360.0..=360.0).contains(&longitude_deg) {
            return Err(PositionError::Longitude { longitude_deg });
        }
        Ok(Self { latitude_deg, longitude_deg: wrap_longitude_deg(longitude_deg) })
    }

    /// Latitude, degrees, north positive.
    #[must_use]
    pub const fn latitude_deg(self) -> f64 {
        self.latitude_deg
    }

    /// Longitude, degrees, east positive, in [−180, 180).
    #[must_use]
    pub const fn longitude_deg(self) -> f64 {
        self.longitude_deg
    }
}

/// A longitude, or a difference of longitudes, wrapped into [−180, 180) degrees.
#[must_use]
pub fn wrap_longitude_deg(longitude_deg: f64) -> f64 {
    if (-180.0..180.0).contains(&longitude_deg) {
        return longitude_deg;
    }
    let wrapped = (longitude_deg + 180.0).rem_euclid(360.0) - 180.0;
    // rem_euclid may round up to the modulus itself for a tiny negative number.
    if wrapped >= 180.0 { -180.0 } else { wrapped }
}

/// A bearing wrapped into [0, 360) degrees.
#[must_use]
pub fn wrap_bearing_deg(bearing_deg: f64) -> f64 {
    let wrapped = bearing_deg.rem_euclid(360.0);
    if wrapped >= 360.0 { 0.0 } else { wrapped }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::assert_within;

    #[test]
    fn verif_longitudes_wrap_at_the_date_line() {
        for (raw, wrapped) in [(180.0, -180.0), (-180.0, -180.0), (181.5, -178.5), (-190.0, 170.0), (540.0, -180.0)] {
            assert_within("wrapped longitude, deg", wrap_longitude_deg(raw), wrapped, 0.0);
        }
        assert!(wrap_longitude_deg(-180.0 - 1e-14) < 180.0);
        assert!(wrap_bearing_deg(-1e-18) < 360.0);
    }

    #[test]
    fn verif_bad_numbers_are_refused() {
        assert!(Position::new(90.1, 0.0).is_err());
        assert!(Position::new(f64::NAN, 0.0).is_err());
        assert!(Position::new(0.0, f64::NAN).is_err());
        assert!(Position::new(0.0, 361.0).is_err());
    }
}
