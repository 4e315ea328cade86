//! Rest hours against the rule's own arithmetic and against counting every minute.
#![allow(clippy::expect_used, clippy::unwrap_used, reason = "tests")]

use quantity::UtcInstant;
use quantity::testing::assert_within;
use voyage::rest::{RestAsked, RestError, Span, rest};

const MINUTE_US: i64 = 60_000_000;
/// 2026-03-01T00:00:00Z.
const BASE_US: i64 = 1_772_323_200_000_000;

fn at(minute: i64) -> UtcInstant {
    UtcInstant::from_micros(BASE_US + minute * MINUTE_US).unwrap()
}

fn minute(at: UtcInstant) -> i64 {
    (at.micros() - BASE_US) / MINUTE_US
}

fn asked(work: &[(i64, i64)], next_min: i64, now: i64) -> RestAsked {
    let intervals = work.iter().map(|(from, to)| Span { from: at(*from), to: at(*to) }).collect();
    #[expect(clippy::cast_precision_loss, reason = "small")]
    let next_duration_s = Some(next_min as f64 * 60.0);
    RestAsked { intervals, unknown: Vec::new(), next_duration_s, at: at(now) }
}

fn daily(from_h: i64, to_h: i64, days: i64) -> Vec<(i64, i64)> {
    (0..days).map(|day| (day * 1440 + from_h * 60, day * 1440 + to_h * 60)).collect()
}

/// ILO C188 Article 14(1)(b): ten hours a day meet the day's rule exactly and break the week's (7 × 10 < 77).
#[test]
fn val_ten_hours_a_day_keep_the_day_and_break_the_week() {
    let answer = rest(&asked(&daily(6, 20, 10), 60, 10 * 1440)).unwrap();
    assert_within("worst day, h", answer.worst_24h.rest_s / 3600.0, 10.0, 1e-9);
    assert_within("worst week, h", answer.worst_7d.rest_s / 3600.0, 70.0, 1e-9);
    assert!(answer.worst_24h.met && !answer.worst_7d.met);
}

/// Eleven hours a day meet both exactly (7 × 11 = 77).
#[test]
fn val_eleven_hours_a_day_just_keep_both() {
    let answer = rest(&asked(&daily(6, 19, 10), 60, 10 * 1440)).unwrap();
    assert_within("worst day, h", answer.worst_24h.rest_s / 3600.0, 11.0, 1e-9);
    assert_within("worst week, h", answer.worst_7d.rest_s / 3600.0, 77.0, 1e-9);
    assert!(answer.worst_24h.met && answer.worst_7d.met);
}

/// A small generator (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators", SplitMix64).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: i64) -> i64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        i64::try_from((z ^ (z >> 31)) % u64::try_from(end).unwrap()).unwrap()
    }
}

const PAD: i64 = 30_000;

/// Sums of worked minutes from `-PAD` on.
fn sums(work: &[(i64, i64)], until: i64) -> Vec<i64> {
    let mut minutes = vec![0_i64; usize::try_from(until + 2 * PAD).unwrap()];
    for (from, to) in work {
        for m in *from..*to {
            minutes[usize::try_from(m + PAD).unwrap()] = 1;
        }
    }
    let mut sum = 0;
    let mut sums = vec![0];
    for worked in minutes {
        sum += worked;
        sums.push(sum);
    }
    sums
}

fn counted(sums: &[i64], from: i64, to: i64) -> i64 {
    sums[usize::try_from(to + PAD).unwrap()] - sums[usize::try_from(from + PAD).unwrap()]
}

#[test]
fn verif_equal_to_counting_every_minute() {
    let mut dice = Dice(7);
    let mut later = 0;
    for round in 0..60 {
        let days = 1 + dice.below(10);
        let mut work = Vec::new();
        for _ in 0..dice.below(3 * days + 1) {
            let from = dice.below(days * 1440);
            work.push((from, from + 1 + dice.below(if round % 3 == 0 { 240 } else { 700 })));
        }
        let now = days * 1440 - dice.below(600);
        let next = 1 + dice.below(840);
        let answer = rest(&asked(&work, next, now)).unwrap();
        let until = days * 1440 + 2000;
        let before = sums(&work, until);
        for (window, worst) in [(1440, answer.worst_24h), (10080, answer.worst_7d)] {
            let most = (-window..until).map(|t| counted(&before, t, t + window)).max().unwrap();
            #[expect(clippy::cast_precision_loss, reason = "small")]
            let rest_s = (window - most) as f64 * 60.0;
            assert_within("rest in the worst window, s", worst.rest_s, rest_s, 1e-9);
            assert_eq!(counted(&before, minute(worst.from), minute(worst.to)), most, "the window named is a worst one");
        }
        let allowed = |start: i64| {
            if counted(&before, start, start + next) > 0 {
                return false;
            }
            let mut with = work.clone();
            with.push((start, start + next));
            let with = sums(&with, until + 12_000);
            [(1440, 840), (10080, 5460)]
                .into_iter()
                .all(|(window, most)| (start - window + 1..start + next).all(|t| counted(&with, t, t + window) <= most))
        };
        let earliest = (now..until + 11_000).find(|start| allowed(*start));
        assert_eq!(answer.earliest_start.map(minute), earliest, "round {round}: {work:?} next {next} now {now}");
        later += i32::from(earliest.is_some_and(|start| start > now));
    }
    assert!(later > 10, "only {later} cases had to wait: too easy a draw");
}

#[test]
fn verif_what_cannot_be_is_said() {
    let answer = rest(&asked(&[], 15 * 60, 0)).unwrap();
    assert_eq!(answer.earliest_start, None);
    assert_eq!(answer.doubts.first().map(|doubt| doubt.kind), Some("never_met"));
    assert_within("a day without work, s", answer.worst_24h.rest_s, 86_400.0, 1e-9);
    let mut turned = asked(&[(600, 300), (0, 120)], 60, 700);
    let answer = rest(&turned).unwrap();
    assert!(answer.doubts.iter().any(|doubt| doubt.kind == "ends_before_it_begins"));
    assert_within("the good stretch stays, s", answer.worst_24h.rest_s, 86_400.0 - 7_200.0, 1e-9);
    turned.next_duration_s = Some(f64::NAN);
    assert!(matches!(rest(&turned), Err(RestError::Duration { .. })));
}

#[test]
fn verif_unknown_time_gives_a_second_answer() {
    let mut record = asked(&daily(6, 19, 10), 60, 10 * 1440);
    record.unknown = vec![Span { from: at(3 * 1440), to: at(3 * 1440 + 60) }];
    let answer = rest(&record).unwrap();
    assert!(answer.worst_24h.met);
    let worked = answer.worst_24h_if_unknown_worked.expect("unknown time was given");
    assert_within("with the unknown hour worked, h", worked.rest_s / 3600.0, 10.0, 1e-9);
    assert!(!answer.worst_7d_if_unknown_worked.expect("unknown time was given").met);
}
