//! The whole line through the soak: ends that slump, floats that go under, cuts, fixes, currents along the line and in time.

use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::soak::{Cut, FloatFix, Moment, ProfileAt, RadioBuoy, SoakPlan, SoakReport, Stretch, Wind, follow};
use gear::{Basket, HangOptions, Rig, hang_basket, hook_depths};
use quantity::testing::assert_within;

/// 25 hooks, 45 m apart: the deep basket; branch lines of 0.6 N and 0.06 m², 6 mm float lines, 300 mm floats.
fn rig(sag_ratio: f64) -> Rig {
    Rig {
        basket: Basket {
            hooks: 25,
            clip_spacing_m: 45.0,
            sag_ratio,
            float_line_m: 25.0,
            branch_line_m: 25.0,
            float_takes_a_beat: true,
        },
        main_line: MainLine {
            diameter_mm: 3.6,
            density_kg_m3: 1140.0,
            axial_stiffness_n: 2e4,
            drag_normal: 1.2,
            drag_tangential: 0.008,
        },
        branch: BranchLine { weight_in_water_n: 0.6, drag_area_m2: 0.06, drag_at: DragAt::Node },
        float_line: Some(FloatLine { diameter_mm: 6.0, drag_normal: 1.2 }),
        float: Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: None }),
    }
}

fn stretch(baskets: u32, sag_ratio: f64) -> Stretch {
    Stretch { rig: rig(sag_ratio), baskets, bearings_deg_true: vec![60.0], spans_m: Vec::new() }
}

/// Baskets on a course of 60° in still water, twelve hours in steps of a minute, told every hour.
fn plan(baskets: u32, sag_ratio: f64) -> SoakPlan {
    SoakPlan {
        stretches: vec![stretch(baskets, sag_ratio)],
        float_times_s: Vec::new(),
        radio_buoys: Vec::new(),
        cuts: Vec::new(),
        water: Water::default(),
        profiles: Vec::new(),
        wind: Vec::new(),
        fixes: Vec::new(),
        duration_s: 12.0 * 3600.0,
        step_s: 60.0,
        every_s: 3600.0,
        elements_per_interval: 1,
    }
}

fn buoy(place: u32) -> RadioBuoy {
    RadioBuoy {
        place,
        drag_area_m2: 0.0,
        wind_area_m2: 0.0,
        drogue_area_m2: 0.0,
        drogue_depth_m: 0.0,
        net_buoyancy_n: None,
    }
}

/// A current (depth m, along 60° m/s, to starboard of it m/s), everywhere and always.
fn current(levels: &[(f64, f64, f64)]) -> Vec<CurrentLevel> {
    let (sin, cos) = 60_f64.to_radians().sin_cos();
    levels
        .iter()
        .map(|(depth_m, along, aside)| CurrentLevel {
            depth_m: *depth_m,
            east_m_s: along * sin + aside * cos,
            north_m_s: along * cos - aside * sin,
        })
        .collect()
}

fn steady(levels: &[(f64, f64, f64)]) -> Vec<ProfileAt> {
    vec![ProfileAt { after_s: 0.0, basket: None, current: current(levels) }]
}

fn run(plan: &SoakPlan) -> (Vec<Moment>, SoakReport) {
    let mut moments = Vec::new();
    let report = follow(plan, |moment| moments.push(moment)).unwrap_or_else(|error| panic!("{error}"));
    for moment in &moments {
        assert!(moment.floats.iter().all(|float| (float.east_m + float.north_m + float.under_m).is_finite()));
        assert!(moment.baskets.iter().all(|basket| basket.hook_depths_m.iter().all(|depth_m| depth_m.is_finite())));
    }
    // What a step leaves open: a tenth of a millimetre and a hundred-thousandth of a newton are asked for.
    assert!(report.largest_gap_m <= 1e-4 && report.largest_net_force_n <= 1e-5, "{report:?}");
    (moments, report)
}

fn sags(moment: &Moment, count: usize) -> Vec<f64> {
    moment.baskets.iter().take(count).map(|basket| basket.sag_ratio).collect()
}

