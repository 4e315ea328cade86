//! Radio buoys carried forward: exact where the drift is steady, and as sure as it says where it is not.
#![allow(clippy::expect_used, clippy::unwrap_used, reason = "tests")]

use quantity::testing::assert_within;
use quantity::{Position, UtcInstant, geodesic};
use water::fixes::{Ahead, AheadBasis, Buoy, Fix, FixError, ahead};

fn at(seconds_s: f64) -> UtcInstant {
    UtcInstant::from_micros(1_772_323_200_000_000).unwrap().plus_seconds(seconds_s)
}

/// A buoy that drifts steadily along a geodesic, with a fix every so often.
fn steady(name: &str, from: Position, to_deg_true: f64, speed_m_s: f64, every_s: f64, until_s: f64) -> Buoy {
    let mut fixes = Vec::new();
    let mut t_s = 0.0;
    while t_s <= until_s {
        let place = geodesic::direct(from, to_deg_true, speed_m_s * t_s).unwrap().position;
        fixes.push(Fix {
            at: at(t_s),
            latitude_deg: place.latitude_deg(),
            longitude_deg: place.longitude_deg(),
            uncertainty_m: None,
        });
        t_s += every_s;
    }
    Buoy { buoy: name.to_owned(), fixes }
}

fn off_m(ahead: &Ahead, truth: Position) -> f64 {
    let place = Position::new(ahead.latitude_deg, ahead.longitude_deg).unwrap();
    geodesic::inverse(place, truth).distance_m
}

/// A steady drift along a geodesic (Karney 2013, by the geodesic library) goes on exactly, across 180° too.
#[test]
fn val_steady_drift_goes_on_along_the_geodesic() {
    let start = Position::new(-14.5, 179.98).unwrap();
    let buoy = steady("A", start, 75.0, 0.4, 900.0, 21_600.0);
    let answer = ahead(&[buoy], at(21_600.0), at(21_600.0 + 18_000.0)).unwrap();
    let truth = geodesic::direct(start, 75.0, 0.4 * 39_600.0).unwrap().position;
    assert!(truth.longitude_deg() < 0.0, "the case crosses 180°");
    // Seen: 4e-8 m; the plane is exact on lines through its origin.
    assert_within("off the truth, m", off_m(&answer[0], truth), 0.0, 1e-3);
    assert_within("drift, m/s", answer[0].drift_m_s.unwrap(), 0.4, 1e-6);
    assert_within("no past error, m", answer[0].past_error_m.unwrap(), 0.0, 1e-3);
    assert_within("staying put is off by the drift, m", answer[0].staying_put_error_m.unwrap(), 0.4 * 18_000.0, 1.0);
    assert_eq!(answer[0].basis, AheadBasis::OwnFixes);
}

/// A small generator (Steele, Lea & Flood 2014, SplitMix64), and normal deviates by Box & Muller 1958.
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        #[expect(clippy::cast_precision_loss, reason = "53 bits")]
        let unit = ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0;
        unit
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (1.0 - self.unit(), self.unit());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// A track in a steady current with a velocity error that forgets itself (Ornstein–Uhlenbeck), exact at its steps:
/// places every `step_s`, metres east and north.
fn wandering(dice: &mut Dice, sd_m_s: f64, memory_s: f64, step_s: f64, steps: usize) -> Vec<[f64; 2]> {
    let mut velocity = [sd_m_s * dice.normal(), sd_m_s * dice.normal()];
    let mean = [0.3 * dice.normal(), 0.3 * dice.normal()];
    let mut place = [0.0; 2];
    let mut places = vec![place];
    let fine = 20;
    let dt_s = step_s / f64::from(fine);
    let keep = (-dt_s / memory_s).exp();
    let kick = sd_m_s * (1.0 - keep * keep).sqrt();
    for _ in 0..steps {
        for _ in 0..fine {
            for axis in 0..2 {
                let before = velocity[axis];
                velocity[axis] = keep * before + kick * dice.normal();
                place[axis] += (mean[axis] + 0.5 * (before + velocity[axis])) * dt_s;
            }
        }
        places.push(place);
    }
    places
}

fn placed(origin: Position, [east_m, north_m]: [f64; 2]) -> Position {
    let bearing = east_m.atan2(north_m).to_degrees().rem_euclid(360.0);
    geodesic::direct(origin, bearing, east_m.hypot(north_m)).unwrap().position
}

