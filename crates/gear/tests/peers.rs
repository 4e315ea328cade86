//! Baskets against outside programs run on the very same input: `solve_bvp` and DOP853 shooting (SciPy 1.17.1), closed
//! forms (SciPy `brentq`), MoorPy 1.3.0 and MoorDyn-C 2.7.2. Inputs and answers: `tests/data/peers/`, its SOURCE.md says
//! what each can be trusted for. Every case of every file is run, at fine elements and at the elements taken by default.

use gear::parts::{BranchLine, Float, FloatLine, MainLine, Water};
use gear::{Basket, EndsHeld, HangOptions, Hung, Rig, hang_basket};
use quantity::testing::assert_within;
use serde::Deserialize;

/// Elements per interval where the reference is continuous and the answer is to be compared closely.
const FINE: u32 = 64;

#[derive(Deserialize)]
struct File {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    input: Input,
    output: Answer,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Input {
    basket: Basket,
    main_line: MainLine,
    branch: BranchLine,
    float_line: Option<FloatLine>,
    float: Option<Float>,
    water: Water,
    line_bearing_deg_true: f64,
    ends: EndsHeld,
    point_loads: bool,
    #[serde(rename = "elements_per_interval")]
    _elements_per_interval: u32,
}

#[derive(Deserialize)]
struct Answer {
    middle: Option<Place>,
    deepest: Option<Place>,
    #[serde(default)]
    clips: Vec<Clip>,
    end_tension_n: Option<[f64; 2]>,
    drift: Option<Velocity>,
    ends_depth_m: Option<f64>,
    settled_middle_depth_m: Option<f64>,
}

#[derive(Deserialize)]
struct Place {
    horizontal_m: f64,
    across_m: f64,
    depth_m: f64,
}

#[derive(Deserialize)]
struct Clip {
    position: usize,
    #[serde(flatten)]
    place: Place,
}

#[derive(Deserialize)]
struct Velocity {
    east_m_s: f64,
    north_m_s: f64,
}

/// A file's cases; `count` guards against cases that were lost.
fn cases(text: &str, count: usize) -> Vec<Case> {
    let file: File = serde_json::from_str(text).unwrap_or_else(|error| panic!("reference values: {error}"));
    assert_eq!(file.cases.len(), count, "cases");
    file.cases
}

impl Case {
    fn hung(&self, elements: u32) -> Hung {
        let input = &self.input;
        let rig = Rig {
            basket: input.basket,
            main_line: input.main_line,
            branch: input.branch,
            float_line: input.float_line,
            float: input.float,
        };
        let options = HangOptions {
            line_bearing_deg_true: input.line_bearing_deg_true,
            ends: input.ends,
            point_loads: input.point_loads,
            elements_per_interval: elements,
        };
        let hung = hang_basket(&rig, &input.water, &options).unwrap_or_else(|error| panic!("{}: {error}", self.name));
        assert_eq!(hung.elements_per_interval, elements, "{}", self.name);
        hung
    }