fn distance_m(moment: &Moment, from: usize, to: usize) -> f64 {
    let (a, b) = (moment.floats[from], moment.floats[to]);
    (b.east_m - a.east_m).hypot(b.north_m - a.north_m)
}

/// Source: floats moved by closed-form catenary pulls with each basket's drag lumped at its floats, dead water, 25 hooks,
/// k 0.60 (NumPy 2.4.6): k of the first four baskets after 1, 4, 8 and 12 h. That estimate leaves out the lag of the main line
/// and its lean, so direction and size only: 0.05 (seen 0.036).
#[test]
fn val_ends_slump_as_fast_as_a_lumped_estimate_says() {
    let (moments, _) = run(&plan(100, 0.6));
    let rows = [
        (1, [0.467, 0.564, 0.586, 0.594]),
        (4, [0.298, 0.466, 0.530, 0.559]),
        (8, [0.212, 0.385, 0.468, 0.514]),
        (12, [0.171, 0.334, 0.423, 0.476]),
    ];
    for (hours, theirs) in rows {
        for (basket, theirs) in theirs.into_iter().enumerate() {
            let ours = moments[hours].baskets[basket].sag_ratio;
            assert_within(&format!("k of basket {} after {hours} h", basket + 1), ours, theirs, 0.05);
        }
        // "The middle of a 100-basket line stays at 0.600."
        assert_within("k in the middle", moments[hours].baskets[50].sag_ratio, 0.6, 1e-6);
    }
}

#[test]
fn verif_main_line_is_conserved_while_the_ends_slump() {
    let (moments, _) = run(&plan(30, 0.6));
    for (hours, moment) in moments.iter().enumerate() {
        let spans_m: f64 = moment.baskets.iter().map(|basket| basket.span_m).sum();
        assert_within("spans, m", spans_m, distance_m(moment, 0, 30), 1e-6);
        for (index, basket) in moment.baskets.iter().enumerate() {
            assert_within("span ÷ k: the main line, m", basket.span_m / basket.sag_ratio, 1170.0, 1e-9);
            // Both ends slump alike (the line is the same from either end).
            let mirror = &moment.baskets[29 - index];
            assert_within("k from the other end", basket.sag_ratio, mirror.sag_ratio, 1e-6);
            // All of its line still hangs between its floats: the depths are the catenary's of 1,170 m. The end basket's own
            // way through the water lifts it by up to 2.5 % in the first hour.
            let closed = hook_depths(&Basket { sag_ratio: basket.sag_ratio, ..rig(0.6).basket }).expect("closed form");
            for (ours_m, closed) in basket.hook_depths_m.iter().zip(&closed.hooks) {
                let allowed = if hours == 1 { 0.03 } else { 0.02 };
                assert_within("depth ÷ catenary", ours_m / closed.depth_m, 1.0, allowed);
            }
        }
        if hours > 0 {
            // Where the slump begins the line is drawn out first, by less than 0.001 of k.
            let ks = sags(moment, 8);
            assert!(ks.windows(2).all(|pair| pair[0] < pair[1] + 1e-3), "after {hours} h: {ks:?}");
            let before = sags(&moments[hours - 1], 4);
            assert!(before.iter().zip(&ks).all(|(before, now)| now < before), "after {hours} h: {ks:?}");
        }
    }
}

#[test]
fn verif_a_flow_across_the_gear_and_a_drogue_hold_the_ends_out() {
    let after = |profiles: &[ProfileAt], drogue_m2: f64| {
        let mut plan = plan(30, 0.6);
        plan.profiles = profiles.to_vec();
        plan.duration_s = 4.0 * 3600.0;
        let drogue = |place| RadioBuoy { drogue_area_m2: drogue_m2, drogue_depth_m: 10.0, ..buoy(place) };
        plan.radio_buoys = [0, 30].map(drogue).to_vec();
        let (moments, _) = run(&plan);
        [1, 4].map(|hours: usize| moments[hours].baskets[0].sag_ratio)
    };
    let across = steady(&[(0.0, 0.0, 0.0), (300.0, 0.0, 0.15)]);
    let (still, drogue) = (after(&[], 0.0), after(&[], 3.0));
    let (flow, both) = (after(&across, 0.0), after(&across, 3.0));
    for hours in 0..2 {
        assert!(still[hours] < flow[hours] && flow[hours] < both[hours], "{still:?} {flow:?} {both:?}");
        assert!(still[hours] < drogue[hours] && drogue[hours] < both[hours], "{still:?} {drogue:?} {both:?}");
    }
}

