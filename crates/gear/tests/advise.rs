//! Setting advice: counted as by brute force, within the limits, and no worse for a wider band.

#![allow(clippy::expect_used, reason = "a test fails by panicking")]

use gear::advise::{Advice, LimitsGiven, Parts, Plan, Question, Range, Reason, Search, TargetBand, Tried};
use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::{
    Basket, EndsHeld, GearError, HangOptions, InputErrors, Rig, SettingInput, hang_basket, hook_depths, work_out,
};
use quantity::testing::assert_within;

fn range(from: f64, to: f64) -> Option<Range> {
    Some(Range { from, to })
}

fn limits() -> LimitsGiven {
    LimitsGiven {
        vessel_speed_through_water_kn: range(6.0, 9.0),
        shooter_speed_max_m_s: Some(7.0),
        line_aboard_m: Some(100_000.0),
        hooks_aboard: Some(2500.0),
        floats_aboard: Some(150.0),
        setting_time_max_s: Some(18_000.0),
        beat_s: range(5.0, 12.0),
        clip_spacing_m: range(30.0, 60.0),
        hooks_per_basket: range(6.0, 30.0),
        sag_ratio: range(0.5, 0.95),
        float_lines_m: Some(vec![30.0, 20.0]),
        ..LimitsGiven::default()
    }
}

fn parts() -> Parts {
    Parts {
        main_line: MainLine {
            diameter_mm: 3.6,
            density_kg_m3: 1140.0,
            axial_stiffness_n: 20_000.0,
            drag_normal: 1.2,
            drag_tangential: 0.008,
        },
        branch: BranchLine { weight_in_water_n: 0.6, drag_area_m2: 0.06, drag_at: DragAt::OwnDepth },
        float_line: Some(FloatLine { diameter_mm: 6.0, drag_normal: 1.2 }),
        float: Some(Float { drag_area_m2: 0.018, net_buoyancy_n: Some(110.0) }),
    }
}

fn sheared() -> Water {
    let level = |depth_m, east_m_s, north_m_s| CurrentLevel { depth_m, east_m_s, north_m_s };
    Water {
        current: vec![level(0.0, 0.30, 0.05), level(120.0, 0.20, 0.15), level(300.0, 0.02, -0.05)],
        ..Water::default()
    }
}

fn question(limits: &LimitsGiven) -> Question {
    Question {
        parts: Some(parts()),
        water: sheared(),
        line_bearing_deg_true: 30.0,
        branch_line_m: 25.0,
        float_takes_a_beat: true,
        target: TargetBand { from_m: 150.0, to_m: 250.0 },
        limits: limits.settle().expect("valid").0,
        errors: InputErrors::default(),
        current_change_m_s: 0.1,
        plans: 5,
        candidates: 100,
    }
}

fn search(question: &Question) -> (Search, Vec<Tried>) {
    let search = Search::new(question.clone()).expect("valid");
    let tried = (0..search.runs()).flat_map(|run| search.try_run(run)).collect();
    (search, tried)
}

fn advice(question: &Question) -> Advice {
    Search::new(question.clone()).expect("valid").alone()
}

fn basket(tried: &Tried, question: &Question) -> Basket {
    Basket {
        hooks: tried.candidate.hooks_per_basket,
        clip_spacing_m: tried.candidate.clip_spacing_m,
        sag_ratio: tried.candidate.sag_ratio,
        float_line_m: tried.candidate.float_line_m,
        branch_line_m: question.branch_line_m,
        float_takes_a_beat: question.float_takes_a_beat,
    }
}

fn rig(basket: Basket) -> Rig {
    let Parts { main_line, branch, float_line, float } = parts();
    Rig { basket, main_line, branch, float_line, float }
}

fn options(elements_per_interval: u32) -> HangOptions {
    HangOptions { line_bearing_deg_true: 30.0, ends: EndsHeld::Drifting, point_loads: true, elements_per_interval }
}