    /// Places of the middle, the deepest point and every clip, their depths and the pulls at the ends.
    fn compare(&self, elements: u32, place_tolerance_m: f64, pull_tolerance_n: f64) {
        let hung = self.hung(elements);
        let name = format!("{} at {elements} elements", self.name);
        let mut places = 0;
        if let Some(theirs) = &self.output.middle {
            // With an odd number of elements there is no node in the middle.
            if hung.nodes.len() % 2 == 1 {
                close(&format!("{name}, middle"), &hung, hung.nodes.len() / 2, theirs, place_tolerance_m);
                places += 1;
            }
        }
        if let Some(theirs) = &self.output.deepest {
            let deepest_m = hung.nodes.iter().map(|node| node.depth_m).fold(0.0, f64::max);
            // The deepest node may lie half an element from the deepest point of a continuous line: by its curvature it
            // is then less than an eighth of the bend between nodes too shallow, which place_tolerance_m allows for.
            assert_within(&format!("{name}, deepest, m"), deepest_m, theirs.depth_m, place_tolerance_m);
            places += 1;
        }
        for clip in &self.output.clips {
            let what = format!("{name}, clip {}", clip.position);
            close(&what, &hung, clip.position * elements as usize, &clip.place, place_tolerance_m);
            places += 1;
        }
        assert!(places >= self.input.basket.hooks as usize, "{name}: only {places} places compared");
        if let Some(theirs) = self.output.end_tension_n {
            for end in 0..2 {
                assert_within(&format!("{name}, end pull, N"), hung.end_tension_n[end], theirs[end], pull_tolerance_n);
            }
        }
    }
}

impl Case {
    /// The drift, and how deep the lower ends of the float lines hang where the source tells it.
    fn drifts(&self, elements: u32, tolerance_m_s: f64, ends_tolerance_m: f64) {
        let hung = self.hung(elements);
        let name = format!("{} at {elements} elements", self.name);
        let (Some(ours), Some(theirs)) = (hung.drift, &self.output.drift) else { panic!("{name}: no drift told") };
        assert_within(&format!("{name}, drift east, m/s"), ours.east_m_s, theirs.east_m_s, tolerance_m_s);
        assert_within(&format!("{name}, drift north, m/s"), ours.north_m_s, theirs.north_m_s, tolerance_m_s);
        if let Some(theirs_m) = self.output.ends_depth_m {
            assert_within(&format!("{name}, ends, m"), hung.ends_depth_m, theirs_m, ends_tolerance_m);
        }
    }
}

fn default_elements() -> u32 {
    HangOptions::default().elements_per_interval
}

#[track_caller]
fn close(what: &str, hung: &Hung, node: usize, theirs: &Place, tolerance_m: f64) {
    let ours = hung.nodes[node];
    assert_within(&format!("{what}, horizontal, m"), ours.horizontal_m, theirs.horizontal_m, tolerance_m);
    assert_within(&format!("{what}, across, m"), ours.across_m, theirs.across_m, tolerance_m);
    assert_within(&format!("{what}, depth, m"), ours.depth_m, theirs.depth_m, tolerance_m);
}

/// Source: SciPy 1.17.1 `solve_bvp`, tol 1e-8, branch lines spread along the line, ends held. Straight elements are of second
/// order: at 64 an interval 0.001 m and 1e-4 N (seen 0.0006 m, 0.00003 N); at the default two 0.6 m and 0.03 N (seen 0.50 m and
/// 0.021 N for a 90 m interval of heavy rope, 0.31 m for nylon).
#[test]
fn val_held_baskets_spread_along_the_line_lie_where_solve_bvp_says() {
    for case in cases(include_str!("data/peers/bvp_fixed_smeared.json"), 9) {
        case.compare(FINE, 0.001, 1e-4);
        case.compare(default_elements(), 0.6, 0.03);
    }
}

/// Source: the same with branch lines as loads at their clips, all intervals stacked side by side. Fine: 0.0005 m, 1e-5 N (seen
/// 0.0002 m, 0.000005 N); default: 0.25 m, 0.006 N (seen 0.17 m, 0.0044 N).
#[test]
fn val_held_baskets_with_point_loads_lie_where_solve_bvp_says() {
    for case in cases(include_str!("data/peers/bvp_fixed_point_loads.json"), 5) {
        case.compare(FINE, 0.0005, 1e-5);
        case.compare(default_elements(), 0.25, 0.006);
    }
}

/// Source: SciPy 1.17.1 DOP853 (rtol 1e-11) with `root`: an endless row drifting, its float lines leaning with the drag of
/// plumb ones, as ours do. Fine: 0.003 m, 2e-5 N, 3e-6 m/s (seen 0.0019 m, 0.000008 N, 0.0000015 m/s: we take four straight pieces
/// of a float line). Default: 0.35 m, 0.01 N, 6e-4 m/s (seen 0.30 m, 0.007 N, 0.0005 m/s).
#[test]
fn val_drifting_rows_lie_and_drift_as_an_independent_march_says() {
    for case in cases(include_str!("data/peers/march_drifting_leaning_plumb_drag.json"), 4) {
        case.compare(FINE, 0.003, 2e-5);
        case.drifts(FINE, 3e-6, 0.002);
        case.compare(default_elements(), 0.35, 0.01);
        case.drifts(default_elements(), 6e-4, 0.002);
    }
}

/// The same with the drag of a leaning line on the leaning float lines. What ours leaves out shows where they lean far
/// (`drift_half_beats`, 17°): 0.15 m, 0.01 N, 2.5e-4 m/s allowed (seen 0.11 m, 0.0065 N, 0.00017 m/s); at default 0.35 m,
/// 6e-4 m/s (seen 0.30 m, 0.0005 m/s).
#[test]
fn val_drag_of_leaning_float_lines_matters_little() {
    for case in cases(include_str!("data/peers/march_drifting_leaning.json"), 4) {
        case.compare(FINE, 0.15, 0.01);
        case.drifts(FINE, 2.5e-4, 0.002);
        case.compare(default_elements(), 0.35, 0.01);
        case.drifts(default_elements(), 6e-4, 0.002);
    }
}

/// Source: SciPy 1.17.1 `solve_bvp` with the drift as unknown and float lines that hang plumb. Ours lean and so lift the
/// ends: 0.2 m, 0.001 N, 2e-4 m/s (seen 0.153 m, 0.00025 N, 0.00012 m/s where they lean most); default 0.35 m, 0.01 N, 6e-4 m/s.
#[test]
fn val_drifting_rows_with_plumb_float_lines_differ_by_the_lean_alone() {
    for case in cases(include_str!("data/peers/bvp_drifting.json"), 4) {
        case.compare(FINE, 0.2, 0.001);
        case.drifts(FINE, 2e-4, 0.0);
        case.compare(default_elements(), 0.35, 0.01);
        case.drifts(default_elements(), 6e-4, 0.0);
    }
}

/// Source: still water, elastic catenary pieces between equal loads in closed form (SciPy 1.17.1 `brentq`, xtol 1e-13).
/// Fine: 0.0005 m, 2e-5 N (seen 0.0003 m, 0.000011 N); default: 0.3 m, 0.015 N (seen 0.27 m for rope, 0.065 m for nylon; 0.0115 N).
#[test]
fn val_baskets_in_still_water_lie_where_the_closed_form_says() {
    for case in cases(include_str!("data/peers/closed_point_loads.json"), 11) {
        case.compare(FINE, 0.0005, 2e-5);
        case.compare(default_elements(), 0.3, 0.015);
    }
}

/// Source: MoorPy 1.3.0 `catenary`, Tol 1e-10: one uniform elastic span in still water. Fine: 0.001 m, 1e-4 N (seen 0.0009 m,
/// 0.00004 N); default, here 50 m long: 1 m, 0.05 N (seen 0.94 m at sag ratio 0.50, below 0.7 m from 0.60 on; 0.042 N).
#[test]
fn val_single_spans_lie_where_a_mooring_code_says() {
    for case in cases(include_str!("data/peers/moorpy_single_spans.json"), 19) {
        case.compare(FINE, 0.001, 1e-4);
        case.compare(default_elements(), 1.0, 0.05);
    }
}

/// Source: MoorDyn-C 2.7.2, lumped masses left free until nearly at rest, 2 and 4 segments an interval. It takes drag per
/// unstretched length (0.13 m where EA is 2 kN) and its own segments are straight: 0.6 m with two of them (seen 0.50 m), 0.25 m
/// with four (seen 0.21 m).
#[test]
fn val_baskets_in_a_current_lie_where_a_lumped_mass_code_comes_to_rest() {
    for case in cases(include_str!("data/peers/moordyn_settled.json"), 6) {
        let tolerance_m = if case.name.ends_with("2_segments") { 0.6 } else { 0.25 };
        case.compare(FINE, tolerance_m, 0.0);
        case.compare(default_elements(), tolerance_m, 0.0);
    }
}

/// Source: the middles that `moordyn_settling.json` measures the way of a sinking basket by (closed form of the case).
/// Fine: 0.0005 m (seen 0.00003 m); default: 0.05 m (seen 0.031 m).
#[test]
fn val_sinking_baskets_settle_where_they_hang() {
    for case in cases(include_str!("data/peers/moordyn_settling.json"), 6) {
        let theirs_m = case.output.settled_middle_depth_m.expect("told");
        for (elements, tolerance_m) in [(FINE, 0.0005), (default_elements(), 0.05)] {
            let hung = case.hung(elements);
            let ours_m = hung.nodes[hung.nodes.len() / 2].depth_m;
            assert_within(&format!("{} at {elements} elements, middle, m", case.name), ours_m, theirs_m, tolerance_m);
        }
    }
}
