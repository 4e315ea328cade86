//! One basket held or drifting, element by element, against an independent mixed Newton solver (NumPy 2.4.6, Python 3.11)
//! with the same straight elements, SciPy 1.17.1 (`solve_bvp`, `brentq`), MoorPy 1.3.0 and MoorDyn-C 2.7.2.

use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::{Basket, EndsHeld, HangOptions, Hung, Rig, hang_basket};
use quantity::testing::assert_within;

/// 3.6 mm nylon, 1140 kg/m³, C_n 1.2, C_t 0.008 (on the skin), in sea water of 1025 kg/m³; branch lines of 0.6 N.
fn rig(intervals: u32, sag_ratio: f64, float_line_m: f64, stiffness_n: f64) -> Rig {
    Rig {
        basket: Basket {
            hooks: intervals - 1,
            clip_spacing_m: 45.0,
            sag_ratio,
            float_line_m,
            branch_line_m: 25.0,
            float_takes_a_beat: true,
        },
        main_line: MainLine {
            diameter_mm: 3.6,
            density_kg_m3: 1140.0,
            axial_stiffness_n: stiffness_n,
            drag_normal: 1.2,
            drag_tangential: 0.008,
        },
        branch: BranchLine { weight_in_water_n: 0.6, drag_area_m2: 0.0, drag_at: DragAt::Node },
        float_line: None,
        float: None,
    }
}

/// Speed `speed_m_s` × min(depth/`at_m`, 1), `turned_deg` from the line towards starboard; the line lies to the north.
fn linear(speed_m_s: f64, at_m: f64, turned_deg: f64) -> Water {
    let (sin, cos) = f64::to_radians(turned_deg).sin_cos();
    Water {
        current: vec![
            CurrentLevel { depth_m: 0.0, east_m_s: 0.0, north_m_s: 0.0 },
            CurrentLevel { depth_m: at_m, east_m_s: speed_m_s * sin, north_m_s: speed_m_s * cos },
        ],
        ..Water::default()
    }
}

fn held(rig: &Rig, water: &Water, point_loads: bool, elements_per_interval: u32) -> Hung {
    let options = HangOptions { line_bearing_deg_true: 0.0, ends: EndsHeld::Fixed, point_loads, elements_per_interval };
    hang_basket(rig, water, &options).unwrap_or_else(|error| panic!("{error}"))
}

fn middle(hung: &Hung) -> [f64; 3] {
    let node = hung.nodes[hung.nodes.len() / 2];
    [node.horizontal_m, node.across_m, node.depth_m]
}

fn deepest_m(hung: &Hung) -> f64 {
    hung.nodes.iter().map(|node| node.depth_m).fold(0.0, f64::max)
}

/// Cases A to C: branch lines spread along the line. Source: `solve_bvp` (tol 1e-5 and 1e-8), and mixed Newton at 1, 2, 4
/// and 8 elements. Tolerances: the printed half millimetre where the elements are the same; 0.005 m and 0.005 N of the
/// boundary value solution at 16 elements (seen 0.003 m, 0.0003 N), and again from Richardson's h² of 4 and 8.
#[test]
fn val_baskets_held_in_a_current_against_a_boundary_value_solver() {
    let cases = [
        (
            "A",
            (rig(16, 0.70, 20.0, 2e4), linear(0.10, 200.0, 90.0)),
            ([252.0, 129.291, 210.907], 210.907, [9.8381, 9.8381]),
            [211.411, 211.073, 210.946, 210.915],
        ),
        (
            "B",
            (rig(16, 0.70, 20.0, 2e4), linear(0.10, 200.0, 0.0)),
            ([268.662, 0.0, 245.265], 247.182, [9.5959, 9.4535]),
            [245.789, 245.418, 245.302, 245.273],
        ),
        (
            "C",
            (rig(26, 0.60, 25.0, 2e4), linear(0.10, 300.0, 45.0)),
            ([393.043, 155.964, 404.035], 407.312, [14.9832, 14.8578]),
            [404.562, 404.165, 404.066, 404.041],
        ),
    ];
    for (name, (rig, water), (place_m, lowest_m, pulls_n), by_elements_m) in cases {
        let mut depths_m = Vec::new();
        for (elements, theirs_m) in [1, 2, 4, 8].into_iter().zip(by_elements_m) {
            let depth_m = middle(&held(&rig, &water, false, elements))[2];
            assert_within(&format!("{name} at {elements} elements, m"), depth_m, theirs_m, 0.000_6);
            depths_m.push(depth_m);
        }
        assert_within(name, (4.0 * depths_m[3] - depths_m[2]) / 3.0, place_m[2], 0.005);
        let fine = held(&rig, &water, false, 16);
        for (ours, theirs) in middle(&fine).into_iter().zip(place_m) {
            assert_within(&format!("{name}, middle, m"), ours, theirs, 0.005);
        }
        assert_within(&format!("{name}, deepest, m"), deepest_m(&fine), lowest_m, 0.01);
        for (ours, theirs) in fine.end_tension_n.into_iter().zip(pulls_n) {
            assert_within(&format!("{name}, end pull, N"), ours, theirs, 0.005);
        }
    }
}