/// Each gear of the search, started from its neighbour, against the same gear hung by itself from still water.
#[test]
fn verif_every_gear_hangs_as_it_does_by_itself() {
    let question = question(&limits());
    let (_, tried) = search(&question);
    assert!(tried.len() >= 100, "{}", tried.len());
    for tried in &tried {
        let hung = hang_basket(&rig(basket(tried, &question)), &question.water, &options(1)).expect("hangs");
        let depths = || hung.hooks.iter().map(|hook| hook.depth_m);
        let count = tried.outcome.expect("hangs");
        // Both are closed to 1e-7 m at the end; 1e-5 m allows for how that grows along the line.
        assert_within("deepest, m", count.deepest_m, depths().fold(0.0, f64::max), 1e-5);
        assert_within("shallowest, m", count.shallowest_m, depths().fold(f64::INFINITY, f64::min), 1e-5);
        let near_an_end = depths().any(|depth_m| (depth_m - 150.0).abs() < 1e-4 || (depth_m - 250.0).abs() < 1e-4);
        let in_band = depths().filter(|depth_m| (150.0..=250.0).contains(depth_m)).count();
        assert!(near_an_end || in_band == count.in_band as usize, "{:?}: {in_band}", tried.candidate);
    }
}

/// In a shear of 0.6 m/s some gears are hard to solve: those that hang, hang as by themselves, and the others are told.
#[test]
fn verif_in_strong_shear_gears_hang_as_by_themselves_or_are_told_as_left_out() {
    let mut question = question(&limits());
    for level in &mut question.water.current {
        (level.east_m_s, level.north_m_s) = (2.0 * level.east_m_s, 2.0 * level.north_m_s);
    }
    let (search, tried) = search(&question);
    let hung = tried.iter().filter(|tried| tried.outcome.is_ok()).count();
    // Every fifth: by itself, each takes some milliseconds.
    for tried in tried.iter().step_by(5) {
        let Ok(count) = tried.outcome else { continue };
        let by_itself = hang_basket(&rig(basket(tried, &question)), &question.water, &options(1)).expect("hangs");
        let deepest_m = by_itself.hooks.iter().map(|hook| hook.depth_m).fold(0.0, f64::max);
        // As above; weaker pulls make the far end follow less.
        assert_within("deepest, m", count.deepest_m, deepest_m, 1e-4);
    }
    assert!(hung * 2 > tried.len(), "{hung} of {}", tried.len());
    let gears = tried.len();
    let searched = search.advice(tried).searched;
    let left_out: usize = searched.left_out.iter().map(|out| out.count).sum();
    assert_eq!(searched.tried, gears);
    assert!(left_out >= gears - hung);
}

/// The best of all by counting every gear anew with the elements of a plan.
#[test]
fn verif_the_best_plan_is_the_best_by_brute_force() {
    let question = question(&limits());
    let (search, tried) = search(&question);
    let mut best = 0;
    for tried in &tried {
        let hung = hang_basket(&rig(basket(tried, &question)), &question.water, &options(2)).expect("hangs");
        let in_band = hung.hooks.iter().filter(|hook| (150.0..=250.0).contains(&hook.depth_m)).count();
        best = best.max(tried.fit.baskets * u32::try_from(in_band).expect("small"));
    }
    let advice = search.advice(tried);
    assert_eq!(advice.plans[0].hooks_in_band, best);
    assert!(advice.plans.windows(2).all(|pair| pair[0].hooks_in_band >= pair[1].hooks_in_band));
    assert_eq!(advice.plans.len(), 5);
    for (place, one) in advice.plans.iter().enumerate() {
        for other in &advice.plans[..place] {
            let hooks = one.hooks_per_basket.abs_diff(other.hooks_per_basket);
            assert!(hooks >= 3 || (one.sag_ratio - other.sag_ratio).abs() > 0.0999, "{one:?} {other:?}");
        }
    }
}

#[test]
fn verif_in_still_water_the_count_is_that_of_the_closed_form() {
    let question = Question { parts: None, ..question(&limits()) };
    let (search, tried) = search(&question);
    for tried in &tried {
        let hanging = hook_depths(&basket(tried, &question)).expect("hangs");
        let in_band = hanging.hooks.iter().filter(|hook| (150.0..=250.0).contains(&hook.depth_m)).count();
        assert_eq!(tried.outcome.expect("hangs").in_band as usize, in_band);
    }
    let advice = search.advice(tried);
    assert!(advice.plans.iter().all(|plan| plan.worst.is_none() && plan.drift.is_none()));
    assert!(advice.plans[0].hooks_surely_in_band.expect("known") <= advice.plans[0].hooks_in_band);
}