fn heard(name: &str, origin: Position, places: &[[f64; 2]], step_s: f64, sd_m: f64, dice: &mut Dice) -> Buoy {
    let fixes = places.iter().enumerate().map(|(index, place)| {
        let noisy = placed(origin, [place[0] + sd_m * dice.normal(), place[1] + sd_m * dice.normal()]);
        #[expect(clippy::cast_precision_loss, reason = "small")]
        let t_s = index as f64 * step_s;
        Fix {
            at: at(t_s),
            latitude_deg: noisy.latitude_deg(),
            longitude_deg: noisy.longitude_deg(),
            uncertainty_m: Some(sd_m),
        }
    });
    Buoy { buoy: name.to_owned(), fixes: fixes.collect() }
}

/// In a sea whose velocity forgets itself within 12 hours (sd 0.1 m/s) the true place lies within the band about as often
/// as the band says.
#[test]
fn verif_the_band_holds_the_truth_as_often_as_it_says() {
    let origin = Position::new(-15.0, -179.9).unwrap();
    let mut dice = Dice(3);
    let (step_s, known, lead) = (1_200.0, 36, 12);
    let (mut inside, mut all) = (0, 0);
    for _ in 0..120 {
        let tracks: Vec<Vec<[f64; 2]>> =
            (0..4).map(|_| wandering(&mut dice, 0.1, 43_200.0, step_s, known + lead)).collect();
        let buoys: Vec<Buoy> =
            tracks.iter().map(|track| heard("B", origin, &track[..=known], step_s, 30.0, &mut dice)).collect();
        #[expect(clippy::cast_precision_loss, reason = "small")]
        let (now, then) = (at(known as f64 * step_s), at((known + lead) as f64 * step_s));
        for (answer, track) in ahead(&buoys, now, then).unwrap().iter().zip(&tracks) {
            all += 1;
            inside += i32::from(off_m(answer, placed(origin, track[known + lead])) <= answer.radius_95_m);
        }
    }
    let share = f64::from(inside) / f64::from(all);
    // Seen: 0.958. Two-sided: a band that always holds would be as wrong as one that seldom does.
    assert_within("share inside the band of 95 %", share, 0.95, 0.035);
}

/// What a line through thirteen fixes of an hour is off by in such a sea, from the covariance of places
/// Cov(X(s), X(t)) = σ²τ² (2s/τ − 1 + e^(−s/τ) + e^(−t/τ) − e^(−(t−s)/τ)) for s ≤ t (Uhlenbeck & Ornstein 1930, Physical
/// Review 36, 823, integrated): mean over the leads that count, each scaled in proportion to time.
fn theory_m(sd_m_s: f64, memory_s: f64, step_s: f64, lead_steps: u32) -> f64 {
    let covariance = |a: f64, b: f64| {
        let (s, t) = (a.min(b) / memory_s, a.max(b) / memory_s);
        (sd_m_s * memory_s).powi(2) * (2.0 * s - 1.0 + (-s).exp() + (-t).exp() - (s - t).exp())
    };
    let leads = lead_steps / 2..=lead_steps * 3 / 2;
    let count = f64::from(leads.end() - leads.start() + 1);
    let mean: f64 = leads
        .map(|lead| {
            let ahead = 12 + lead;
            // Least squares through steps 0 … 12 drawn on to step `ahead`.
            let mut weights: Vec<(f64, f64)> = (0..=12)
                .map(|i| {
                    (f64::from(i) * step_s, -(1.0 / 13.0 + (f64::from(i) - 6.0) * (f64::from(ahead) - 6.0) / 182.0))
                })
                .collect();
            weights.push((f64::from(ahead) * step_s, 1.0));
            let variance: f64 =
                weights.iter().flat_map(|a| weights.iter().map(move |b| a.1 * b.1 * covariance(a.0, b.0))).sum();
            variance * (f64::from(lead_steps) / f64::from(lead)).powi(2)
        })
        .sum::<f64>()
        / count;
    (2.0 * mean).sqrt()
}

