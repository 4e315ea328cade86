//! A flat picture of the sea round a place: east and north in metres, true distances and bearings from its origin.
//!
//! The azimuthal equidistant projection on WGS84 (Snyder 1987, "Map projections: a working manual", USGS Professional
//! Paper 1395, chapter 25, by geodesics instead of its series). Within 200 km of the origin distances between two
//! places differ from the true ones by less than 0.02 %.

use quantity::{Position, geodesic};

/// East and north of a place, metres.
pub type EastNorth = [f64; 2];

/// Where `place` lies seen from `origin`.
pub fn seen_from(origin: Position, place: Position) -> EastNorth {
    let leg = geodesic::inverse(origin, place);
    let bearing_rad = leg.bearing_start_deg.to_radians();
    [leg.distance_m * bearing_rad.sin(), leg.distance_m * bearing_rad.cos()]
}

/// The place so far east and north of `origin`.
pub fn place_at(origin: Position, [east_m, north_m]: EastNorth) -> Option<Position> {
    let bearing_deg_true = east_m.atan2(north_m).to_degrees().rem_euclid(360.0);
    geodesic::direct(origin, bearing_deg_true, east_m.hypot(north_m)).ok().map(|arrival| arrival.position)
}
