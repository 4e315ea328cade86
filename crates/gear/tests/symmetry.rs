//! The mechanics' own mathematics: what must not change when everything is turned, mirrored, begun from the other end,
//! carried along by a uniform current, or scaled in weight and drag together.

use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::{Basket, EndsHeld, HangOptions, Hung, Rig, hang_basket, hook_depths};
use proptest::prelude::*;
use quantity::testing::assert_within;

/// The deep basket: 25 hooks, 45 m, sag ratio 0.75, branch lines of 0.6 N and 0.06 m², 6 mm float lines, 300 mm floats.
fn rig() -> Rig {
    Rig {
        basket: Basket {
            hooks: 25,
            clip_spacing_m: 45.0,
            sag_ratio: 0.75,
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
        branch: BranchLine { weight_in_water_n: 0.6, drag_area_m2: 0.06, drag_at: DragAt::OwnDepth },
        float_line: Some(FloatLine { diameter_mm: 6.0, drag_normal: 1.2 }),
        float: Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: None }),
    }
}

/// A sea of levels (depth m, east m/s, north m/s).
fn sea(levels: &[(f64, f64, f64)]) -> Water {
    let level = |(depth_m, east_m_s, north_m_s): &(f64, f64, f64)| CurrentLevel {
        depth_m: *depth_m,
        east_m_s: *east_m_s,
        north_m_s: *north_m_s,
    };
    Water { current: levels.iter().map(level).collect(), ..Water::default() }
}

/// A current that weakens and turns over depth.
fn turning() -> Water {
    sea(&[(0.0, 0.10, 0.28), (80.0, 0.16, 0.14), (220.0, 0.02, 0.06), (400.0, -0.04, 0.02)])
}

fn changed(water: &Water, change: impl Fn(f64, f64) -> (f64, f64)) -> Water {
    let mut water = water.clone();
    for level in &mut water.current {
        (level.east_m_s, level.north_m_s) = change(level.east_m_s, level.north_m_s);
    }
    water
}

fn hung(rig: &Rig, water: &Water, options: HangOptions) -> Hung {
    hang_basket(rig, water, &options).unwrap_or_else(|error| panic!("{error}"))
}

fn heading(line_bearing_deg_true: f64, ends: EndsHeld) -> HangOptions {
    HangOptions { line_bearing_deg_true, ends, ..HangOptions::default() }
}

/// Every node's place, as far as the gap that counts as closed (1e-7 m) lets it be told.
fn same_shape(what: &str, one: &Hung, other: &Hung, tolerance_m: f64) {
    assert_eq!(one.nodes.len(), other.nodes.len());
    for (a, b) in one.nodes.iter().zip(&other.nodes) {
        assert_within(&format!("{what}: along, m"), a.horizontal_m, b.horizontal_m, tolerance_m);
        assert_within(&format!("{what}: across, m"), a.across_m, b.across_m, tolerance_m);
        assert_within(&format!("{what}: depth, m"), a.depth_m, b.depth_m, tolerance_m);
    }
    for (a, b) in one.hooks.iter().zip(&other.hooks) {
        assert_within(&format!("{what}: hook, m"), a.depth_m, b.depth_m, tolerance_m);
    }
}

/// Deepest node of the main line, metres.
fn deepest_m(hung: &Hung) -> f64 {
    hung.nodes.iter().map(|node| node.depth_m).fold(0.0, f64::max)
}

fn deepest_hook_m(hung: &Hung) -> f64 {
    hung.hooks.iter().map(|hook| hook.depth_m).fold(0.0, f64::max)
}

const BOTH: [EndsHeld; 2] = [EndsHeld::Fixed, EndsHeld::Drifting];

#[test]
fn verif_a_current_mirrored_in_the_line_mirrors_the_shape() {
    for ends in BOTH {
        let bearing_deg = 37.0_f64;
        let (sin, cos) = bearing_deg.to_radians().sin_cos();
        let mirrored = changed(&turning(), |east, north| {
            let (along, starboard) = (east * sin + north * cos, -(east * cos - north * sin));
            (along * sin + starboard * cos, along * cos - starboard * sin)
        });
        let one = hung(&rig(), &turning(), heading(bearing_deg, ends));
        let mut other = hung(&rig(), &mirrored, heading(bearing_deg, ends));
        other.nodes.iter_mut().for_each(|node| node.across_m = -node.across_m);
        same_shape("mirrored", &one, &other, 1e-6);
    }
}