/// With parts but without a current the mechanics must count as the closed form does, but for hooks within 1.5 % of an
/// end of the band: so much do point loads, straight elements and stretch differ from a uniform catenary.
#[test]
fn verif_without_a_current_the_mechanics_count_as_the_closed_form() {
    let still = Question { water: Water::default(), ..question(&limits()) };
    let (_, tried) = search(&still);
    for tried in &tried {
        let hanging = hook_depths(&basket(tried, &still)).expect("hangs");
        let depths = || hanging.hooks.iter().map(|hook| hook.depth_m);
        let doubtful = depths().filter(|d| (d / 150.0 - 1.0).abs() < 0.015 || (d / 250.0 - 1.0).abs() < 0.015).count();
        let in_band = depths().filter(|depth_m| (150.0..=250.0).contains(depth_m)).count();
        let counted = tried.outcome.expect("hangs").in_band as usize;
        assert!(counted.abs_diff(in_band) <= doubtful, "{:?}: {counted} {in_band}", tried.candidate);
    }
}

#[test]
fn verif_a_wider_band_never_has_fewer_hooks() {
    let mut before = 0;
    for more_m in [0.0, 5.0, 10.0, 20.0, 40.0, 80.0, 140.0] {
        let target = TargetBand { from_m: 190.0 - more_m, to_m: 200.0 + more_m };
        let question = Question { target, plans: 1, ..question(&limits()) };
        let (search, tried) = search(&question);
        let most = tried.iter().map(Tried::hooks_in_band).max().expect("some");
        assert!(most >= before, "{more_m} m wider: {most} hooks in the band, {before} before");
        before = most;
        let best = &search.advice(tried).plans[0];
        assert!(best.hooks_in_band <= best.hooks);
    }
}

/// Runs computed in any order and ranked in any order give the same answer.
#[test]
fn verif_the_order_of_the_work_does_not_matter() {
    let question = question(&limits());
    let search = Search::new(question).expect("valid");
    let backwards = (0..search.runs()).rev().flat_map(|run| search.try_run(run)).collect();
    assert_eq!(search.advice(backwards), search.alone());
}

fn within_limits(plan: &Plan, question: &Question) {
    let limits = &question.limits;
    let least = |value: f64, limit: f64| assert!(value >= limit * (1.0 - 1e-9), "{value} below {limit}: {plan:?}");
    let most = |value: f64, limit: f64| assert!(value <= limit * (1.0 + 1e-9), "{value} above {limit}: {plan:?}");
    for (value, range) in [
        (plan.vessel_speed_through_water_kn, limits.vessel_speed_through_water_kn),
        (plan.beat_s, limits.beat_s),
        (plan.clip_spacing_m, limits.clip_spacing_m),
        (plan.sag_ratio, limits.sag_ratio),
        (f64::from(plan.hooks_per_basket), limits.hooks_per_basket),
    ] {
        least(value, range.from);
        most(value, range.to);
    }
    most(plan.shooter_speed_m_s, limits.shooter_speed_max_m_s);
    most(plan.main_line_m, limits.line_aboard_m);
    most(plan.setting_time_s, limits.setting_time_max_s);
    assert!(plan.hooks <= limits.hooks);
    assert!(limits.floats_aboard.is_none_or(|floats| plan.floats <= floats));
    assert!(limits.float_lines_m.iter().any(|length_m| (length_m - plan.float_line_m).abs() < 1e-9));
}