#[test]
fn verif_wind_draws_a_radio_buoy_to_lee() {
    let after = |from_deg_true: f64| {
        let mut plan = plan(12, 0.6);
        plan.duration_s = 2.0 * 3600.0;
        plan.radio_buoys = vec![RadioBuoy { wind_area_m2: 0.05, ..buoy(12) }];
        plan.wind = vec![Wind { after_s: 0.0, speed_m_s: 12.0, from_deg_true }];
        let (moments, _) = run(&plan);
        let last = moments.last().map(|moment| moment.baskets[11].sag_ratio);
        last.expect("a basket")
    };
    // From astern of the line (it lies towards 60°) the wind holds its far end out, from ahead it drives it home.
    let (out, home) = (after(240.0), after(60.0));
    assert!(out > home + 0.1, "k {out} and {home}");
}

#[test]
fn verif_a_uniform_current_carries_the_line_and_changes_nothing_else() {
    let mut still = plan(8, 0.65);
    still.duration_s = 3.0 * 3600.0;
    still.profiles = steady(&[(0.0, 0.1, -0.1), (200.0, 0.0, 0.1)]);
    let mut carried = still.clone();
    for level in &mut carried.profiles[0].current {
        (level.east_m_s, level.north_m_s) = (level.east_m_s + 0.4, level.north_m_s - 0.3);
    }
    let ((one, _), (other, _)) = (run(&still), run(&carried));
    for (a, b) in one.iter().zip(&other) {
        for (a_float, b_float) in a.floats.iter().zip(&b.floats) {
            // Steps stop at forces of 1e-5 N and gaps of 1e-4 m: over 180 of them some millimetres.
            assert_within("east, m", b_float.east_m - a_float.east_m, 0.4 * a.after_s, 0.05);
            assert_within("north, m", b_float.north_m - a_float.north_m, -0.3 * a.after_s, 0.05);
        }
        for (a, b) in a.baskets.iter().zip(&b.baskets) {
            assert_within("k", a.sag_ratio, b.sag_ratio, 1e-4);
            assert_within("deepest hook, m", a.deepest_hook_m, b.deepest_hook_m, 0.05);
        }
    }
}

#[test]
fn verif_a_turned_line_in_a_turned_current_slumps_the_same() {
    let mut one = plan(6, 0.65);
    (one.duration_s, one.every_s) = (7200.0, 7200.0);
    one.profiles = steady(&[(0.0, 0.1, -0.1), (200.0, 0.0, 0.1)]);
    let mut other = one.clone();
    other.stretches[0].bearings_deg_true = vec![150.0];
    for level in &mut other.profiles[0].current {
        // 90° clockwise: east becomes south, north becomes east.
        (level.east_m_s, level.north_m_s) = (level.north_m_s, -level.east_m_s);
    }
    let ((one, _), (other, _)) = (run(&one), run(&other));
    for (a, b) in one[1].baskets.iter().zip(&other[1].baskets) {
        assert_within("k", a.sag_ratio, b.sag_ratio, 1e-4);
        assert_within("deepest hook, m", a.deepest_hook_m, b.deepest_hook_m, 0.05);
    }
}