#[test]
fn verif_begun_from_the_other_end_hook_j_is_hook_n_plus_one_minus_j() {
    for ends in BOTH {
        let one = hung(&rig(), &turning(), heading(64.0, ends));
        let mut other = hung(&rig(), &turning(), heading(244.0, ends));
        let span_m = one.span_m;
        other.nodes.reverse();
        other.hooks.reverse();
        for node in &mut other.nodes {
            (node.horizontal_m, node.across_m) = (span_m - node.horizontal_m, -node.across_m);
        }
        same_shape("reversed", &one, &other, 1e-6);
        assert_within("end pulls change places, N", one.end_tension_n[0], other.end_tension_n[1], 1e-7);
        if let (Some(a), Some(b)) = (one.drift, other.drift) {
            assert_within("drift east, m/s", a.east_m_s, b.east_m_s, 1e-9);
            assert_within("drift north, m/s", a.north_m_s, b.north_m_s, 1e-9);
        }
    }
}

#[test]
fn verif_straight_across_the_current_the_middle_lies_half_way() {
    // A march that takes the pull at a node for its element's direction fails this by 0.08 m.
    let across = sea(&[(0.0, 0.0, 0.0), (250.0, 0.25, 0.0)]);
    for ends in BOTH {
        for elements in 1..=3 {
            let options = HangOptions { elements_per_interval: elements, ..heading(0.0, ends) };
            let hung = hung(&rig(), &across, options);
            let last = hung.nodes.len() - 1;
            if last.is_multiple_of(2) {
                assert_within("middle, m", hung.nodes[last / 2].horizontal_m, 0.5 * hung.span_m, 1e-6);
            }
            for (index, node) in hung.nodes.iter().enumerate() {
                let other = hung.nodes[last - index];
                assert_within("along, m", node.horizontal_m, hung.span_m - other.horizontal_m, 1e-6);
                assert_within("across, m", node.across_m, other.across_m, 1e-6);
                assert_within("depth, m", node.depth_m, other.depth_m, 1e-6);
            }
        }
    }
}

#[test]
fn verif_still_water_is_the_closed_form_and_its_error_falls_with_the_square_of_the_element() {
    for sag_ratio in [0.35, 0.6, 0.75, 0.9, 0.97] {
        let mut rig = rig();
        rig.basket.sag_ratio = sag_ratio;
        // Inextensible as good as: a strain of 1e-8.
        rig.main_line.axial_stiffness_n = 1e9;
        let closed = hook_depths(&rig.basket).expect("closed form");
        let errors_m = [1, 2, 4, 8].map(|elements| {
            let options =
                HangOptions { point_loads: false, elements_per_interval: elements, ..heading(0.0, EndsHeld::Fixed) };
            let hung = hung(&rig, &Water::default(), options);
            hung.hooks.iter().zip(&closed.hooks).map(|(a, b)| (a.depth_m - b.depth_m).abs()).fold(0.0, f64::max)
        });
        // 45 m elements of a 1,170 m line: 1.5 m on the steep part of the slackest basket.
        assert!(errors_m[0] < 1.5 && errors_m[3] < 0.03, "sag ratio {sag_ratio}: {errors_m:?} m");
        for pair in errors_m.windows(2) {
            assert_within(&format!("sag ratio {sag_ratio}: error ratio"), pair[0] / pair[1], 4.0, 0.8);
        }
    }
}

/// Depth of a hook, metres, as sensitive as the closed form says: more span, less depth.
#[test]
fn verif_depth_falls_as_the_sag_ratio_grows_as_in_the_closed_form() {
    let depth_m = |sag_ratio: f64, water: &Water| {
        let mut rig = rig();
        rig.basket.sag_ratio = sag_ratio;
        rig.main_line.axial_stiffness_n = 1e9;
        deepest_m(&hung(&rig, water, heading(0.0, EndsHeld::Drifting)))
    };
    // d(sag/L)/dk of the uniform catenary, L = 1,170 m (SciPy 1.17.1); point loads and elements change it by 1 %.
    for (sag_ratio, per_unit) in [(0.60, -0.388), (0.75, -0.540), (0.90, -0.924), (0.95, -1.338)] {
        let slope =
            (depth_m(sag_ratio + 0.005, &Water::default()) - depth_m(sag_ratio - 0.005, &Water::default())) / 0.01;
        assert_within("dz/dk, m", slope / (1170.0 * per_unit), 1.0, 0.02);
    }
    for sag_ratio in [0.5, 0.7, 0.85, 0.95] {
        assert!(depth_m(sag_ratio + 0.01, &turning()) < depth_m(sag_ratio, &turning()), "sag ratio {sag_ratio}");
    }
}