/// Limits are kept, and every number of a plan is what the arithmetic of the line setter makes of it.
#[test]
fn verif_plans_keep_the_limits_and_the_line_setters_arithmetic() {
    let tight = [
        LimitsGiven { line_aboard_m: Some(20_000.0), ..limits() },
        LimitsGiven { setting_time_max_s: Some(3000.0), ..limits() },
        LimitsGiven { floats_aboard: Some(20.0), ..limits() },
        LimitsGiven { hooks_wanted: Some(333.0), ..limits() },
        LimitsGiven { shooter_speed_max_m_s: Some(5.0), ..limits() },
        LimitsGiven { beat_s: range(9.0, 10.0), clip_spacing_m: None, ..limits() },
    ];
    let held = [Reason::Line, Reason::Time, Reason::Floats, Reason::Hooks];
    for (place, given) in tight.iter().enumerate() {
        for float_takes_a_beat in [true, false] {
            let question = Question { float_takes_a_beat, ..question(given) };
            let advice = advice(&question);
            assert!(!advice.plans.is_empty(), "{:?}", advice.no_plan_because);
            if let Some(reason) = held.get(place) {
                assert_eq!(advice.plans[0].held_by, *reason);
            }
            for plan in &advice.plans {
                within_limits(plan, &question);
                let setting = work_out(&SettingInput {
                    vessel_speed_through_water_kn: Some(plan.vessel_speed_through_water_kn),
                    sag_ratio: Some(plan.sag_ratio),
                    clip_spacing_m: Some(plan.clip_spacing_m),
                    hooks_per_basket: Some(f64::from(plan.hooks_per_basket)),
                    baskets: Some(f64::from(plan.baskets)),
                    float_takes_a_beat: Some(float_takes_a_beat),
                    ..SettingInput::default()
                })
                .expect("valid");
                let close = |what, ours: f64, theirs: Option<f64>| {
                    assert_within(what, ours, theirs.expect("follows"), 1e-9 * ours);
                };
                // Rounding only.
                close("shooter, m/s", plan.shooter_speed_m_s, setting.shooter_speed_m_s);
                close("beat, s", plan.beat_s, setting.beat_s);
                close("main line, m", plan.main_line_m, setting.main_line_total_m);
                close("time, s", plan.setting_time_s, setting.setting_time_s);
                close("set length, m", plan.set_length_m, setting.set_length_m);
                assert_eq!(Some(plan.hooks), setting.hooks);
            }
        }
    }
}

/// Worked by hand from V_s = V_v/k, l = V_s t, time = n t B (and agreeing with the practice of some 2,500 hooks in up to six
/// hours): 8 kn, k = 0.70, a beat of 7 s, 25 hooks between floats: 5.8794 m/s, 41.16 m between clips, 2,500 hooks in
/// 18,200 s on 107.0 km of line, 74.9 km long. Tolerance: the last digit told; seen 4e-5 m/s, 2 m, 5 m.
#[test]
fn val_a_set_of_a_hundred_baskets_is_paced_as_worked_by_hand() {
    let spacing_m = 8.0 * 1852.0 / 3600.0 / 0.7 * 7.0;
    let only = |value| range(value, value);
    let question = question(&LimitsGiven {
        vessel_speed_through_water_kn: range(4.0, 8.0),
        line_aboard_m: Some(120_000.0),
        setting_time_max_s: Some(21_600.0),
        beat_s: range(7.0, 20.0),
        clip_spacing_m: only(spacing_m),
        hooks_per_basket: only(25.0),
        sag_ratio: only(0.7),
        float_lines_m: Some(vec![20.0]),
        ..limits()
    });
    let advice = advice(&question);
    let plan = &advice.plans[0];
    assert_within("shooter, m/s", plan.shooter_speed_m_s, 5.8794, 5e-5);
    assert_within("clip spacing, m", plan.clip_spacing_m, 41.16, 5e-3);
    assert_within("beat, s", plan.beat_s, 7.0, 1e-9);
    assert_within("time, s", plan.setting_time_s, 18_200.0, 1e-6);
    assert_within("main line, m", plan.main_line_m, 107_000.0, 50.0);
    assert_within("set length, m", plan.set_length_m, 74_900.0, 50.0);
    assert_eq!((plan.hooks, plan.baskets, plan.floats, plan.held_by), (2500, 100, 101, Reason::Hooks));
}

/// A plan in the current that its change makes is the same as that plan asked for in that current.
#[test]
fn verif_a_changed_current_is_that_current() {
    let question = Question { plans: 3, ..question(&limits()) };
    for plan in &advice(&question).plans {
        let (sin, cos) = question.line_bearing_deg_true.to_radians().sin_cos();
        let changed = &plan.changes[2];
        let mut depths: Vec<f64> = question.water.current.iter().map(|level| level.depth_m).collect();
        depths.push(plan.deepest_hook_m);
        let profile = gear::current::Profile::along(&question.water.current, 0.0).expect("valid");
        let current = depths
            .into_iter()
            .map(|depth_m| {
                let ([north_m_s, east_m_s], _) = profile.at(depth_m, &mut 0);
                // Towards starboard of the line: its bearing and a right angle.
                let more = 0.1 * (1.0 - depth_m / plan.deepest_hook_m).max(0.0);
                CurrentLevel { depth_m, east_m_s: east_m_s + more * cos, north_m_s: north_m_s - more * sin }
            })
            .collect();
        let basket = Basket {
            hooks: plan.hooks_per_basket,
            clip_spacing_m: plan.clip_spacing_m,
            sag_ratio: plan.sag_ratio,
            float_line_m: plan.float_line_m,
            branch_line_m: 25.0,
            float_takes_a_beat: true,
        };
        let hung = hang_basket(&rig(basket), &Water { current, ..Water::default() }, &options(2)).expect("hangs");
        let deepest_m = hung.hooks.iter().map(|hook| hook.depth_m).fold(0.0, f64::max);
        assert_within("deepest, m", changed.deepest_hook_m.expect("hangs"), deepest_m, 1e-5);
        let drift = hung.drift.expect("drifts");
        assert_within("drift, m/s", changed.drift.expect("drifts").east_m_s, drift.east_m_s, 1e-7);
        let worst = plan.worst.as_ref().expect("known");
        assert!(plan.changes.iter().all(|changed| changed.hooks_in_band >= worst.hooks_in_band));
    }
}

