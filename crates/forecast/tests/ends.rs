//! Which end first: soak, steaming, wind and rest against plain reckoning hook by hook.
#![allow(clippy::expect_used, clippy::unwrap_used, reason = "tests")]

use forecast::ends::{Ends, EndsAsked, EndsError, Stretch, Worker, ends};
use quantity::testing::assert_within;
use quantity::{Position, UtcInstant, geodesic};
use voyage::rest::Span;
use water::fixes::{Buoy, Fix};

fn at(seconds_s: f64) -> UtcInstant {
    UtcInstant::from_micros(1_772_323_200_000_000).unwrap().plus_seconds(seconds_s)
}

const HOUR_S: f64 = 3_600.0;

/// A line of three buoys 20 nmi apart on 052°, across 180°, that drifts east at 0.3 m/s; laid from 0 to 5 h; now is 9 h.
fn asked() -> EndsAsked {
    let start = Position::new(-14.525, 179.75).unwrap();
    let buoys =
        [("A", 0.0, 0.0), ("C", 37_040.0, 9_000.0), ("E", 74_080.0, 18_000.0)].map(|(name, along_m, laid_s)| {
            let laid = geodesic::direct(start, 52.0, along_m).unwrap().position;
            let mut fixes = Vec::new();
            let mut t_s = laid_s;
            while t_s <= 9.0 * HOUR_S {
                let place = geodesic::direct(laid, 90.0, 0.3 * (t_s - laid_s)).unwrap().position;
                let (latitude_deg, longitude_deg) = (place.latitude_deg(), place.longitude_deg());
                fixes.push(Fix { at: at(t_s), latitude_deg, longitude_deg, uncertainty_m: None });
                t_s += 1_200.0;
            }
            Buoy { buoy: name.to_owned(), fixes }
        });
    let stretches = (0..100_u32)
        .map(|basket| Stretch {
            hooks: 25,
            first_clipped_at: at(f64::from(basket) * 182.0 + 7.0),
            last_clipped_at: at(f64::from(basket) * 182.0 + 175.0),
        })
        .collect();
    EndsAsked {
        now: at(9.0 * HOUR_S),
        ship_latitude_deg: -14.2,
        ship_longitude_deg: -179.8,
        ship_speed_kn: 7.8,
        start_at: None,
        buoys: buoys.to_vec(),
        stretches,
        pace_hooks_h: 250.0,
        pace_error_hooks_h: Some(20.0),
        wind_from_deg_true: Some(95.0),
        call_before_s: 1_800.0,
        people: Vec::new(),
        next_set_s: None,
    }
}

fn plans(asked: &EndsAsked) -> Ends {
    ends(asked).unwrap()
}

#[test]
fn verif_soak_equals_counting_every_hook() {
    let asked = asked();
    let answer = plans(&asked);
    let mut clipped = Vec::new();
    for stretch in &asked.stretches {
        let step_s = stretch.last_clipped_at.seconds_since(stretch.first_clipped_at) / 24.0;
        clipped.extend((0..25).map(|hook| stretch.first_clipped_at.plus_seconds(f64::from(hook) * step_s)));
    }
    for (plan, turned) in [(answer.from_first.as_ref().unwrap(), false), (answer.from_last.as_ref().unwrap(), true)] {
        let mut order = clipped.clone();
        if turned {
            order.reverse();
        }
        let mut lifted = plan.starts_at;
        let soaks: Vec<f64> = order
            .iter()
            .map(|clip| {
                lifted = lifted.plus_seconds(HOUR_S / 250.0);
                lifted.seconds_since(*clip)
            })
            .collect();
        #[expect(clippy::cast_precision_loss, reason = "2,500")]
        let mean_s = soaks.iter().sum::<f64>() / soaks.len() as f64;
        assert_within("shortest, s", plan.shortest_soak_s, soaks.iter().copied().fold(f64::MAX, f64::min), 0.01);
        assert_within("longest, s", plan.longest_soak_s, soaks.iter().copied().fold(0.0, f64::max), 0.01);
        assert_within("mean, s", plan.mean_soak_s, mean_s, 0.01);
        assert_within("ends when the last is up, s", plan.ends_at.seconds_since(lifted), 0.0, 0.01);
        assert_within("error of the end, s", plan.ends_error_s, 10.0 * HOUR_S * 20.0 / 250.0, 1e-6);
    }
    let (first, last) = (answer.from_first.unwrap(), answer.from_last.unwrap());
    assert!(last.longest_soak_s - last.shortest_soak_s > first.longest_soak_s - first.shortest_soak_s);
}

/// The ship arrives where the buoy is when she arrives: distance by the geodesic (Karney 2013) over speed.
#[test]
fn val_she_meets_the_buoy_where_it_has_drifted_to() {
    let asked = asked();
    let answer = plans(&asked);
    let laid = geodesic::direct(Position::new(-14.525, 179.75).unwrap(), 52.0, 74_080.0).unwrap().position;
    let plan = answer.from_last.unwrap();
    let drifted_m = 0.3 * (plan.starts_at.seconds_since(at(18_000.0)));
    let truth = geodesic::direct(laid, 90.0, drifted_m).unwrap().position;
    let ship = Position::new(-14.2, -179.8).unwrap();
    let leg = geodesic::inverse(ship, truth);
    // Seen: 0.2 m, which is what is left of looking again.
    assert_within("distance, m", plan.distance_m, leg.distance_m, 1.0);
    assert_within("steaming, s", plan.steam_s, leg.distance_m / (7.8 * 1852.0 / 3600.0), 1.0);
    assert_within("leaves now, s", plan.leave_at.seconds_since(asked.now), 0.0, 1.0);
    assert_within("hands half an hour before, s", plan.starts_at.seconds_since(plan.call_at), 1_800.0, 1e-6);
}

