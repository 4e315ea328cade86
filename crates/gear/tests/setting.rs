//! Line-setter arithmetic against worked and published figures, and its own mathematics.

use gear::setting::DoubtKind;
use gear::{GearError, Setting, SettingInput, work_out};
use proptest::prelude::*;
use quantity::testing::assert_within;

#[track_caller]
fn near(what: &str, ours: Option<f64>, theirs: f64, tolerance: f64) {
    assert_within(what, ours.unwrap_or(f64::NAN), theirs, tolerance);
}

/// Deep tuna gear: 8 knots, sag ratio 0.70, a beat of 7 s, 25 hooks between floats, 100 baskets.
fn deep() -> SettingInput {
    SettingInput {
        vessel_speed_through_water_kn: Some(8.0),
        sag_ratio: Some(0.70),
        beat_s: Some(7.0),
        hooks_per_basket: Some(25.0),
        baskets: Some(100.0),
        hooks_per_radio_buoy: Some(600.0),
        ..SettingInput::default()
    }
}

/// Source: worked apart from this code (Python 3.11): 8.00 kn = 4.1156 m/s, 352.8 m/min, 41.16 m, basket 182 s,
/// L 1,070.0 m, S 749.0 m, 18,200 s, 107.0 km, 74.9 km. Tolerance: the last digit.
#[test]
fn val_a_worked_set() {
    let set = work_out(&deep()).unwrap();
    near("shooter, m/s", set.shooter_speed_m_s, 5.8794, 5e-5);
    near("clip spacing, m", set.clip_spacing_m, 41.16, 5e-3);
    near("main line per basket, m", set.main_line_per_basket_m, 1070.0, 0.06);
    near("span, m", set.float_span_m, 749.0, 0.06);
    near("setting time, s", set.setting_time_s, 18_200.0, 1e-6);
    near("main line, m", set.main_line_total_m, 107_000.0, 60.0);
    near("length, m", set.set_length_m, 74_900.0, 60.0);
    assert_eq!((set.hooks, set.radio_buoys), (Some(2500), Some(6)));
    assert!(set.doubts.is_empty(), "{:?}", set.doubts);
}

/// Source: Department of Conservation (New Zealand) 2004, DOC Science Internal Series 190: 3.6 m/s with a hook every 30 to
/// 40 s is given as 100 to 144 m between hooks. Tolerance: the source's rounding at the near end, 10 m.
#[test]
fn val_surface_gear_of_new_zealand() {
    for (beat_s, spacing_m, tolerance_m) in [(30.0, 100.0, 10.0), (40.0, 144.0, 0.01)] {
        let input = SettingInput { shooter_speed_m_s: Some(3.6), beat_s: Some(beat_s), ..SettingInput::default() };
        near("spacing, m", work_out(&input).unwrap().clip_spacing_m, spacing_m, tolerance_m);
    }
}

/// Source: Hu et al. 2005 (abstract): a ship at 10 kn is 150 m past the hook after 29 s. Tolerance: 1 s of way, 5.2 m.
#[test]
fn val_way_at_ten_knots() {
    let input = SettingInput {
        vessel_speed_through_water_kn: Some(10.0),
        beat_s: Some(29.0),
        hooks_per_basket: Some(1.0),
        float_takes_a_beat: Some(false),
        ..SettingInput::default()
    };
    near("way, m", work_out(&input).unwrap().float_span_m, 150.0, 5.2);
}

/// Common practice, no source: some 2,500 hooks go out in about six hours at 8 knots, with a radio buoy every 500 to 700.
#[test]
fn val_common_practice() {
    let set = work_out(&SettingInput { beat_s: Some(8.0), ..deep() }).unwrap();
    near("hours", set.setting_time_s.map(|s| s / 3600.0), 6.0, 0.5);
    assert!(matches!(set.radio_buoys, Some(5..=6)));
}