/// Case D: point loads and a soft line (EA 2 kN) straight across the current. Source: mixed Newton (tol 1e-9) at 1, 2, 4 and
/// 8 elements, printed digits; its nodes at 8 elements, printed digits.
#[test]
fn val_basket_with_point_loads_against_mixed_newton() {
    let (rig, water) = (rig(16, 0.70, 20.0, 2000.0), linear(0.10, 200.0, 90.0));
    for (elements, theirs_m) in [(1, 213.892), (2, 213.660), (4, 213.623), (8, 213.606)] {
        let ours = middle(&held(&rig, &water, true, elements));
        assert_within(&format!("D at {elements} elements, m"), ours[2], theirs_m, 0.000_6);
    }
    let fine = held(&rig, &water, true, 8);
    for (ours, theirs) in middle(&fine).into_iter().zip([252.0, 128.365, 213.606]) {
        assert_within("D, middle, m", ours, theirs, 0.000_6);
    }
    let clips = [
        (56.31, 17.44),
        (90.59, 36.26),
        (122.38, 56.13),
        (151.11, 76.37),
        (175.98, 95.82),
        (195.81, 112.63),
        (208.95, 124.22),
        (213.61, 128.37),
    ];
    for (index, (depth_m, across_m)) in clips.into_iter().enumerate() {
        for node in [8 * (index + 1), 8 * (15 - index)] {
            assert_within("D, clip depth, m", fine.nodes[node].depth_m, depth_m, 0.006);
            assert_within("D, clip across, m", fine.nodes[node].across_m, across_m, 0.006);
        }
    }
}

/// Case D in MoorDyn-C 2.7.2, two segments an interval, 6,000 s after it was let go. Tolerance 0.2 % or 0.5 m: it still
/// moves, and takes drag per unstretched length (0.13 m here); 0.05 m seen at two elements.
#[test]
fn val_basket_with_point_loads_against_a_lumped_mass_code() {
    let ours = middle(&held(&rig(16, 0.70, 20.0, 2000.0), &linear(0.10, 200.0, 90.0), true, 2));
    for (ours, theirs) in ours.into_iter().zip([252.000, 128.321, 213.704]) {
        assert_within("middle, m", ours, theirs, 0.5);
    }
}

/// Case E: an endless row drifting freely. Source: mixed Newton with a root find for the drift (net force below 1e-8 N)
/// at 1, 2, 4 and 8 elements, its float lines plumb. Tolerance: 4e-5 m/s, for ours lean by some 3° (drift seen 0.00002 m/s
/// off, the lean's part by DOP853 shooting 0.00003 m/s); nodes 0.03 m (the lean lifts the ends by 0.026 m).
#[test]
fn val_free_drift_of_a_row_against_an_independent_root_find() {
    let mut rig = rig(16, 0.70, 20.0, 2000.0);
    rig.branch.drag_area_m2 = 0.060;
    rig.float_line = Some(FloatLine { diameter_mm: 6.0, drag_normal: 1.2 });
    rig.float = Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: None });
    let water = Water {
        current: vec![
            CurrentLevel { depth_m: 0.0, east_m_s: 0.0, north_m_s: 0.30 },
            CurrentLevel { depth_m: 250.0, east_m_s: 0.10, north_m_s: 0.05 },
        ],
        ..Water::default()
    };
    let rows = [(1, 0.17306, 0.05819), (2, 0.17337, 0.05812), (4, 0.17344, 0.05810), (8, 0.17346, 0.05810)];
    for (elements, north_m_s, east_m_s) in rows {
        let options = HangOptions { elements_per_interval: elements, ..HangOptions::default() };
        let hung = hang_basket(&rig, &water, &options).expect("drifts");
        let drift = hung.drift.expect("free");
        assert_within(&format!("drift north at {elements}, m/s"), drift.north_m_s, north_m_s, 4e-5);
        assert_within(&format!("drift east at {elements}, m/s"), drift.east_m_s, east_m_s, 4e-5);
        assert_within("net force, N", hung.net_force_n.expect("free"), 0.0, 1e-8);
    }
    let options = HangOptions { elements_per_interval: 8, ..HangOptions::default() };
    let hung = hang_basket(&rig, &water, &options).expect("drifts");
    let nodes = [
        (1, 17.77, 2.79, 61.45),
        (4, 76.11, 22.36, 181.76),
        (7, 188.73, 36.84, 245.04),
        (8, 233.58, 34.89, 240.88),
        (12, 391.63, 15.12, 159.43),
        (15, 481.28, 2.09, 59.04),
    ];
    for (clip, along_m, across_m, depth_m) in nodes {
        let node = hung.nodes[8 * clip];
        assert_within(&format!("clip {clip}, along, m"), node.horizontal_m, along_m, 0.02);
        assert_within(&format!("clip {clip}, across, m"), node.across_m, across_m, 0.02);
        assert_within(&format!("clip {clip}, depth, m"), node.depth_m, depth_m, 0.04);
    }
}

