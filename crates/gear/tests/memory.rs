//! What a line of 4,500 hooks takes in memory: the most this process has held, as Linux tells it.

#![cfg(target_os = "linux")]

use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::soak::{ProfileAt, SoakPlan, Stretch, follow};
use gear::{Basket, Rig};

/// The most this process has held so far, MB.
#[expect(clippy::disallowed_methods, reason = "the test asks the system, the crate does not")]
fn most_held_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_else(|error| panic!("{error}"));
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap_or_else(|| panic!("no VmHWM: {status}"));
    let kb: f64 = line.split_whitespace().nth(1).and_then(|word| word.parse().ok()).unwrap_or(f64::NAN);
    kb / 1024.0
}

#[test]
fn verif_a_line_of_4500_hooks_takes_less_than_twenty_megabytes() {
    let before_mb = most_held_mb();
    let rig = Rig {
        basket: Basket {
            hooks: 25,
            clip_spacing_m: 45.0,
            sag_ratio: 0.65,
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
        float: Some(Float { drag_area_m2: 0.01767, net_buoyancy_n: Some(110.0) }),
    };
    let level = |depth_m: f64, east_m_s: f64, north_m_s: f64| CurrentLevel { depth_m, east_m_s, north_m_s };
    let current = vec![level(0.0, 0.0, 0.3), level(120.0, 0.06, 0.15), level(250.0, 0.1, 0.05)];
    let plan = SoakPlan {
        stretches: vec![Stretch { rig, baskets: 180, bearings_deg_true: vec![60.0], spans_m: Vec::new() }],
        float_times_s: Vec::new(),
        radio_buoys: Vec::new(),
        cuts: Vec::new(),
        water: Water::default(),
        profiles: vec![ProfileAt { after_s: 0.0, basket: None, current }],
        wind: Vec::new(),
        fixes: Vec::new(),
        duration_s: 3600.0,
        step_s: 60.0,
        every_s: 600.0,
        elements_per_interval: 2,
    };
    // All that is told is kept, as a caller would.
    let mut moments = Vec::new();
    follow(&plan, |moment| moments.push(moment)).expect("followed");
    let hooks: usize = moments[0].baskets.iter().map(|basket| basket.hook_depths_m.len()).sum();
    assert_eq!(hooks, 4500);
    let taken_mb = most_held_mb() - before_mb;
    // Seen: 1.5 MB with two elements an interval and seven tellings kept.
    assert!(taken_mb < 20.0, "{taken_mb} MB");
}