#[test]
fn verif_a_uniform_current_carries_the_gear_which_hangs_as_in_still_water() {
    let still = hung(&rig(), &Water::default(), heading(10.0, EndsHeld::Drifting));
    let carried = hung(&rig(), &sea(&[(0.0, 0.31, -0.22)]), heading(10.0, EndsHeld::Drifting));
    same_shape("carried", &still, &carried, 1e-5);
    let drift = carried.drift.expect("free");
    // Drag goes with the square of what is left: a nano-newton on 3.5 m² and 1,025 kg/m³ is 1e-6 m/s.
    assert_within("drift east, m/s", drift.east_m_s, 0.31, 2e-6);
    assert_within("drift north, m/s", drift.north_m_s, -0.22, 2e-6);
    let at_rest = still.drift.expect("free");
    assert_within("drift in still water, m/s", at_rest.east_m_s.hypot(at_rest.north_m_s), 0.0, 2e-6);
}

#[test]
fn verif_more_weight_shoals_less_and_more_drag_shoals_more() {
    let across = sea(&[(0.0, 0.0, 0.0), (300.0, 0.30, 0.0)]);
    let shoaling = |weight_n: f64, drag_area_m2: f64| {
        let mut rig = rig();
        rig.branch = BranchLine { weight_in_water_n: weight_n, drag_area_m2, drag_at: DragAt::Node };
        let still = hung(&rig, &Water::default(), heading(0.0, EndsHeld::Drifting));
        let moved = hung(&rig, &across, heading(0.0, EndsHeld::Drifting));
        1.0 - deepest_m(&moved) / deepest_m(&still)
    };
    let by_weight = [0.4, 0.6, 0.9, 1.2, 1.6].map(|weight_n| shoaling(weight_n, 0.06));
    assert!(by_weight.windows(2).all(|pair| pair[0] > pair[1] && pair[1] > 0.0), "{by_weight:?}");
    let by_drag = [0.0, 0.03, 0.06, 0.10].map(|drag_area_m2| shoaling(0.6, drag_area_m2));
    assert!(by_drag.windows(2).all(|pair| pair[0] < pair[1]), "{by_drag:?}");
}

/// Source: independent mixed Newton solver (NumPy 2.4.6), one element an interval, some 0.2 % accurate: an endless row
/// drifting freely in a current that grows evenly from nothing at the surface to S at 300 m and is held below; branch drag
/// 0.06 m² at the node, EA 2 kN, float lines plumb. Deepest main-line node. Tolerance 1 m.
#[test]
fn val_shoaling_of_a_deep_row_in_shear() {
    let depth_m = |weight_n: f64, speed_m_s: f64, towards_deg: f64| {
        let mut rig = rig();
        rig.main_line.axial_stiffness_n = 2000.0;
        rig.branch = BranchLine { weight_in_water_n: weight_n, drag_area_m2: 0.06, drag_at: DragAt::Node };
        let (sin, cos) = towards_deg.to_radians().sin_cos();
        let water = sea(&[(0.0, 0.0, 0.0), (300.0, speed_m_s * sin, speed_m_s * cos)]);
        let options = HangOptions { elements_per_interval: 1, ..HangOptions::default() };
        deepest_m(&hung(&rig, &water, options))
    };
    let rows = [
        (0.6, 0.0, 90.0, 374.2),
        (0.6, 0.10, 90.0, 372.9),
        (0.6, 0.20, 90.0, 354.8),
        (0.6, 0.30, 90.0, 309.6),
        (1.2, 0.0, 90.0, 376.7),
        (1.2, 0.30, 90.0, 339.8),
    ];
    for (weight_n, speed_m_s, towards_deg, theirs_m) in rows {
        assert_within(
            &format!("{weight_n} N, {speed_m_s} m/s towards {towards_deg} deg"),
            depth_m(weight_n, speed_m_s, towards_deg),
            theirs_m,
            1.0,
        );
    }
    // Along and aslant the table tells whole per cents of shoaling.
    for (weight_n, speed_m_s, towards_deg, per_cent) in [
        (0.6, 0.10, 0.0, 0.0),
        (0.6, 0.20, 0.0, 1.0),
        (0.6, 0.30, 0.0, 3.0),
        (0.6, 0.10, 45.0, 0.0),
        (0.6, 0.20, 45.0, 3.0),
        (0.6, 0.30, 45.0, 10.0),
        (1.2, 0.20, 90.0, 2.0),
    ] {
        let still_m = depth_m(weight_n, 0.0, 0.0);
        let shoaling = 100.0 * (1.0 - depth_m(weight_n, speed_m_s, towards_deg) / still_m);
        assert_within(&format!("{weight_n} N, {speed_m_s} m/s, {towards_deg} deg: %"), shoaling, per_cent, 0.7);
    }
}

