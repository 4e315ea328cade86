//! Distances, bearings and places on WGS84 along the shortest way (the geodesic).
//!
//! Model: Karney, C. F. F. (2013), "Algorithms for geodesics", Journal of Geodesy 87, 43–55, as the
//! crate `geographiclib-rs` carries it; good to some nanometres everywhere, nearly antipodal places
//! and the poles included. Bearings clockwise from true north in [0, 360), distances in metres.

use std::sync::LazyLock;

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use serde::Serialize;

use crate::position::{Position, wrap_bearing_deg, wrap_longitude_deg};

/// The longest distance that is worked out, metres: more than twice around the earth.
pub const LONGEST_DISTANCE_M: f64 = 1e8;

/// From one place to another: how far, and on which bearings one leaves and arrives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Leg {
    /// Distance, metres.
    pub distance_m: f64,
    /// True bearing on leaving, degrees in [0, 360).
    pub bearing_start_deg: f64,
    /// True bearing onward on arriving, degrees in [0, 360).
    pub bearing_end_deg: f64,
}

/// Where a bearing and a distance lead.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Arrival {
    /// The place reached.
    #[serde(flatten)]
    pub position: Position,
    /// True bearing onward there, degrees in [0, 360).
    pub bearing_end_deg: f64,
}

/// Why a way on the earth cannot be worked out.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum GeodesicError {
    /// The bearing is no number, or far from any compass.
    #[error("bearing_deg_true {bearing_deg_true}° is not a bearing; give 0 to 360")]
    Bearing {
        /// The bearing as it came, degrees.
        bearing_deg_true: f64,
    },
    /// The distance is no number, or too long.
    #[error("distance_m {distance_m} m is not a distance on the earth; give at most {LONGEST_DISTANCE_M} m")]
    Distance {
        /// The distance as it came, metres.
        distance_m: f64,
    },
    /// A constant bearing ends at the pole before the distance is run.
    #[error(
        "the rhumb line ends at the pole after {to_pole_m:.0} m, short of distance_m {distance_m:.0} m; give a shorter distance"
    )]
    PastPole {
        /// The distance asked for, metres.
        distance_m: f64,
        /// The distance to the pole along the line, metres.
        to_pole_m: f64,
    },
}

static WGS84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// The shortest way between two places. For one and the same place: distance 0, bearings 0.
#[must_use]
pub fn inverse(from: Position, to: Position) -> Leg {
    let longitude_from_deg = from.longitude_deg();
    let span_deg = wrap_longitude_deg(to.longitude_deg() - longitude_from_deg);
    if from.latitude_deg() - to.latitude_deg() == 0.0 && span_deg == 0.0 {
        return Leg { distance_m: 0.0, bearing_start_deg: 0.0, bearing_end_deg: 0.0 };
    }
    let (distance_m, azimuth_start_deg, azimuth_end_deg, _arc_deg): (f64, f64, f64, f64) =
        WGS84.inverse(from.latitude_deg(), longitude_from_deg, to.latitude_deg(), to.longitude_deg());
    Leg { distance_m, bearing_start_deg: compass_deg(azimuth_start_deg), bearing_end_deg: compass_deg(azimuth_end_deg) }
}

/// The place reached from `from` on a starting bearing after a distance along the geodesic.
///
/// # Errors
/// [`GeodesicError`] when the bearing or the distance is not usable.
pub fn direct(from: Position, bearing_deg_true: f64, distance_m: f64) -> Result<Arrival, GeodesicError> {
    check(bearing_deg_true, distance_m)?;
    let (latitude_deg, longitude_deg, azimuth_end_deg): (f64, f64, f64) =
        WGS84.direct(from.latitude_deg(), from.longitude_deg(), bearing_deg_true, distance_m);
    Ok(Arrival { position: place(latitude_deg, longitude_deg, from), bearing_end_deg: compass_deg(azimuth_end_deg) })
}

/// The place at a `fraction` (0 = `from`, 1 = `to`, held between) of the geodesic between two places:
/// where a ship was between two fixes. Goes the short way over the 180° meridian.
#[must_use]
pub fn interpolate(from: Position, to: Position, fraction: f64) -> Position {
    // A NaN fraction stays at the start: `>` is false for it.
    if fraction >= 1.0 {
        return to;
    }
    if fraction > 0.0 {
        let leg = inverse(from, to);
        let (latitude_deg, longitude_deg): (f64, f64) =
            WGS84.direct(from.latitude_deg(), from.longitude_deg(), leg.bearing_start_deg, leg.distance_m * fraction);
        return place(latitude_deg, longitude_deg, from);
    }
    from
}

/// Refuses a bearing or a distance that no way on the earth has.
pub(crate) fn check(bearing_deg_true: f64, distance_m: f64) -> Result<(), GeodesicError> {
    if !(-360.0..=360.0).contains(&bearing_deg_true) {
        return Err(GeodesicError::Bearing { bearing_deg_true });
    }
    if !(-LONGEST_DISTANCE_M..=LONGEST_DISTANCE_M).contains(&distance_m) {
        return Err(GeodesicError::Distance { distance_m });
    }
    Ok(())
}

/// A computed place; rounding may put a latitude a hair beyond the pole.
pub(crate) fn place(latitude_deg: f64, longitude_deg: f64, otherwise: Position) -> Position {
    Position::new(latitude_deg.clamp(-90.0, 90.0), wrap_longitude_deg(longitude_deg)).unwrap_or(otherwise)
}

/// An azimuth in [−180, 180] as a bearing, without a negative zero.
fn compass_deg(azimuth_deg: f64) -> f64 {
    wrap_bearing_deg(azimuth_deg) + 0.0
}