#[test]
fn verif_past_error_is_that_of_theory() {
    let origin = Position::new(20.0, 10.0).unwrap();
    let mut dice = Dice(11);
    let (sd_m_s, memory_s, step_s) = (0.1, 43_200.0, 300.0);
    let tracks: Vec<Buoy> = (0..6)
        .map(|_| {
            let places = wandering(&mut dice, sd_m_s, memory_s, step_s, 1_500);
            heard("B", origin, &places, step_s, 0.01, &mut dice)
        })
        .collect();
    let answer = ahead(&tracks, at(450_000.0), at(450_000.0 + 24.0 * step_s)).unwrap();
    let ratio = answer[0].past_error_m.unwrap() / theory_m(sd_m_s, memory_s, step_s, 24);
    // Seen: 1.012; some 9,000 overlapping reckonings of 6 × 10 memories.
    assert_within("past error against theory", ratio, 1.0, 0.08);
}

#[test]
fn verif_a_fix_that_leaps_is_left_out_and_told() {
    let start = Position::new(5.0, 160.0).unwrap();
    let mut buoy = steady("A", start, 200.0, 0.3, 1_800.0, 14_400.0);
    let clean = ahead(&[buoy.clone()], at(14_400.0), at(20_000.0)).unwrap();
    for index in [4, buoy.fixes.len() - 1, 0] {
        let mut leaping = buoy.clone();
        leaping.fixes[index].latitude_deg += 1.0;
        let answer = ahead(&[leaping], at(14_400.0), at(20_000.0)).unwrap();
        assert!(answer[0].doubts.iter().any(|doubt| doubt.kind == "fix_leaps"), "fix {index}");
        let place = Position::new(clean[0].latitude_deg, clean[0].longitude_deg).unwrap();
        assert_within("the rest stands, m", off_m(&answer[0], place), 0.0, 0.01);
    }
    buoy.fixes[2].latitude_deg = 95.0;
    assert!(matches!(ahead(&[buoy], at(14_400.0), at(20_000.0)), Err(FixError::NoPlace { .. })));
}

#[test]
fn verif_a_silent_buoy_moves_with_its_neighbours() {
    let place = |longitude_deg: f64| Position::new(-10.0, longitude_deg).unwrap();
    let mut silent = steady("B", place(170.1), 90.0, 0.1, 1_800.0, 7_200.0);
    silent.fixes.truncate(5);
    // After two hours the current turns; only the neighbours tell.
    let turned = |name: &str, longitude_deg: f64| {
        let mut buoy = steady(name, place(longitude_deg), 90.0, 0.1, 1_800.0, 7_200.0);
        let from = buoy.fixes.last().copied().unwrap();
        let from_place = Position::new(from.latitude_deg, from.longitude_deg).unwrap();
        let after = steady(name, from_place, 0.0, 0.5, 1_800.0, 21_600.0);
        buoy.fixes.extend(after.fixes.into_iter().skip(1).map(|fix| Fix { at: fix.at.plus_seconds(7_200.0), ..fix }));
        buoy
    };
    let buoys = [turned("A", 170.0), silent.clone(), turned("C", 170.2)];
    let answer = ahead(&buoys, at(28_800.0), at(32_400.0)).unwrap();
    assert_eq!(answer[1].basis, AheadBasis::Neighbours);
    let from = silent.fixes.last().unwrap();
    let from_place = Position::new(from.latitude_deg, from.longitude_deg).unwrap();
    let truth = geodesic::direct(from_place, 0.0, 0.5 * (32_400.0 - 7_200.0)).unwrap().position;
    assert_within("off the truth, m", off_m(&answer[1], truth), 0.0, 20.0);
    assert!(answer[1].doubts.iter().any(|doubt| doubt.kind == "silent"));
}

#[test]
fn verif_one_fix_stays_put_with_a_wide_band() {
    let start = Position::new(0.0, -179.999).unwrap();
    let buoy = steady("A", start, 270.0, 0.3, 1_800.0, 0.0);
    let answer = ahead(&[buoy], at(600.0), at(7_200.0)).unwrap();
    assert_eq!(answer[0].basis, AheadBasis::OneFix);
    assert_within("stays, m", off_m(&answer[0], start), 0.0, 1e-6);
    assert!(answer[0].radius_95_m > 5_000.0 && answer[0].drift_m_s.is_none());
    assert!(ahead(&[], at(0.0), at(1.0)).unwrap().is_empty());
}