#[test]
fn verif_wind_on_the_bow_by_the_course_of_the_haul() {
    let answer = plans(&asked());
    let (first, last) = (answer.from_first.unwrap(), answer.from_last.unwrap());
    // Laid on 052° over 74,080 m; A has drifted five hours longer, 5,400 m east. In the plane of A.
    let (east_m, north_m) = (74_080.0 * 52.0_f64.to_radians().sin() - 5_400.0, 74_080.0 * 52.0_f64.to_radians().cos());
    let course = east_m.atan2(north_m).to_degrees();
    // Seen: 0.03°, the meridians converge by 0.1° over the line.
    assert_within("course from the first, °", first.haul_course_deg_true.unwrap(), course, 0.2);
    assert_within("course from the last, °", last.haul_course_deg_true.unwrap(), course + 180.0, 0.2);
    assert_within("wind from 095°, °", first.wind_off_bow_deg.unwrap(), 95.0 - course, 0.2);
    assert_within("wind from 095°, the other way, °", last.wind_off_bow_deg.unwrap(), 180.0 - (95.0 - course), 0.2);
    assert_eq!((first.wind_side, last.wind_side), (Some("starboard"), Some("port")));
}

#[test]
fn verif_a_chosen_hour_is_kept_where_it_can_be() {
    let mut asked = asked();
    asked.start_at = Some(at(12.0 * HOUR_S));
    let answer = plans(&asked);
    let last = answer.from_last.unwrap();
    assert_within("starts then, s", last.starts_at.seconds_since(at(12.0 * HOUR_S)), 0.0, 1e-3);
    assert!(last.leave_at > asked.now);
    // The first end is 40 nmi off: not before 13 h at 7.8 kn; it is said.
    let first = answer.from_first.unwrap();
    assert!(first.starts_at > at(12.0 * HOUR_S));
    assert_eq!(answer.doubts.iter().filter(|doubt| doubt.kind == "later_than_wanted").count(), 1);
}

#[test]
fn verif_rest_the_worst_person_first() {
    let mut asked = asked();
    let work = |from_h: f64, to_h: f64| Span { from: at(from_h * HOUR_S), to: at(to_h * HOUR_S) };
    asked.people = vec![
        Worker { name: "Rested".to_owned(), intervals: vec![work(0.0, 1.0)] },
        Worker { name: "Tired".to_owned(), intervals: vec![work(-6.0, 5.0)] },
    ];
    asked.next_set_s = Some(5.0 * HOUR_S);
    let plan = plans(&asked).from_last.unwrap();
    assert_eq!(plan.rest[0].name, "Tired");
    assert!(plan.rest[0].worst_24h.rest_s < plan.rest[1].worst_24h.rest_s);
    let hauled_s = plan.ends_at.seconds_since(plan.call_at);
    assert_within(
        "24 h less the haul and an hour, s",
        plan.rest[1].worst_24h.rest_s,
        86_400.0 - hauled_s - HOUR_S,
        1.0,
    );
    assert!(plan.rest[0].next_set_from.unwrap() > plan.ends_at);
}

#[test]
fn verif_a_silent_last_buoy_is_looked_for_across_the_line() {
    let answer = plans(&asked());
    let silent = answer.if_last_silent.unwrap();
    assert_eq!(silent.next_buoy, "C");
    let cross = Position::new(silent.cross_latitude_deg, silent.cross_longitude_deg).unwrap();
    let next = Position::new(silent.latitude_deg, silent.longitude_deg).unwrap();
    // C has drifted two and a half hours longer than E, 2,700 m east.
    let (east_m, north_m) = (37_040.0 * 52.0_f64.to_radians().sin() - 2_700.0, 37_040.0 * 52.0_f64.to_radians().cos());
    assert_within("half-way, m", geodesic::inverse(next, cross).distance_m, 0.5 * east_m.hypot(north_m), 50.0);
    let turn = (silent.cross_courses_deg_true[0] - silent.line_bearing_deg_true).rem_euclid(360.0);
    assert_within("right angle, °", turn, 90.0, 1e-9);
}

#[test]
fn verif_what_cannot_be_is_refused_in_words() {
    let mut wrong = asked();
    wrong.ship_speed_kn = 0.0;
    assert!(matches!(ends(&wrong), Err(EndsError::OutOfRange { field: "ship_speed_kn", .. })));
    let mut wrong = asked();
    wrong.stretches.clear();
    assert_eq!(ends(&wrong), Err(EndsError::NoHooks));
    let mut alone = asked();
    alone.buoys.truncate(1);
    let answer = plans(&alone);
    assert!(answer.if_last_silent.is_none() && answer.from_last.unwrap().haul_course_deg_true.is_none());
    alone.buoys.clear();
    let answer = plans(&alone);
    assert!(answer.from_last.is_none() && answer.doubts.iter().any(|doubt| doubt.kind == "no_fix"));
}