#[test]
fn verif_the_middle_of_a_long_line_is_an_endless_row() {
    for sag_ratio in [0.6, 0.75] {
        let mut plan = plan(60, sag_ratio);
        plan.profiles = steady(&[(0.0, 0.1, 0.2), (100.0, 0.02, 0.05), (250.0, -0.05, -0.05)]);
        (plan.duration_s, plan.every_s) = (4.0 * 3600.0, 1200.0);
        let (moments, _) = run(&plan);
        let water = Water { current: plan.profiles[0].current.clone(), ..Water::default() };
        let options = HangOptions { line_bearing_deg_true: 60.0, elements_per_interval: 1, ..HangOptions::default() };
        let row = hang_basket(&rig(sag_ratio), &water, &options).expect("drifts");
        let drift = row.drift.expect("free");
        // From the very beginning: the floats start with the drift that balances.
        for moment in &moments {
            let basket = &moment.baskets[30];
            // Drag below 5 mm/s goes with the speed in the soak alone.
            assert_within("drift east, m/s", basket.drift.east_m_s, drift.east_m_s, 1e-3);
            assert_within("drift north, m/s", basket.drift.north_m_s, drift.north_m_s, 1e-3);
            for (ours_m, hook) in basket.hook_depths_m.iter().zip(&row.hooks) {
                assert_within("depth, m", *ours_m, hook.depth_m, 0.3);
            }
        }
    }
}

#[test]
fn verif_a_gap_makes_two_lines_and_a_cut_new_ends() {
    let mut whole = plan(21, 0.6);
    whole.duration_s = 3.0 * 3600.0;
    let mut gap = whole.clone();
    gap.cuts = vec![Cut { basket: 11, along_m: None, after_s: 0.0 }];
    let mut cut = whole.clone();
    cut.cuts = vec![Cut { basket: 11, along_m: Some(400.0), after_s: 0.0 }];
    let alone = SoakPlan { stretches: vec![stretch(10, 0.6)], ..whole.clone() };
    let (whole, gap, cut, alone) = (run(&whole).0, run(&gap).0, run(&cut).0, run(&alone).0);
    for hours in 0..=3 {
        assert_eq!((gap[hours].baskets.len(), gap[hours].floats.len()), (20, 22));
        for (index, one) in alone[hours].baskets.iter().enumerate() {
            // Steps of the two lines stop at other gaps.
            assert_within("k before a gap", gap[hours].baskets[index].sag_ratio, one.sag_ratio, 1e-5);
            assert_within("k after a gap", gap[hours].baskets[10 + index].sag_ratio, one.sag_ratio, 1e-5);
        }
        assert_eq!(gap[hours].baskets[10].basket, 12);
    }
    // Torn ends hang from their floats as a drag, and the floats at the cut close up on their own sides.
    let (k_whole, k_gap, k_cut) =
        (whole[3].baskets[9].sag_ratio, gap[3].baskets[9].sag_ratio, cut[3].baskets[9].sag_ratio);
    assert!(k_gap < k_cut && k_cut < k_whole - 0.1, "{k_whole} {k_gap} {k_cut}");
}

#[test]
fn verif_steps_in_time_are_of_first_order() {
    let k = [240.0, 120.0, 60.0, 30.0].map(|step_s| {
        let mut plan = plan(6, 0.6);
        (plan.step_s, plan.duration_s, plan.every_s) = (step_s, 4800.0, 4800.0);
        run(&plan).0[1].baskets[0].sag_ratio
    });
    for three in k.windows(3) {
        assert_within("halved", (three[0] - three[1]) / (three[1] - three[2]), 2.0, 0.1);
    }
    // What a step of a minute costs: below 0.001 of k after 80 minutes.
    assert_within("error of a minute's step", k[2], 2.0 * k[3] - k[2], 0.001);
}

