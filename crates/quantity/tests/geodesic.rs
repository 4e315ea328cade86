//! Geodesics and rhumb lines against published and independently computed lines.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use proptest::prelude::*;
use quantity::testing::assert_within;
use quantity::{Position, geodesic, rhumb, wrap_bearing_deg, wrap_longitude_deg};

fn at(latitude_deg: f64, longitude_deg: f64) -> Position {
    Position::new(latitude_deg, longitude_deg).unwrap()
}

/// Source: Karney's 20 WGS84 lines (data/karney/SOURCE.md). Tolerance: 1e-7 m and 1e-9°; seen: 7.5e-9 m, 7e-14°.
#[test]
fn val_karneys_published_lines() {
    let table = include_str!("data/karney/wgs84_lines.csv");
    let mut lines = 0;
    for line in table.lines().skip(1) {
        let f: Vec<f64> = line.split(',').map(|field| field.parse().unwrap()).collect();
        let (from, to) = (at(f[0], f[1]), at(f[3], f[4]));
        let leg = geodesic::inverse(from, to);
        assert_within("distance, m", leg.distance_m, f[6], 1e-7);
        assert_within("bearing at the start, deg", leg.bearing_start_deg, wrap_bearing_deg(f[2]), 1e-9);
        assert_within("bearing at the end, deg", leg.bearing_end_deg, wrap_bearing_deg(f[5]), 1e-9);
        let arrival = geodesic::direct(from, f[2], f[6]).unwrap();
        assert_within("latitude, deg", arrival.position.latitude_deg(), f[3], 1e-11);
        assert_within("longitude, deg", wrap_longitude_deg(arrival.position.longitude_deg() - f[4]), 0.0, 1e-11);
        lines += 1;
    }
    assert_eq!(lines, 20);
}

/// Source: computed with geographiclib 2.1 (Python, WGS84). Tolerance: the printed digits.
#[test]
fn val_lines_computed_with_geographiclib() {
    let rows = [
        (-30.0, 170.0, -30.5, 171.2, 128_103.315_199, 115.939_193_339, 115.334_642_219),
        (-15.0, 179.9, -15.0, -179.9, 21_510.097_012, 90.025_881_929, 89.974_118_071),
        (0.0, 0.0, 0.0, 180.0, 20_003_931.458_625, 0.0, 180.0),
        (90.0, 0.0, -90.0, 0.0, 20_003_931.458_625, 180.0, 180.0),
        (-42.0, 150.0, -42.0, 150.0, 0.0, 0.0, 0.0),
    ];
    for (lat1, lon1, lat2, lon2, distance_m, start_deg, end_deg) in rows {
        let leg = geodesic::inverse(at(lat1, lon1), at(lat2, lon2));
        assert_within("distance, m", leg.distance_m, distance_m, 1e-6);
        assert_within("bearing at the start, deg", leg.bearing_start_deg, start_deg, 1e-9);
        assert_within("bearing at the end, deg", leg.bearing_end_deg, end_deg, 1e-9);
    }
    let arrival = geodesic::direct(at(-15.0, 179.95), 90.0, 37_040.0).unwrap();
    assert_within("latitude, deg", arrival.position.latitude_deg(), -14.999_739_609_4, 1e-10);
    assert_within("longitude, deg", arrival.position.longitude_deg(), -179.705_603_888_4, 1e-10);
    assert_within("bearing at the end, deg", arrival.bearing_end_deg, 89.910_864_231, 1e-9);
}

/// Source: rhumb lines computed apart from this code by exact isometric latitude; the third is the example of
/// GeographicLib's RhumbSolve page (SOURCE NOT CHECKED). Tolerance: the printed digits.
#[test]
fn val_rhumb_lines() {
    let rows = [
        (-30.0, 170.0, -30.5, 171.2, 128_103.909, 115.637_926_728),
        (-15.0, 179.9, -15.0, -179.9, 21_510.098, 90.0),
        (40.6, -73.8, 51.6, -0.5, 5_771_083.383, 77.768_389_710),
    ];
    for (lat1, lon1, lat2, lon2, distance_m, bearing_deg) in rows {
        let leg = rhumb::inverse(at(lat1, lon1), at(lat2, lon2));
        assert_within("distance, m", leg.distance_m, distance_m, 6e-4);
        assert_within("bearing, deg", leg.bearing_start_deg, bearing_deg, 1e-9);
        assert_within("bearing at the end, deg", leg.bearing_end_deg, bearing_deg, 1e-9);
    }
}