#[test]
fn verif_short_last_basket_counts_its_own_hooks() {
    let input = SettingInput { baskets: None, hooks: Some(2490.0), ..deep() };
    let set = work_out(&input).unwrap();
    assert_eq!(set.baskets, Some(100));
    near("time, s", set.setting_time_s, (99.0 * 26.0 + 16.0) * 7.0, 1e-9);
    assert_eq!(set.doubts.len(), 1);
    assert_eq!(set.doubts[0].kind, DoubtKind::ShortBasket);
    assert!(set.doubts[0].text.contains("15 hooks"), "{}", set.doubts[0].text);
    let between = work_out(&SettingInput { float_takes_a_beat: Some(false), ..input }).unwrap();
    near("time, s", between.setting_time_s, 2490.0 * 7.0, 1e-9);
    let both = work_out(&SettingInput { baskets: Some(100.0), ..input }).unwrap();
    assert_eq!(both, set);
}

#[test]
fn verif_contradictions_name_both_sides() {
    let cases = [
        (SettingInput { shooter_speed_m_s: Some(5.0), ..deep() }, ["sag_ratio", "shooter_speed_m_s"]),
        (SettingInput { clip_spacing_m: Some(45.0), ..deep() }, ["clip_spacing_m", "beat_s"]),
        (SettingInput { hooks: Some(2400.0), ..deep() }, ["hooks", "baskets"]),
        (
            SettingInput {
                vessel_speed_through_water_kn: Some(8.0),
                shooter_speed_m_s: Some(4.0),
                ..SettingInput::default()
            },
            ["vessel_speed_through_water_kn", "shooter_speed_m_s"],
        ),
        (SettingInput { baskets: Some(10.0), hooks: Some(5.0), ..SettingInput::default() }, ["hooks", "baskets"]),
    ];
    for (input, names) in cases {
        let text = work_out(&input).unwrap_err().to_string();
        assert!(names.iter().all(|name| text.contains(name)), "{text}");
    }
    // Within half a percent what was given stands as it was given.
    let set = work_out(&SettingInput { clip_spacing_m: Some(41.2), ..deep() }).unwrap();
    near("spacing, m", set.clip_spacing_m, 41.2, 0.0);
    let set = work_out(&SettingInput { hooks: Some(2501.0), ..deep() }).unwrap();
    assert_eq!((set.baskets, set.doubts[0].kind), (Some(101), DoubtKind::CountsDiffer));
}

#[test]
fn verif_unknown_stays_null_and_is_named() {
    let input =
        SettingInput { vessel_speed_through_water_kn: Some(8.0), sag_ratio: Some(0.7), ..SettingInput::default() };
    let set = work_out(&input).unwrap();
    assert!(set.shooter_speed_m_s.is_some() && set.beat_s.is_none() && set.main_line_total_m.is_none());
    assert!(set.doubts.iter().any(|doubt| doubt.kind == DoubtKind::Missing && doubt.text.starts_with("beat_s")));
    for too_little in [
        SettingInput::default(),
        SettingInput { beat_s: Some(7.0), ..SettingInput::default() },
        SettingInput { beat_s: Some(7.0), sag_ratio: Some(0.7), hooks: Some(10.0), ..SettingInput::default() },
    ] {
        assert!(matches!(work_out(&too_little), Err(GearError::TooLittle)), "{too_little:?}");
    }
    let buoys = SettingInput { hooks: Some(2500.0), hooks_per_radio_buoy: Some(500.0), ..SettingInput::default() };
    assert_eq!(work_out(&buoys).unwrap().radio_buoys, Some(6));
}