#[test]
fn verif_a_float_too_small_goes_under_and_all_about_it_changes_smoothly() {
    let after = |carries_n: f64| {
        let mut plan = plan(9, 0.7);
        plan.stretches[0].rig.float = Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: Some(carries_n) });
        // All others are held up by radio buoys of unknown buoyancy.
        plan.radio_buoys = (0..=9).filter(|place| *place != 4).map(buoy).collect();
        (plan.duration_s, plan.every_s) = (1800.0, 1800.0);
        let moment = run(&plan).0.remove(1);
        let under_m = moment.floats[4].under_m;
        (under_m, moment.baskets[3].sag_ratio, moment.baskets[3].deepest_hook_m, moment.baskets[5].sag_ratio)
    };
    // A basket and its floats weigh 28.4 N.
    let held = after(60.0);
    assert_within("under, m", held.0, 0.0, 0.0);
    let mut last = held;
    let mut carries_n = 29.0;
    while carries_n > 5.0 {
        let now = after(carries_n);
        assert!(now.0 >= last.0, "{carries_n} N: {} m under, before {} m", now.0, last.0);
        // A quarter of a newton less: some 9 m deeper, half of that for the deepest hook next to it.
        assert_within(&format!("under at {carries_n} N, m"), now.0, last.0, 11.0);
        assert_within(&format!("k beside at {carries_n} N"), now.1, last.1, 0.002);
        assert_within(&format!("deepest hook beside at {carries_n} N, m"), now.2, last.2, 6.0);
        assert_within(&format!("k next but one at {carries_n} N"), now.3, last.3, 0.002);
        last = now;
        carries_n -= 0.25;
    }
    assert!(last.0 > 500.0 && last.1 < held.1, "{last:?}");
}

#[test]
fn verif_fixes_move_floats_and_correct_the_sag_ratio() {
    let mut plan = plan(8, 0.70);
    (plan.duration_s, plan.every_s) = (2.0 * 3600.0, 1800.0);
    let (sin, cos) = 60_f64.to_radians().sin_cos();
    let fix = |after_s: f64, place: u32, along_m: f64| FloatFix {
        after_s,
        place,
        east_m: along_m * sin + 100.0 * cos,
        north_m: along_m * cos - 100.0 * sin,
    };
    let from_m = 1500.0;
    plan.fixes = vec![fix(3600.0, 6, from_m + 0.75 * 4.0 * 1170.0), fix(3600.0, 2, from_m)];
    let (moments, report) = run(&plan);
    assert_eq!(report.corrections.len(), 1);
    let correction = report.corrections[0];
    assert_eq!((correction.from_place, correction.to_place), (2, 6));
    // The floats between keep their own small sideways places: rounding only.
    assert_within("measured", correction.sag_ratio_measured, 0.75, 1e-9);
    let before = moments[1].baskets[2..6].iter().map(|basket| basket.sag_ratio).sum::<f64>() / 4.0;
    assert_within("computed", correction.sag_ratio_computed, before, 0.01);
    let at = &moments[2];
    let now = at.baskets[2..6].iter().map(|basket| basket.sag_ratio).sum::<f64>() / 4.0;
    assert_within("k from then on", now, 0.75, 1e-9);
    for (place, along_m) in [(2, from_m), (6, from_m + 0.75 * 4680.0)] {
        let wanted = fix(0.0, 0, along_m);
        assert_within("east, m", at.floats[place].east_m, wanted.east_m, 1e-9);
        assert_within("north, m", at.floats[place].north_m, wanted.north_m, 1e-9);
    }
    // Beyond the fixes the line moves as a whole: the ends keep their sag.
    let shift_m = distance_m(at, 0, 2) - distance_m(&moments[1], 0, 2);
    assert_within("between the first floats, m", shift_m, 0.0, 120.0);
    // One fix alone moves all of it and corrects no sag.
    plan.fixes = vec![fix(3600.0, 3, 4000.0)];
    let (moments, report) = run(&plan);
    assert!(report.corrections.is_empty());
    assert_within("east, m", moments[2].floats[3].east_m, fix(0.0, 0, 4000.0).east_m, 1e-9);
}

#[test]
fn verif_floats_set_one_after_another() {
    let mut plan = plan(12, 0.65);
    plan.float_times_s = (0..=12).map(|place| 200.0 * f64::from(place)).collect();
    (plan.duration_s, plan.every_s) = (3.0 * 3600.0, 600.0);
    plan.profiles = steady(&[(0.0, 0.1, 0.2), (100.0, 0.02, 0.05), (250.0, -0.05, -0.05)]);
    let (moments, _) = run(&plan);
    for (index, moment) in moments.iter().enumerate() {
        let afloat = (3 * index + 1).min(13);
        assert_eq!(moment.floats.len(), afloat, "after {} s", moment.after_s);
        assert_eq!(moment.baskets.len(), afloat - 1, "after {} s", moment.after_s);
    }
    // Each float goes in where it was set, however far the first has drifted by then.
    let (east_m, north_m) = (moments[4].floats[12].east_m, moments[4].floats[12].north_m);
    assert_within("set at, m", east_m.hypot(north_m), 12.0 * 0.65 * 1170.0, 1e-6);
}

