//! Least distance to zones: held against a general geodesic library, and against itself.
#![allow(clippy::expect_used, clippy::unwrap_used, clippy::panic)]

use forecast::zones::{Nearest, Zone, ZoneError, least_distance, load};
use quantity::testing::assert_within;
use quantity::{Position, geodesic};
use serde_json::{Value, json};

type Corner = [f64; 2];

fn track(corners: &[Corner]) -> Vec<Position> {
    corners.iter().map(|[lon, lat]| Position::new(*lat, *lon).unwrap()).collect()
}

fn area(ring: &[Corner]) -> Zone {
    Zone::of("area", &json!({"type": "Polygon", "coordinates": [ring]})).unwrap()
}

fn nearest(way: &[Corner], ring: &[Corner]) -> Nearest {
    least_distance(&track(way), &area(ring)).unwrap()
}

/// Least distances found by brute force (a grid over both lines, then ever finer ones round the best pair) with
/// geographiclib 2.1 for Python (Karney, C. F. F. (2013), "Algorithms for geodesics", Journal of Geodesy 87, 43–55).
/// Tolerance 1 m up to 160 km, beyond 1 part in 10,000. Largest difference seen: 0.9 mm.
#[test]
fn val_least_distances_against_a_geodesic_library() {
    type Case = (&'static str, Vec<Corner>, Vec<Corner>, f64);
    let cases: [Case; 6] = [
        (
            "corner of a box at 12° S",
            vec![[150.0, -12.0], [150.4, -11.6], [150.9, -11.7]],
            vec![[151.2, -11.0], [153.0, -11.0], [153.0, -9.0], [151.2, -9.0], [151.2, -11.0]],
            84_071.886_771_692,
        ),
        (
            "slanting edge at 38° N",
            vec![[-140.0, 38.0], [-139.5, 38.2], [-139.0, 37.9]],
            vec![[-139.8, 37.0], [-137.5, 38.9], [-137.0, 36.5], [-139.8, 37.0]],
            18_380.806_816_194,
        ),
        (
            "track over 180°",
            vec![[179.6, 5.0], [-179.7, 5.3]],
            vec![[-179.0, 4.0], [-177.0, 4.0], [-177.0, 8.0], [-179.0, 5.2], [-179.0, 4.0]],
            78_382.893_041_861,
        ),
        (
            "edge of 35° of longitude at 56° S",
            vec![[70.0, -55.0], [71.0, -55.3]],
            vec![[60.0, -57.0], [95.0, -56.0], [80.0, -65.0], [60.0, -57.0]],
            154_087.573_023_071,
        ),
        (
            "1,000 km away",
            vec![[10.0, -20.0], [10.8, -20.4]],
            vec![[0.0, -30.0], [4.0, -28.0], [2.0, -35.0], [0.0, -30.0]],
            1_075_560.958_296_26,
        ),
        (
            "2,000 km away",
            vec![[10.0, -20.0], [10.8, -20.4]],
            vec![[-12.0, -30.0], [-6.0, -34.0], [-12.0, -35.0], [-12.0, -30.0]],
            2_214_206.593_104_362,
        ),
    ];
    for (what, way, ring, distance_m) in cases {
        let found = nearest(&way, &ring);
        let allowed_m = if distance_m < 2e5 { 1.0 } else { 1e-4 * distance_m };
        assert_within(what, found.least_distance_m, distance_m, allowed_m);
        assert!(!found.inside, "{what}");
        let told_m = geodesic::inverse(found.on_track, found.on_zone).distance_m;
        assert_within("the pair told is that far apart", told_m, found.least_distance_m, 1e-6);
    }
}

#[test]
fn verif_inside_crossing_and_outside() {
    let ring = [[10.0, 0.0], [12.0, 0.0], [12.0, 2.0], [10.0, 2.0], [10.0, 0.0]];
    let crossing = nearest(&[[9.0, 1.0], [11.0, 1.0]], &ring);
    assert!(crossing.inside);
    assert_within("crossing, m", crossing.least_distance_m, 0.0, 0.0);
    assert_within("crossing share of the piece", crossing.share, 0.5, 1e-9);
    let within = nearest(&[[10.5, 1.0], [11.0, 1.0]], &ring);
    assert!(within.inside);
    assert_within("half a degree of longitude within, m", within.least_distance_m, 55_651.3, 15.0);
    // No corner of this track lies inside, and yet it runs through.
    assert!(nearest(&[[9.0, 1.0], [13.0, 1.5]], &ring).inside);
    assert!(!nearest(&[[9.0, 1.0], [9.5, 1.0]], &ring).inside);
    let line = Zone::of("line", &json!({"type": "LineString", "coordinates": ring})).unwrap();
    let over = least_distance(&track(&[[9.0, 1.0], [11.0, 1.0]]), &line).unwrap();
    assert!(!over.inside && over.least_distance_m.abs() < 1e-9, "nothing lies inside a line");
    assert!(least_distance(&[], &line).is_none());
}

#[test]
fn verif_a_hole_is_outside_and_one_place_is_a_track() {
    let ring = [[10.0, 0.0], [14.0, 0.0], [14.0, 4.0], [10.0, 4.0], [10.0, 0.0]];
    let hole = [[11.0, 1.0], [11.0, 3.0], [13.0, 3.0], [13.0, 1.0], [11.0, 1.0]];
    let zone = Zone::of("holed", &json!({"type": "Polygon", "coordinates": [ring, hole]})).unwrap();
    let in_hole = least_distance(&track(&[[12.0, 2.0]]), &zone).unwrap();
    assert!(!in_hole.inside);
    assert_within("to the rim of the hole, m", in_hole.least_distance_m, 110_575.0, 700.0);
    assert!(least_distance(&track(&[[10.5, 2.0]]), &zone).unwrap().inside);
}

/// The same shapes moved along the equator's meridians, over 180° and beyond, are as far apart.
#[test]
fn verif_turning_the_earth_changes_nothing() {
    let way = [[1.0, 10.0], [1.4, 10.4], [1.9, 10.2]];
    let ring = [[2.1, 9.0], [4.0, 9.5], [3.0, 12.0], [2.3, 10.5], [2.1, 9.0]];
    let at_zero_m = nearest(&way, &ring).least_distance_m;
    for turn in [175.0, 176.5, 177.9, 178.1, 179.0, -179.5, 120.0, -2.0] {
        let turned = |line: &[Corner]| -> Vec<Corner> {
            line.iter().map(|[lon, lat]| [quantity::wrap_longitude_deg(lon + turn), *lat]).collect()
        };
        let turned_m = nearest(&turned(&way), &turned(&ring)).least_distance_m;
        assert_within(&format!("turned by {turn}°, m"), turned_m, at_zero_m, 0.01);
    }
}

/// RFC 7946 section 3.1.9: an area over 180° is cut there; the cut is no boundary, and what it has on one side only is.
#[test]
fn verif_the_cut_of_a_zone_at_the_date_line_is_no_boundary() {
    let whole = area(&[[178.0, -2.0], [-178.0, -2.0], [-178.0, 2.0], [178.0, 2.0], [178.0, -2.0]]);
    let cut = Zone::of(
        "cut",
        &json!({"type": "MultiPolygon", "coordinates": [
            [[[178.0, -2.0], [180.0, -2.0], [180.0, 2.0], [178.0, 2.0], [178.0, -2.0]]],
            [[[-180.0, -2.0], [-178.0, -2.0], [-178.0, 2.0], [-180.0, 2.0], [-180.0, -2.0]]]]}),
    )
    .unwrap();
    for way in
        [vec![[179.9, 0.0], [-179.9, 0.1]], vec![[179.99, 0.5]], vec![[-180.0, 0.0]], vec![[177.0, 1.0], [177.5, 1.0]]]
    {
        let (a, b) = (least_distance(&track(&way), &whole).unwrap(), least_distance(&track(&way), &cut).unwrap());
        assert_within("cut or whole, m", b.least_distance_m, a.least_distance_m, 0.01);
        assert_eq!(a.inside, b.inside, "{way:?}");
    }
    let half = Zone::of(
        "half",
        &json!({"type": "Polygon", "coordinates": [[[178.0, -2.0], [180.0, -2.0], [180.0, 2.0], [178.0, 2.0], [178.0, -2.0]]]}),
    )
    .unwrap();
    let beside = least_distance(&track(&[[-179.9, 0.0]]), &half).unwrap();
    assert!(!beside.inside);
    assert_within("to the seam, m", beside.least_distance_m, 11_131.95, 1.0);
}

#[test]
fn verif_a_zone_round_the_pole() {
    let flat = [[-180.0, -60.0], [180.0, -60.0], [180.0, -90.0], [-180.0, -90.0], [-180.0, -60.0]];
    let ring: Vec<Corner> = (0..=36).map(|n| [quantity::wrap_longitude_deg(f64::from(n) * 10.0), -60.0]).collect();
    for zone in [area(&flat), area(&ring)] {
        for lon in [0.0, 90.0, 179.0, -180.0, -55.0] {
            assert!(zone.contains(Position::new(-70.0, lon).unwrap()), "{lon}");
            assert!(!zone.contains(Position::new(-50.0, lon).unwrap()), "{lon}");
            let off = least_distance(&track(&[[lon, -59.0]]), &zone).unwrap();
            assert!(!off.inside);
            assert_within("a degree of latitude at 59.5° S, m", off.least_distance_m, 111_405.0, 10.0);
        }
    }
}

/// A boundary of many corners: nearest pair against every piece taken singly, and fast.
#[test]
fn verif_a_long_boundary_gives_what_its_pieces_give() {
    let ring: Vec<Corner> = (0..=20_000_u32)
        .map(|n| {
            let turn = f64::from(n % 20_000) / 20_000.0 * std::f64::consts::TAU;
            let radius = 3.0 + 0.3 * (37.0 * turn).sin();
            [170.0 + radius * turn.cos(), -15.0 + radius * turn.sin()]
        })
        .collect();
    let way: Vec<Corner> = (0..20).map(|n| [174.2 + 0.05 * f64::from(n), -17.0 + 0.04 * f64::from(n)]).collect();
    let found = nearest(&way, &ring);
    let singly_m = ring
        .chunks(99)
        .enumerate()
        .filter_map(|(number, chunk)| {
            let mut chunk = chunk.to_vec();
            chunk.extend(ring.get((number + 1) * 99));
            let line = json!({"type": "LineString", "coordinates": chunk});
            let zone = Zone::of("part", &line).ok()?;
            least_distance(&track(&way), &zone).map(|near| near.least_distance_m)
        })
        .fold(f64::INFINITY, f64::min);
    assert_within("the whole and its parts, m", found.least_distance_m, singly_m, 0.01);
}

#[test]
fn verif_bad_zones_are_refused_in_a_sentence() {
    let of = |value: Value| Zone::of("my zone", &value).unwrap_err();
    assert!(matches!(of(json!({"type": "Polygone", "coordinates": []})), ZoneError::NotGeoJson { .. }));
    assert!(matches!(of(json!(7)), ZoneError::NotGeoJson { .. }));
    assert!(matches!(of(json!({"type": "Point", "coordinates": [1.0, 2.0]})), ZoneError::NoBoundary { .. }));
    assert!(matches!(of(json!({"type": "Polygon", "coordinates": []})), ZoneError::NoBoundary { .. }));
    assert!(matches!(
        of(json!({"type": "LineString", "coordinates": [[1.0, 2.0]]})),
        ZoneError::NotGeoJson { .. } | ZoneError::TooFewCorners { .. }
    ));
    let swapped = of(json!({"type": "LineString", "coordinates": [[-12.0, 151.0], [-13.0, 152.0]]}));
    assert!(swapped.to_string().contains("longitude comes first"), "{swapped}");
    assert!(swapped.to_string().contains("my zone"), "{swapped}");
    let huge = of(json!({"type": "LineString", "coordinates": [[1e300, 2.0], [1.0, 1.0]]}));
    assert!(matches!(huge, ZoneError::Corner { .. }), "{huge}");
}

#[test]
fn verif_a_file_of_zones_keeps_the_good_ones() {
    let file = json!({"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"name": "closed area 1"}, "geometry": {"type": "LineString", "coordinates": [[1.0, 1.0], [2.0, 2.0]]}},
        {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": [[1.0, 1.0], [2.0, 2.0]]}},
        {"type": "Feature", "properties": {"name": "a buoy"}, "geometry": {"type": "Point", "coordinates": [1.0, 1.0]}},
        {"type": "Feature", "properties": {"name": "nothing"}, "geometry": null}]});
    let loaded = load("zones", &file);
    let names: Vec<&str> = loaded.zones.iter().map(|zone| zone.name.as_str()).collect();
    assert_eq!(names, ["closed area 1", "zones 2"]);
    assert_eq!(loaded.refused.len(), 2);
}
