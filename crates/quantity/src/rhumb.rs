//! Rhumb lines: the way of a ship that holds one true bearing, on the WGS84 ellipsoid.
//!
//! Model: on a rhumb line the longitude grows with the isometric latitude ψ, and the distance with the
//! meridian arc M: `tan α = Δλ / Δψ`, `s = ΔM / cos α`. With e² = f(2 − f), M(φ) = ∫ a(1 − e²)(1 − e² sin² φ)^(−3/2) dφ
//! and ψ(φ) = asinh(tan φ) − e atanh(e sin φ) (Snyder, J. P. (1987), "Map Projections: A Working Manual",
//! USGS Professional Paper 1395, eqs. 3-2 and 7-7 in another form; SOURCE NOT CHECKED). No series in the flattening:
//! arcs come from Gauss–Legendre quadrature of the exact integrands, good to the rounding of a double.

use crate::geodesic::{Arrival, GeodesicError, Leg, check, place};
use crate::position::{Position, wrap_bearing_deg, wrap_longitude_deg};

/// WGS84 equatorial radius, metres (NIMA TR8350.2).
const EQUATOR_RADIUS_M: f64 = 6_378_137.0;
/// WGS84 flattening (NIMA TR8350.2).
const FLATTENING: f64 = 1.0 / 298.257_223_563;
/// Eccentricity squared.
const E2: f64 = FLATTENING * (2.0 - FLATTENING);

/// The rhumb line between two places, the shorter way round; eastward when both ways are equal.
/// Its bearing is the same at both ends. For one and the same place: distance 0, bearing 0.
#[must_use]
pub fn inverse(from: Position, to: Position) -> Leg {
    let mut span_deg = wrap_longitude_deg(to.longitude_deg() - from.longitude_deg());
    if span_deg <= -180.0 {
        span_deg = 180.0;
    }
    let (phi1, phi2) = (from.latitude_deg().to_radians(), to.latitude_deg().to_radians());
    let at_pole = from.latitude_deg().abs() >= 90.0 || to.latitude_deg().abs() >= 90.0;
    let arc_m = meridian_arc_m(phi1, phi2);
    // Metres eastward per radian of longitude, averaged along the line: ΔM / Δψ, which is 0 through a pole.
    let radius_m = if at_pole { 0.0 } else { mean_parallel_radius_m(phi1, phi2, arc_m) };
    let east_m = span_deg.to_radians() * radius_m;
    let bearing_deg = wrap_bearing_deg(east_m.atan2(arc_m).to_degrees()) + 0.0;
    Leg { distance_m: east_m.hypot(arc_m), bearing_start_deg: bearing_deg, bearing_end_deg: bearing_deg }
}

/// The place reached from `from` by holding a true bearing over a distance.
///
/// # Errors
/// [`GeodesicError`] when the bearing or the distance is not usable, or the line runs into a pole.
pub fn direct(from: Position, bearing_deg_true: f64, distance_m: f64) -> Result<Arrival, GeodesicError> {
    check(bearing_deg_true, distance_m)?;
    let (sine, cosine) = sine_cosine_deg(bearing_deg_true);
    let phi1 = from.latitude_deg().to_radians();
    let north_m = distance_m * cosine;
    let to_pole_m = meridian_arc_m(phi1, std::f64::consts::FRAC_PI_2.copysign(north_m));
    let beyond_m = north_m.abs() - to_pole_m.abs();
    // A micrometre past the pole is the pole.
    if beyond_m > 1e-6 {
        return Err(GeodesicError::PastPole { distance_m, to_pole_m: (to_pole_m / cosine).abs() });
    }
    let bearing_end_deg = wrap_bearing_deg(bearing_deg_true) + 0.0;
    if beyond_m > -1e-6 && north_m != 0.0 {
        let position = place(90.0_f64.copysign(north_m), from.longitude_deg(), from);
        return Ok(Arrival { position, bearing_end_deg });
    }
    let phi2 = if north_m == 0.0 { phi1 } else { latitude_after_arc_rad(phi1, north_m) };
    let latitude_deg = if north_m == 0.0 { from.latitude_deg() } else { phi2.to_degrees() };
    // The arc between the two latitudes as rounded, not `north_m`: close to east and west the two differ.
    let radius_m = if from.latitude_deg().abs() >= 90.0 {
        0.0
    } else {
        mean_parallel_radius_m(phi1, phi2, meridian_arc_m(phi1, phi2))
    };
    let turn_rad = if sine == 0.0 || radius_m <= 0.0 { 0.0 } else { distance_m * sine / radius_m };
    let position = place(latitude_deg, from.longitude_deg() + turn_rad.to_degrees(), from);
    Ok(Arrival { position, bearing_end_deg })
}