/// A line in a current that spreads along it by 1e-5 1/s opens by 3.6 % in an hour where nothing else moves it.
#[test]
fn verif_a_current_that_spreads_along_the_line_opens_every_basket() {
    let mut plan = plan(60, 0.70);
    let end_m_s = 1e-5 * 0.70 * 1170.0 * 59.0;
    let place = |basket: f64, along_m_s: f64| ProfileAt {
        after_s: 0.0,
        basket: Some(basket),
        current: current(&[(0.0, along_m_s, 0.0)]),
    };
    plan.profiles = vec![place(1.0, 0.0), place(60.0, end_m_s)];
    plan.duration_s = 2.0 * 3600.0;
    let (moments, _) = run(&plan);
    for hours in [1, 2] {
        for basket in [20, 30, 40] {
            let opened = moments[hours].baskets[basket].sag_ratio / 0.70 - 1.0;
            // Linear in time: the current stays with the baskets.
            #[expect(clippy::cast_precision_loss, reason = "hours")]
            let wanted = 0.036 * hours as f64;
            assert_within(&format!("opened after {hours} h"), opened, wanted, 1e-5);
        }
    }
}

#[test]
fn verif_a_current_that_grows_in_time_takes_the_line_along() {
    let travelled = |step_s: f64| {
        let mut plan = plan(5, 0.70);
        let at = |after_s: f64, along_m_s: f64| ProfileAt {
            after_s,
            basket: None,
            current: current(&[(0.0, along_m_s, 0.0)]),
        };
        plan.profiles = vec![at(0.0, 0.0), at(3600.0, 0.36)];
        (plan.duration_s, plan.every_s, plan.step_s) = (3600.0, 3600.0, step_s);
        let (moments, _) = run(&plan);
        let middle =
            |moment: &Moment| moment.floats.iter().map(|float| float.east_m.hypot(float.north_m)).sum::<f64>() / 6.0;
        middle(&moments[1]) - middle(&moments[0])
    };
    // ½ 0.36 m/s · 3600 s, and half a step's growth ahead of it (backward Euler). The first float lies at the origin, so its
    // distance grows with the slump on top, as the last one's shrinks.
    for step_s in [120.0, 60.0] {
        assert_within("travelled, m", travelled(step_s), 648.0 + 0.18 * step_s, 1.0);
    }
}

#[test]
fn verif_stretches_of_other_gear_hang_by_their_own() {
    let mut plan = plan(24, 0.6);
    let mut second = stretch(24, 0.85);
    second.rig.basket.hooks = 7;
    second.bearings_deg_true = vec![100.0];
    plan.stretches.push(second);
    (plan.duration_s, plan.every_s) = (3600.0, 3600.0);
    let (moments, _) = run(&plan);
    for (index, sag_ratio, hooks) in [(12, 0.6, 25), (36, 0.85, 7)] {
        let basket = &moments[1].baskets[index];
        let closed = hook_depths(&Basket { sag_ratio, hooks, ..rig(0.6).basket }).expect("closed form");
        assert_eq!(basket.hook_depths_m.len(), hooks as usize);
        for (ours_m, hook) in basket.hook_depths_m.iter().zip(&closed.hooks) {
            // Elements of 45 m in a basket of eight intervals: 1.3 %.
            assert_within("depth ÷ catenary", ours_m / hook.depth_m, 1.0, 0.02);
        }
    }
}

/// Uniform numbers by SplitMix64 (Steele, Lea & Flood 2014), so that a failure can be found again by its number.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
        let bits = ((z ^ (z >> 31)) >> 11) as f64;
        bits / 9_007_199_254_740_992.0
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    fn whole(&mut self, low: u32, high: u32) -> u32 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and positive")]
        let value = self.between(f64::from(low), f64::from(high) + 1.0).floor() as u32;
        value.min(high)
    }
}