/// A rhumb line along a meridian or the equator is a geodesic, so both ways of computing must agree.
#[test]
fn verif_rhumb_lines_that_are_geodesics() {
    for (a, b) in [
        (at(-90.0, 0.0), at(90.0, 0.0)),
        (at(-33.0, 179.0), at(41.0, 179.0)),
        (at(12.0, -180.0), at(12.000_001, -180.0)),
        (at(0.0, 170.0), at(0.0, -170.0)),
        (at(0.0, 10.0), at(0.0, 150.0)),
        (at(90.0, 20.0), at(20.0, 20.0)),
    ] {
        let (short, steady) = (geodesic::inverse(a, b), rhumb::inverse(a, b));
        assert_within("distance, m", steady.distance_m, short.distance_m, 1e-7);
        assert_within("bearing, deg", steady.bearing_start_deg, short.bearing_start_deg, 1e-9);
    }
}

/// Seams: east where both ways are equal, a line into the pole, a line beyond it, and odd numbers.
#[test]
fn verif_rhumb_seams() {
    let half_round = rhumb::inverse(at(-15.0, 0.0), at(-15.0, 180.0));
    assert_within("bearing, deg", half_round.bearing_start_deg, 90.0, 0.0);
    let arrival = rhumb::direct(at(60.0, 5.0), 0.0, 30.0 * 111_700.0).unwrap_err();
    assert!(arrival.to_string().contains("pole"), "{arrival}");
    let to_pole_m = geodesic::inverse(at(60.0, 5.0), at(90.0, 5.0)).distance_m;
    let pole = rhumb::direct(at(60.0, 5.0), 0.0, to_pole_m).unwrap();
    assert_within("latitude, deg", pole.position.latitude_deg(), 90.0, 0.0);
    let west = rhumb::direct(at(-15.0, -179.9), 270.0, 21_510.097_9).unwrap();
    assert_within("latitude, deg", west.position.latitude_deg(), -15.0, 0.0);
    assert_within("longitude, deg", west.position.longitude_deg(), 179.9, 1e-8);
    for (bearing_deg, distance_m) in [(f64::NAN, 1.0), (10.0, f64::INFINITY), (10.0, 1e300), (400.0, 1.0)] {
        assert!(rhumb::direct(at(0.0, 0.0), bearing_deg, distance_m).is_err());
        assert!(geodesic::direct(at(0.0, 0.0), bearing_deg, distance_m).is_err());
    }
}

/// A millimetre on 269.986°: the two latitudes differ by a few units in the last place, and once cost 0.05 % of the way.
#[test]
fn regress_short_way_nearly_west() {
    let from = at(45.111_569_026_161_07, 0.0);
    let arrival = rhumb::direct(from, 269.985_870_331_881_13, 0.001).unwrap();
    assert_within("distance, m", rhumb::inverse(from, arrival.position).distance_m, 0.001, 1e-8);
}

#[test]
fn verif_interpolation_crosses_the_date_line_the_short_way() {
    let (a, b) = (at(-15.0, 179.9), at(-15.0, -179.9));
    let middle = geodesic::interpolate(a, b, 0.5);
    assert_within("longitude off the seam, deg", wrap_longitude_deg(middle.longitude_deg() - 180.0), 0.0, 1e-9);
    assert_eq!(geodesic::interpolate(a, b, f64::NAN), a);
    assert_eq!(geodesic::interpolate(a, b, 1.0), b);
}

proptest! {
    /// Going where the inverse points arrives at the other place.
    #[test]
    fn verif_direct_undoes_inverse(lat1 in -89.9_f64..89.9, lon1 in -180.0_f64..180.0, lat2 in -89.9_f64..89.9, lon2 in -180.0_f64..180.0) {
        let (from, to) = (at(lat1, lon1), at(lat2, lon2));
        let leg = geodesic::inverse(from, to);
        let arrival = geodesic::direct(from, leg.bearing_start_deg, leg.distance_m).unwrap();
        assert_within("miss by geodesic, m", geodesic::inverse(arrival.position, to).distance_m, 0.0, 1e-5);
        let steady = rhumb::inverse(from, to);
        let arrival = rhumb::direct(from, steady.bearing_start_deg, steady.distance_m).unwrap();
        assert_within("miss by rhumb line, m", geodesic::inverse(arrival.position, to).distance_m, 0.0, 1e-4);
        prop_assert!(steady.distance_m >= leg.distance_m - 1e-5);
    }

    /// Short lines, where differences of latitude functions would lose their digits.
    #[test]
    fn verif_short_rhumb_lines(lat1 in -85.0_f64..85.0, lon1 in -180.0_f64..180.0, bearing_deg in 0.0_f64..360.0, distance_m in 0.001_f64..2000.0) {
        let from = at(lat1, lon1);
        let arrival = rhumb::direct(from, bearing_deg, distance_m).unwrap();
        let leg = rhumb::inverse(from, arrival.position);
        assert_within("distance, m", leg.distance_m, distance_m, 1e-7);
    }
}
