//! One basket in a current against outside programs: SciPy 1.17.1 `solve_bvp`, an independent mixed Newton solver
//! (NumPy 2.4.6) and MoorDyn-C 2.7.2, all run on the inputs below (Python 3.11).

use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::{Basket, EndsHeld, HangOptions, Hung, Rig, hang_basket};
use quantity::testing::assert_within;

/// 3.6 mm nylon, 1140 kg/m³, C_n 1.2, C_t 0.008 (on the skin), in sea water of 1025 kg/m³.
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
    hang_basket(rig, water, &options).expect("balanced")
}

fn middle(hung: &Hung) -> [f64; 3] {
    let node = hung.nodes[hung.nodes.len() / 2];
    [node.horizontal_m, node.across_m, node.depth_m]
}

#[test]
fn val_baskets_held_in_a_current_against_a_boundary_value_solver() {
    // (intervals, sag ratio, float line m, profile, middle x, y, depth m, end pulls N, seen of mixed Newton at 1, 2, 4, 8)
    let cases = [
        ("A", rig(16, 0.70, 20.0, 2e4), linear(0.10, 200.0, 90.0), [252.0, 129.291, 210.907], [9.8381, 9.8381]),
        ("B", rig(16, 0.70, 20.0, 2e4), linear(0.10, 200.0, 0.0), [268.662, 0.0, 245.265], [9.5959, 9.4535]),
        ("C", rig(26, 0.60, 25.0, 2e4), linear(0.10, 300.0, 45.0), [393.043, 155.964, 404.035], [14.9832, 14.8578]),
    ];
    for (name, rig, water, place_m, pulls_n) in cases {
        let fine = held(&rig, &water, false, 16);
        let ours = middle(&fine);
        for m in [1, 2, 4, 8] {
            let hung = held(&rig, &water, false, m);
            println!(
                "{name} {m}: {:?} {:?} rounds {} gap {:e} closure {:e}",
                middle(&hung),
                hung.end_tension_n,
                hung.iterations,
                hung.end_gap_m,
                hung.force_closure_n
            );
        }
        println!("{name} 16: {ours:?} {:?}", fine.end_tension_n);
        for axis in 0..3 {
            // Metres: straight elements of 2.8 m.
            assert_within(name, ours[axis], place_m[axis], 0.02);
        }
        for end in 0..2 {
            assert_within(name, fine.end_tension_n[end], pulls_n[end], 0.005);
        }
    }
}

#[test]
fn val_basket_with_point_loads_against_mixed_newton_and_a_lumped_mass_code() {
    let rig = rig(16, 0.70, 20.0, 2000.0);
    let water = linear(0.10, 200.0, 90.0);
    for m in [1, 2, 4, 8] {
        let hung = held(&rig, &water, true, m);
        println!(
            "D {m}: {:?} rounds {} gap {:e} closure {:e}",
            middle(&hung),
            hung.iterations,
            hung.end_gap_m,
            hung.force_closure_n
        );
    }
    let hung = held(&rig, &water, true, 8);
    let ours = middle(&hung);
    for (axis, value) in [252.0, 128.365, 213.606].into_iter().enumerate() {
        assert_within("middle", ours[axis], value, 0.03);
    }
}

#[test]
fn val_free_drift_of_a_row_against_an_independent_root_find() {
    let mut rig = rig(16, 0.70, 20.0, 2000.0);
    rig.branch.drag_area_m2 = 0.060;
    rig.float_line = Some(FloatLine { diameter_mm: 6.0, drag_normal: 1.2 });
    rig.float = Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: None });
    let water = Water {
        current: vec![
            CurrentLevel { depth_m: 0.0, east_m_s: 0.10 * 0.0, north_m_s: 0.30 },
            CurrentLevel { depth_m: 250.0, east_m_s: 0.10, north_m_s: 0.05 },
        ],
        ..Water::default()
    };
    for m in [1, 2, 4, 8] {
        let options = HangOptions { elements_per_interval: m, ..HangOptions::default() };
        let hung = hang_basket(&rig, &water, &options).expect("drifts");
        println!(
            "E {m}: {:?} {:?} rounds {} gap {:e} closure {:e} net {:?} ends {}",
            hung.drift,
            middle(&hung),
            hung.iterations,
            hung.end_gap_m,
            hung.force_closure_n,
            hung.net_force_n,
            hung.ends_depth_m
        );
    }
}