/// A line of 1 to 12 baskets of any gear, on a winding course, in a current of up to 0.5 m/s that differs by up to 0.4 m/s from
/// level to level; some with floats too small, radio buoys, wind, cuts, floats set one after another, a current that changes.
fn draw(chance: &mut Chance) -> SoakPlan {
    let baskets = chance.whole(1, 12);
    let sag_ratio = chance.between(0.40, 0.95);
    let mut plan = plan(baskets, sag_ratio);
    let stretch = &mut plan.stretches[0];
    let basket = &mut stretch.rig.basket;
    basket.hooks = chance.whole(3, 30);
    basket.clip_spacing_m = chance.between(25.0, 75.0);
    basket.float_line_m = chance.between(5.0, 45.0);
    basket.branch_line_m = chance.between(8.0, 40.0);
    basket.float_takes_a_beat = chance.next() < 0.7;
    stretch.rig.main_line.diameter_mm = chance.between(2.5, 6.0);
    stretch.rig.main_line.axial_stiffness_n = chance.between(2e3, 4e4);
    stretch.rig.branch.weight_in_water_n = chance.between(0.3, 1.5);
    stretch.rig.branch.drag_area_m2 = chance.between(0.01, 0.08);
    stretch.rig.branch.drag_at = if chance.next() < 0.5 { DragAt::OwnDepth } else { DragAt::Node };
    if chance.next() < 0.3 {
        // From hardly enough for its basket to plenty: where a current draws on the line, some go under.
        let basket = stretch.rig.basket;
        let line_m = f64::from(basket.hooks + 1) * basket.clip_spacing_m;
        let weight_n = stretch.rig.main_line.weight_n_m(&Water::default()) * line_m
            + f64::from(basket.hooks) * stretch.rig.branch.weight_in_water_n;
        let net_buoyancy_n = Some(chance.between(1.1, 3.0) * weight_n);
        stretch.rig.float = Some(Float { drag_area_m2: 0.01767, net_buoyancy_n });
    }
    let course_deg = chance.between(0.0, 360.0);
    stretch.bearings_deg_true = (0..baskets).map(|_| course_deg + chance.between(-15.0, 15.0) - 180.0).collect();
    let levels = chance.whole(1, 5);
    let strength = chance.between(0.0, 0.15);
    let base = [chance.between(-0.3, 0.3), chance.between(-0.3, 0.3)];
    let step_m = chance.between(40.0, 120.0);
    let mut sea = |after_s: f64| ProfileAt {
        after_s,
        basket: None,
        current: (0..levels)
            .map(|level| CurrentLevel {
                depth_m: f64::from(level) * step_m,
                east_m_s: base[0] + strength * chance.between(-1.0, 1.0),
                north_m_s: base[1] + strength * chance.between(-1.0, 1.0),
            })
            .collect(),
    };
    plan.profiles = vec![sea(0.0)];
    let later = sea(10_000.0);
    if chance.next() < 0.4 {
        plan.profiles.push(later);
    }
    if chance.next() < 0.4 {
        let net_buoyancy_n = Some(200.0);
        plan.radio_buoys = vec![RadioBuoy {
            drag_area_m2: chance.between(0.0, 0.1),
            wind_area_m2: chance.between(0.0, 0.1),
            net_buoyancy_n,
            ..buoy(chance.whole(0, baskets))
        }];
        plan.wind = vec![Wind {
            after_s: 0.0,
            speed_m_s: chance.between(0.0, 12.0),
            from_deg_true: chance.between(0.0, 360.0),
        }];
    }
    if baskets > 2 && chance.next() < 0.3 {
        let along_m = (chance.next() < 0.5).then(|| chance.between(0.0, 500.0));
        plan.cuts = vec![Cut { basket: chance.whole(1, baskets), along_m, after_s: 0.0 }];
    }
    if chance.next() < 0.3 {
        let apart_s = chance.between(60.0, 400.0);
        plan.float_times_s = (0..=baskets).map(|place| apart_s * f64::from(place)).collect();
    }
    (plan.duration_s, plan.every_s, plan.step_s) = (4.0 * 3600.0, 1800.0, chance.between(30.0, 300.0));
    plan
}