/// Source: Yano & Abe 1998 (Nippon Suisan Gakkaishi 64, 178–188) and Mizuno et al. 1999 (IATTC Special Report 10), abstracts
/// read: recorders found hooks shallower than the catenary under a sheared current, more so for light nylon than for a line
/// that sinks faster. A check of signs only.
#[test]
fn val_hooks_hang_shallower_than_the_catenary_in_shear() {
    let shear = sea(&[(0.0, 0.0, 0.0), (150.0, 0.45, 0.0)]);
    for hooks in [5, 7, 10, 13] {
        let mut rig = rig();
        rig.basket.hooks = hooks;
        rig.basket.sag_ratio = 0.7;
        let catenary = hook_depths(&rig.basket).expect("closed form");
        let moved = hung(&rig, &shear, heading(0.0, EndsHeld::Drifting));
        // The lean of float and branch lines included.
        let middle = (hooks / 2) as usize;
        let share = |hung: &Hung| hung.hooks[middle].depth_m / catenary.hooks[middle].depth_m;
        assert!(share(&moved) < 0.995, "{hooks} hooks: {:.3} of the catenary", share(&moved));
        let mut heavy = rig;
        (heavy.main_line.diameter_mm, heavy.main_line.density_kg_m3) = (3.6, 1380.0);
        assert!(share(&hung(&heavy, &shear, heading(0.0, EndsHeld::Drifting))) > share(&moved), "{hooks} hooks");
    }
}

/// Source: Bainves, Lee & Park 2017 (J. Korean Soc. Fish. Ocean Technol. 53(3) 219–227, abstract read): against catenary and
/// mass–spring model the straight-line estimate ½ √(L² − S²) has a large error. Ratios: SciPy 1.17.1, printed digits.
#[test]
fn val_the_straight_v_of_the_deck_rule_is_too_deep_by_a_tenth() {
    let rows =
        [(0.50, 1.087), (0.60, 1.103), (0.70, 1.117), (0.75, 1.124), (0.80, 1.130), (0.90, 1.143), (0.95, 1.149)];
    for (sag_ratio, theirs) in rows {
        let mut rig = rig();
        rig.basket.sag_ratio = sag_ratio;
        // Inextensible as good as.
        rig.main_line.axial_stiffness_n = 1e9;
        let options = HangOptions { point_loads: false, elements_per_interval: 16, ..heading(0.0, EndsHeld::Fixed) };
        let hung = hung(&rig, &Water::default(), options);
        let straight_m = 0.5 * (hung.main_line_m.powi(2) - hung.span_m.powi(2)).sqrt();
        // Tolerance: half the last digit and the elements' own error.
        assert_within(&format!("straight V ÷ sag at {sag_ratio}"), straight_m / hung.sag_m, theirs, 0.001);
    }
}

prop_compose! {
    fn gears()(hooks in 3_u32..30, clip_spacing_m in 25.0_f64..80.0, sag_ratio in 0.4_f64..0.97, weight_n in 0.3_f64..1.4,
               drag_area_m2 in 0.0_f64..0.08, own in any::<bool>(), beat in any::<bool>(), bearing_deg in 0.0_f64..360.0,
               drifting in any::<bool>(), elements in 1_u32..3) -> (Rig, HangOptions) {
        let mut rig = rig();
        rig.basket = Basket { hooks, clip_spacing_m, sag_ratio, float_takes_a_beat: beat, ..rig.basket };
        let drag_at = if own { DragAt::OwnDepth } else { DragAt::Node };
        rig.branch = BranchLine { weight_in_water_n: weight_n, drag_area_m2, drag_at };
        let ends = if drifting { EndsHeld::Drifting } else { EndsHeld::Fixed };
        (rig, HangOptions { line_bearing_deg_true: bearing_deg, ends, point_loads: true, elements_per_interval: elements })
    }
}