/// ΔM / Δψ between two latitudes; on one parallel its radius.
fn mean_parallel_radius_m(phi1: f64, phi2: f64, arc_m: f64) -> f64 {
    if phi2 - phi1 == 0.0 {
        return EQUATOR_RADIUS_M * phi1.cos() / (1.0 - E2 * phi1.sin().powi(2)).sqrt();
    }
    let room = std::f64::consts::FRAC_PI_2 - phi1.abs().max(phi2.abs());
    // Close together, the difference of two isometric latitudes loses digits, so their integral is taken.
    let isometric_step = if (phi2 - phi1).abs() < 0.2 * room {
        quadrature(phi1, phi2, |phi| {
            meridian_radius_m(phi) * (1.0 - E2 * phi.sin().powi(2)).sqrt() / (EQUATOR_RADIUS_M * phi.cos())
        })
    } else {
        isometric_latitude(phi2) - isometric_latitude(phi1)
    };
    arc_m / isometric_step
}

/// ψ(φ), dimensionless.
fn isometric_latitude(phi: f64) -> f64 {
    let e = E2.sqrt();
    phi.tan().asinh() - e * (e * phi.sin()).atanh()
}

/// Radius of curvature of the meridian.
fn meridian_radius_m(phi: f64) -> f64 {
    EQUATOR_RADIUS_M * (1.0 - E2) / (1.0 - E2 * phi.sin().powi(2)).powf(1.5)
}

/// Metres along the meridian from one latitude to another, northward positive.
fn meridian_arc_m(phi1: f64, phi2: f64) -> f64 {
    quadrature(phi1, phi2, meridian_radius_m)
}

/// The latitude that lies `north_m` along the meridian from `phi1` (Newton; the arc is nearly linear).
fn latitude_after_arc_rad(phi1: f64, north_m: f64) -> f64 {
    let quarter = std::f64::consts::FRAC_PI_2;
    let mut phi = (phi1 + north_m / meridian_radius_m(phi1)).clamp(-quarter, quarter);
    for _ in 0..8 {
        let step = (north_m - meridian_arc_m(phi1, phi)) / meridian_radius_m(phi);
        phi = (phi + step).clamp(-quarter, quarter);
        if step.abs() < 1e-16 {
            break;
        }
    }
    phi
}

/// Sine and cosine of degrees, exact at the cardinal points.
fn sine_cosine_deg(angle_deg: f64) -> (f64, f64) {
    let turned = wrap_bearing_deg(angle_deg);
    let quarter = (turned / 90.0).round();
    let (sine, cosine) = (turned - 90.0 * quarter).to_radians().sin_cos();
    match quarter.rem_euclid(4.0) {
        q if q < 0.5 => (sine, cosine),
        q if q < 1.5 => (cosine, -sine),
        q if q < 2.5 => (-sine, -cosine),
        _ => (-cosine, sine),
    }
}

/// Gauss–Legendre with 8 points on each of 8 equal parts: far below rounding for these integrands.
fn quadrature(from: f64, to: f64, integrand: impl Fn(f64) -> f64) -> f64 {
    // Abscissae and weights: Abramowitz & Stegun (1964), Table 25.4, n = 8 (SOURCE NOT CHECKED; see the tests).
    const NODES: [(f64, f64); 4] = [
        (0.183_434_642_495_649_8, 0.362_683_783_378_362),
        (0.525_532_409_916_329, 0.313_706_645_877_887_3),
        (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
        (0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
    ];
    let half = (to - from) / 16.0;
    let mut sum = 0.0;
    for part in 0..8_u8 {
        let middle = from + half * f64::from(2 * part + 1);
        for (node, weight) in NODES {
            sum += weight * (integrand(middle - half * node) + integrand(middle + half * node));
        }
    }
    sum * half
}