#[test]
fn regress_what_cannot_be_is_left_out_and_told() {
    let short = LimitsGiven { line_aboard_m: Some(150.0), ..limits() };
    let advice_short = advice(&question(&short));
    assert!(advice_short.plans.is_empty());
    let why = advice_short.no_plan_because.expect("why");
    assert!(why.contains("150 m of main line") && why.contains("limits.line_aboard_m"), "{why}");

    let slow = LimitsGiven { shooter_speed_max_m_s: Some(2.0), ..limits() };
    let why = advice(&question(&slow)).no_plan_because.expect("why");
    assert!(why.contains("limits.shooter_speed_max_m_s"), "{why}");

    let deep = Question { target: TargetBand { from_m: 1500.0, to_m: 1600.0 }, ..question(&limits()) };
    let why = advice(&deep).no_plan_because.expect("why");
    assert!(why.contains("1500 and 1600 m"), "{why}");

    let mut small = question(&limits());
    let float = Some(Float { drag_area_m2: 0.018, net_buoyancy_n: Some(20.0) });
    small.parts = Some(Parts { float, ..parts() });
    let advice_small = advice(&small);
    let under = advice_small.searched.left_out.iter().find(|out| out.reason == Reason::FloatGoesUnder);
    assert!(under.expect("told").count > 0);
    let counted: usize = advice_small.searched.left_out.iter().map(|out| out.count).sum();
    assert!(counted < advice_small.searched.grid);

    let mut light = question(&limits());
    light.parts = Some(Parts { main_line: MainLine { density_kg_m3: 700.0, ..parts().main_line }, ..parts() });
    assert!(advice(&light).searched.left_out.iter().any(|out| out.reason == Reason::DoesNotSink));
}

#[test]
fn regress_numbers_that_cannot_be_are_refused_in_words() {
    let refused = |question: Question| match Search::new(question) {
        Err(error @ GearError::OutOfRange { .. }) => error.to_string(),
        other => panic!("{other:?}"),
    };
    let with = |change: &dyn Fn(&mut LimitsGiven)| {
        let mut given = limits();
        change(&mut given);
        refused(question(&given))
    };
    assert!(with(&|given| given.sag_ratio = range(0.6, 1.2)).contains("limits.sag_ratio.to is 1.2"));
    assert!(with(&|given| given.beat_s = range(9.0, 5.0)).contains("limits.beat_s.to is 5 s"));
    assert!(with(&|given| given.line_aboard_m = Some(-1.0)).contains("limits.line_aboard_m is -1 m"));
    assert!(with(&|given| given.hooks_per_basket = range(5.5, 9.0)).contains("hooks_per_basket.from is 5.5"));
    assert!(with(&|given| given.float_lines_m = Some(vec![])).contains("limits.float_lines_m"));
    assert!(with(&|given| given.float_lines_m = Some(vec![f64::NAN])).contains("NaN"));
    assert!(with(&|given| given.setting_time_max_s = Some(f64::INFINITY)).contains("limits.setting_time_max_s"));
    let target = TargetBand { from_m: 300.0, to_m: 200.0 };
    assert!(refused(Question { target, ..question(&limits()) }).contains("target.to_m is 200 m"));
    let nothing = LimitsGiven { hooks_aboard: Some(0.0), ..limits() };
    assert!(nothing.settle().expect_err("no hooks").to_string().contains("limits.hooks_aboard is 0"));
    let (_, taken) = LimitsGiven::default().settle().expect("all taken");
    assert_eq!(taken.len(), 11, "{taken:?}");
}