prop_compose! {
    /// Currents that differ by at most some 0.2 m/s from level to level.
    fn seas()(levels in prop::collection::vec((-0.1_f64..0.1, -0.1_f64..0.1), 1..5), step_m in 40.0_f64..120.0) -> Water {
        let levels: Vec<_> = levels.iter().zip(0_u32..).map(|((e, n), level)| (f64::from(level) * step_m, *e, *n)).collect();
        sea(&levels)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// North is nothing special: gear and current turned together hang the same, and drift turned.
    #[test]
    fn verif_turned_with_its_current_by_any_angle_it_hangs_the_same((rig, options) in gears(), water in seas(), turn_deg in -180.0_f64..180.0) {
        // From east to north; bearings go the other way.
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let turned = changed(&water, |east, north| (east * cos - north * sin, east * sin + north * cos));
        let bearing = (options.line_bearing_deg_true - turn_deg).rem_euclid(360.0);
        let one = hung(&rig, &water, options);
        let other = hung(&rig, &turned, HangOptions { line_bearing_deg_true: bearing, ..options });
        same_shape("turned", &one, &other, 1e-5);
        if let (Some(a), Some(b)) = (one.drift, other.drift) {
            assert_within("drift, m/s", a.east_m_s * cos - a.north_m_s * sin, b.east_m_s, 1e-6);
            assert_within("drift, m/s", a.east_m_s * sin + a.north_m_s * cos, b.north_m_s, 1e-6);
        }
    }

    /// A uniform current on top of the profile is added to the drift and changes nothing else.
    #[test]
    fn verif_a_current_on_top_of_all_adds_to_the_drift_alone((rig, options) in gears(), water in seas(), east_m_s in -0.8_f64..0.8, north_m_s in -0.8_f64..0.8) {
        let options = HangOptions { ends: EndsHeld::Drifting, ..options };
        let one = hung(&rig, &water, options);
        let other = hung(&rig, &changed(&water, |east, north| (east + east_m_s, north + north_m_s)), options);
        same_shape("carried", &one, &other, 1e-5);
        let (a, b) = (one.drift.expect("free"), other.drift.expect("free"));
        assert_within("drift east, m/s", b.east_m_s - a.east_m_s, east_m_s, 1e-6);
        assert_within("drift north, m/s", b.north_m_s - a.north_m_s, north_m_s, 1e-6);
    }

    /// Only the ratio of drag to weight counts (and of stiffness to weight): all scaled together, no depth changes and every
    /// pull scales.
    #[test]
    fn verif_weights_and_drags_scaled_together_change_no_depth((rig, options) in gears(), water in seas(), scale in 0.5_f64..2.0) {
        let mut scaled = rig;
        let more = scaled.main_line.density_kg_m3 - water.density_kg_m3;
        scaled.main_line.density_kg_m3 = water.density_kg_m3 + scale * more;
        scaled.main_line.axial_stiffness_n *= scale;
        scaled.main_line.drag_normal *= scale;
        scaled.main_line.drag_tangential *= scale;
        scaled.branch.weight_in_water_n *= scale;
        scaled.branch.drag_area_m2 *= scale;
        scaled.float_line = scaled.float_line.map(|line| FloatLine { drag_normal: scale * line.drag_normal, ..line });
        scaled.float = scaled.float.map(|float| Float { drag_area_m2: scale * float.drag_area_m2, ..float });
        let (one, other) = (hung(&rig, &water, options), hung(&scaled, &water, options));
        same_shape("scaled", &one, &other, 1e-5);
        for (a, b) in one.end_tension_n.iter().zip(other.end_tension_n) {
            assert_within("pull, N", scale * a, b, 1e-6);
        }
    }

    /// Every answer balances: forces summed anew from the nodes, moments of all forces, the far end, the free row.
    #[test]
    fn verif_every_answer_closes((rig, options) in gears(), water in seas()) {
        let hung = hung(&rig, &water, options);
        prop_assert!(hung.force_closure_n <= 1e-9, "{} N", hung.force_closure_n);
        prop_assert!(hung.end_gap_m <= 1e-6, "{} m", hung.end_gap_m);
        prop_assert!(hung.net_force_n.unwrap_or(0.0) <= 1e-8);
        // The deepest hook is not above the ends of the float lines, the first node at their depth.
        prop_assert!(deepest_hook_m(&hung) > hung.ends_depth_m);
        assert_within("first node, m", hung.nodes[0].depth_m, hung.ends_depth_m, 1e-9);
        prop_assert!(hung.ends_depth_m <= rig.basket.float_line_m + 1e-9);
    }
}

/// Moments of all forces about the first end vanish: weights and drags taken anew from the nodes, the far end's pull from
/// its last element. (Held ends, branch lines at their clips, drag at the node.)
#[test]
fn verif_moments_close() {
    let mut rig = rig();
    rig.branch.drag_at = DragAt::Node;
    let water = turning();
    let hung = hung(&rig, &water, HangOptions { elements_per_interval: 3, ..heading(0.0, EndsHeld::Fixed) });
    let current = |depth_m: f64| {
        let levels = &water.current;
        let below = levels.partition_point(|level| level.depth_m <= depth_m);
        if below == levels.len() {
            return [levels[below - 1].north_m_s, levels[below - 1].east_m_s];
        }
        let (a, b) = (levels[below - 1], levels[below]);
        let share = (depth_m - a.depth_m) / (b.depth_m - a.depth_m);
        [a.north_m_s + share * (b.north_m_s - a.north_m_s), a.east_m_s + share * (b.east_m_s - a.east_m_s)]
    };
    let place = |node: gear::Node| [node.horizontal_m, node.across_m, node.depth_m - hung.ends_depth_m];
    let mut moment = [0.0; 3];
    let mut sum = [0.0; 3];
    let mut load = |at: [f64; 3], force: [f64; 3]| {
        for axis in 0..3 {
            let (one, two) = ((axis + 1) % 3, (axis + 2) % 3);
            moment[axis] += at[one] * force[two] - at[two] * force[one];
            sum[axis] += force[axis];
        }
    };
    let (normal, tangential) = (0.5 * 1025.0 * 0.0036 * 1.2, 0.5 * 1025.0 * 0.0036 * std::f64::consts::PI * 0.008);
    let weight_n_m = rig.main_line.weight_n_m(&water);
    for pair in hung.nodes.windows(2) {
        let (from, to) = (place(pair[0]), place(pair[1]));
        let chord = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
        let length_m = (chord[0].powi(2) + chord[1].powi(2) + chord[2].powi(2)).sqrt();
        let unit = chord.map(|value| value / length_m);
        let middle = [0.5 * (from[0] + to[0]), 0.5 * (from[1] + to[1]), 0.5 * (from[2] + to[2])];
        let [x, y] = current(middle[2] + hung.ends_depth_m);
        let along = x * unit[0] + y * unit[1];
        let across = [x - along * unit[0], y - along * unit[1], -along * unit[2]];
        let size = (across[0].powi(2) + across[1].powi(2) + across[2].powi(2)).sqrt();
        let mut force = [0, 1, 2]
            .map(|axis| length_m * (normal * size * across[axis] + tangential * along.abs() * along * unit[axis]));
        force[2] += weight_n_m * (pair[1].along_m - pair[0].along_m);
        load(middle, force);
        let clip = pair[1].index % 3 == 0 && pair[1].index as usize + 1 < hung.nodes.len();
        if clip {
            let [x, y] = current(pair[1].depth_m);
            let drag = 0.5 * 1025.0 * 0.06 * x.hypot(y);
            load(to, [drag * x, drag * y, 0.6]);
        }
    }
    // A line takes no moment: about the axis through both ends the loads balance by themselves.
    let far = place(hung.nodes[hung.nodes.len() - 1]);
    let about_axis = (moment[0] * far[0] + moment[1] * far[1] + moment[2] * far[2]) / far[0].hypot(far[1]);
    assert_within("moment about the axis through both ends, N m", about_axis, 0.0, 1e-6);
    // About the first end: what the far end carries; the first one carries the rest, as its pull says.
    let far_carries_n = -moment[1] / far[0];
    let first_carries_n = hung.end_tension_n[0] * hung.sag_angle_deg.to_radians().sin();
    assert_within("both ends carry, N", far_carries_n + first_carries_n, sum[2], 1e-6);
}