/// Source: equal point loads in closed form (`brentq`, xtol 1e-13) and mixed Newton at 1, 4 and 8 elements. Tolerances: the
/// printed half millimetre at the same elements; 1 mm of the closed form by Richardson's h² of 4 and 8; 0.001 N.
#[test]
fn val_equal_point_loads_in_still_water() {
    let cases = [
        (8, 0.75, 106.754, 4.84379, [106.961, 106.767, 106.757]),
        (16, 0.60, 261.920, 9.11048, [262.083, 261.930, 261.922]),
        (26, 0.60, 425.139, 14.98231, [425.238, 425.145, 425.140]),
        (26, 0.75, 345.064, 16.33260, [345.125, 345.067, 345.065]),
    ];
    for (intervals, sag_ratio, closed_m, end_n, by_elements_m) in cases {
        let rig = rig(intervals, sag_ratio, 0.0, 2e4);
        let mut depths_m = Vec::new();
        for (elements, theirs_m) in [1, 4, 8].into_iter().zip(by_elements_m) {
            let hung = held(&rig, &Water::default(), true, elements);
            assert_within("middle, m", middle(&hung)[2], theirs_m, 0.000_6);
            depths_m.push(middle(&hung)[2]);
            if elements == 8 {
                hung.end_tension_n.iter().for_each(|ours| assert_within("end pull, N", *ours, end_n, 0.001));
            }
        }
        assert_within("extrapolated, m", (4.0 * depths_m[2] - depths_m[1]) / 3.0, closed_m, 0.001);
    }
    // Nodes, printed digits; 0.01 m for straight elements.
    let deep = held(&rig(26, 0.75, 0.0, 2e4), &Water::default(), true, 16);
    let clips_m =
        [39.02, 77.19, 114.32, 150.20, 184.55, 217.02, 247.18, 274.50, 298.35, 318.02, 332.77, 341.95, 345.06];
    for (index, theirs_m) in clips_m.into_iter().enumerate() {
        assert_within("clip, m", deep.nodes[16 * (index + 1)].depth_m, theirs_m, 0.01);
        assert_within("clip, m", deep.nodes[16 * (25 - index)].depth_m, theirs_m, 0.01);
    }
    let short = held(&rig(8, 0.75, 0.0, 2e4), &Water::default(), true, 16);
    for (index, (depth_m, along_m)) in
        [(38.03, 24.07), (71.69, 53.91), (96.88, 91.17), (106.75, 135.00)].into_iter().enumerate()
    {
        assert_within("clip, m", short.nodes[16 * (index + 1)].depth_m, depth_m, 0.01);
        assert_within("clip along, m", short.nodes[16 * (index + 1)].horizontal_m, along_m, 0.01);
    }
}

/// Source: a kilometre of line: uniform catenary and extensible catenary in closed form, equal to MoorPy 1.3.0 and to
/// `solve_bvp` in all digits. The march at 32 elements for each 100 m and Richardson's h² of 16 and 32. Tolerance 2 mm and
/// 2e-4 N (seen 0.5 mm, 1e-5 N).
#[test]
fn val_sag_and_pull_of_a_kilometre_of_line_that_stretches() {
    let plain = 1140.0;
    // 0.03 N/m: a denser line of the same diameter.
    let heavy = 1025.0 + 0.03 / (std::f64::consts::FRAC_PI_4 * 0.0036_f64.powi(2) * 9.806_65);
    let rows = [
        (plain, 0.50, 1e9, 398.194, 5.889_02),
        (plain, 0.60, 1e9, 362.782, 6.037_52),
        (plain, 0.70, 1e9, 319.720, 6.323_08),
        (plain, 0.75, 1e9, 294.334, 6.564_46),
        (plain, 0.80, 1e9, 265.438, 6.929_33),
        (plain, 0.90, 1e9, 190.709, 8.618_66),
        (plain, 0.95, 1e9, 135.898, 11.338_74),
        (heavy, 0.60, 20_000.0, 363.065, 15.777_23),
        (heavy, 0.60, 2000.0, 365.598, 15.765_89),
        (heavy, 0.60, 200.0, 390.135, 15.668_12),
        (heavy, 0.95, 20_000.0, 137.760, 29.321_98),
        (heavy, 0.95, 2000.0, 152.147, 27.208_78),
        (heavy, 0.95, 200.0, 229.591, 20.948_54),
    ];
    for (density_kg_m3, sag_ratio, stiffness_n, sag_m, end_n) in rows {
        let mut rig = rig(10, sag_ratio, 0.0, stiffness_n);
        rig.basket.clip_spacing_m = 100.0;
        rig.branch.weight_in_water_n = 0.0;
        rig.main_line.density_kg_m3 = density_kg_m3;
        let [coarse, fine] = [16, 32].map(|elements| {
            let hung = held(&rig, &Water::default(), true, elements);
            [hung.sag_m, hung.end_tension_n[0]]
        });
        let what = format!("sag ratio {sag_ratio}, EA {stiffness_n} N");
        assert_within(&format!("{what}: sag, m"), (4.0 * fine[0] - coarse[0]) / 3.0, sag_m, 0.002);
        assert_within(&format!("{what}: pull, N"), (4.0 * fine[1] - coarse[1]) / 3.0, end_n, 2e-4);
    }
}