#[test]
fn verif_some_hundred_random_soaks_come_to_their_end() {
    let (mut failed, mut steps) = (Vec::new(), 0);
    let count = 200;
    for number in 0..count {
        let plan = draw(&mut Chance(number));
        let mut finite = true;
        let mut told = 0;
        let report = follow(&plan, |moment| {
            told += 1;
            finite &= moment.floats.iter().all(|float| (float.east_m + float.north_m + float.under_m).is_finite());
            let depths = moment.baskets.iter().flat_map(|basket| &basket.hook_depths_m);
            finite &= depths.into_iter().all(|depth_m| depth_m.is_finite() && *depth_m > 0.0);
        });
        match report {
            Ok(report) if finite => steps += report.steps,
            Ok(_) => failed.push((number, "a place is no number".to_owned())),
            Err(error) => failed.push((number, format!("after {told} tellings: {error}"))),
        }
    }
    assert!(failed.is_empty(), "{} of {count} failed, in {steps} steps: {failed:?}", failed.len());
}

/// A float cut off at both sides drifts with a uniform current: its drag has no slope when it has come to rest in it.
#[test]
fn regress_a_float_cut_off_in_a_uniform_current_goes_with_it() {
    let mut plan = plan(3, 0.6);
    plan.cuts = vec![Cut { basket: 1, along_m: None, after_s: 0.0 }];
    plan.profiles = steady(&[(0.0, 0.2, -0.1)]);
    (plan.duration_s, plan.every_s) = (3600.0, 3600.0);
    let (moments, _) = run(&plan);
    let (at, level) = (moments[1].floats[0], plan.profiles[0].current[0]);
    // It starts with the current: no force of 1e-5 N is left to move it off by more than some centimetres.
    assert_within("east, m", at.east_m - moments[0].floats[0].east_m, 3600.0 * level.east_m_s, 0.5);
    assert_within("north, m", at.north_m - moments[0].floats[0].north_m, 3600.0 * level.north_m_s, 0.5);
    // Without any drag at all it stays where it is put, and the rest of the line goes on.
    plan.stretches[0].rig.float_line = None;
    plan.stretches[0].rig.float = None;
    run(&plan);
}

/// Wind from ahead drives the buoy at the end over its own line: the basket there folds up and is told of as long as it has a
/// shape.
#[test]
fn regress_a_buoy_driven_home_folds_its_basket_up() {
    let mut plan = plan(12, 0.6);
    plan.radio_buoys = vec![RadioBuoy { wind_area_m2: 0.1, ..buoy(12) }];
    plan.wind = vec![Wind { after_s: 0.0, speed_m_s: 12.0, from_deg_true: 60.0 }];
    (plan.duration_s, plan.every_s) = (3.0 * 3600.0, 900.0);
    let (moments, _) = run(&plan);
    let least = moments.iter().map(|moment| moment.baskets[11].sag_ratio).fold(1.0, f64::min);
    assert!(least < 0.1, "k {least}");
}

#[test]
fn regress_a_float_beyond_the_reach_of_a_drifted_line_is_taken_where_the_line_reaches() {
    let mut plan = plan(4, 0.94);
    plan.float_times_s = (0..=4).map(|place| 1200.0 * f64::from(place)).collect();
    // The line drifts back from where the next float goes in: 480 m in 20 minutes, with 70 m of slack in a basket.
    plan.profiles = steady(&[(0.0, -0.4, 0.0)]);
    (plan.duration_s, plan.every_s) = (6000.0, 1200.0);
    let (moments, report) = run(&plan);
    assert!(report.doubts.iter().any(|doubt| doubt.text.contains("where the line reaches")), "{:?}", report.doubts);
    for moment in &moments {
        assert!(moment.baskets.iter().all(|basket| basket.sag_ratio < 1.0), "{:?}", sags(moment, 4));
    }
}