#[test]
fn verif_numbers_out_of_range_are_refused() {
    for bad in [f64::NAN, f64::INFINITY, 0.0, -1.0, 1e12] {
        for input in [
            SettingInput { vessel_speed_through_water_kn: Some(bad), ..deep() },
            SettingInput { shooter_speed_m_s: Some(bad), ..deep() },
            SettingInput { sag_ratio: Some(bad), ..deep() },
            SettingInput { beat_s: Some(bad), ..deep() },
            SettingInput { clip_spacing_m: Some(bad), ..deep() },
            SettingInput { hooks_per_basket: Some(bad), ..deep() },
            SettingInput { baskets: Some(bad), ..deep() },
            SettingInput { hooks: Some(bad), ..deep() },
            SettingInput { hooks_per_radio_buoy: Some(bad), ..deep() },
        ] {
            assert!(matches!(work_out(&input), Err(GearError::OutOfRange { .. })), "{input:?}");
        }
    }
    assert!(work_out(&SettingInput { hooks_per_basket: Some(25.5), ..deep() }).is_err());
}

proptest! {
    /// Whichever sufficient subset is given, the answers are the same.
    #[test]
    fn verif_any_subset_gives_the_same_set(
        speed_kn in 3.0_f64..12.0, sag_ratio in 0.3_f64..1.0, beat_s in 3.0_f64..40.0, each in 1_u32..40, baskets in 1_u32..200,
        float_takes_a_beat in any::<bool>(), mask in 0_u8..32, counts in 0_u8..3,
    ) {
        let shooter = speed_kn * 1852.0 / 3600.0 / sag_ratio;
        let keep = |bit: u8, value: f64| (mask & (1 << bit) != 0).then_some(value);
        let full = SettingInput {
            vessel_speed_through_water_kn: Some(speed_kn),
            shooter_speed_m_s: Some(shooter),
            sag_ratio: Some(sag_ratio),
            beat_s: Some(beat_s),
            clip_spacing_m: Some(shooter * beat_s),
            hooks_per_basket: Some(f64::from(each)),
            baskets: Some(f64::from(baskets)),
            hooks: Some(f64::from(each * baskets)),
            float_takes_a_beat: Some(float_takes_a_beat),
            hooks_per_radio_buoy: Some(500.0),
        };
        let part = SettingInput {
            vessel_speed_through_water_kn: keep(0, speed_kn),
            shooter_speed_m_s: keep(1, shooter),
            sag_ratio: keep(2, sag_ratio),
            beat_s: keep(3, beat_s),
            clip_spacing_m: keep(4, shooter * beat_s),
            hooks_per_basket: full.hooks_per_basket.filter(|_| counts != 0),
            baskets: full.baskets.filter(|_| counts != 1),
            hooks: full.hooks.filter(|_| counts != 2),
            ..full
        };
        let whole = work_out(&full).unwrap();
        let Ok(set) = work_out(&part) else { return Err(TestCaseError::reject("too little")) };
        for (name, pick) in NUMBERS {
            if let Some(ours) = pick(&set) {
                let theirs = pick(&whole).unwrap();
                assert_within(name, ours / theirs, 1.0, 1e-12);
            }
        }
        prop_assert_eq!((set.hooks, set.baskets, set.hooks_per_basket), (whole.hooks, whole.baskets, whole.hooks_per_basket));
        // Three of the five numbers of pace decide all, unless they are the three of one relation.
        if mask.count_ones() >= 3 && ![0b00111, 0b11010].contains(&mask) {
            prop_assert!(NUMBERS.iter().all(|(_, pick)| pick(&set).is_some()), "{:?}", set);
        }
    }
}

type Pick = fn(&Setting) -> Option<f64>;
const NUMBERS: [(&str, Pick); 10] = [
    ("ship's speed", |s| s.vessel_speed_through_water_kn),
    ("shooter", |s| s.shooter_speed_m_s),
    ("sag ratio", |s| s.sag_ratio),
    ("beat", |s| s.beat_s),
    ("spacing", |s| s.clip_spacing_m),
    ("main line per basket", |s| s.main_line_per_basket_m),
    ("span", |s| s.float_span_m),
    ("main line", |s| s.main_line_total_m),
    ("length", |s| s.set_length_m),
    ("time", |s| s.setting_time_s),
];
