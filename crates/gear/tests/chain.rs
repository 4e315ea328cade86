//! The chain of straight elastic segments against closed forms, boundary value solvers and a lumped-mass code.

use gear::chain::{Chain, NodeLoad, Relaxed, Segment, relax};
use gear::current::Profile;
use quantity::testing::assert_within;

/// Basket of the reference cases: 3.6 mm nylon in sea water.
struct Gear {
    intervals: usize,
    clip_m: f64,
    ratio: f64,
    float_line_m: f64,
    stiffness_n: f64,
    weight_n_m: f64,
    point_n: f64,
    elements: usize,
}

const NYLON_N_M: f64 = 0.011_479_25;

impl Gear {
    fn chain(&self) -> Chain {
        let count = self.intervals * self.elements;
        let length_m = self.clip_m / self.elements as f64;
        let segment = Segment {
            unstretched_m: length_m,
            axial_stiffness_n: self.stiffness_n,
            weight_n_m: self.weight_n_m,
            normal_kg_m2: 0.5 * 1025.0 * 0.0036 * 1.2,
            tangential_kg_m2: 0.5 * 1025.0 * 0.0036 * std::f64::consts::PI * 0.008,
            spread_kg_m2: 0.0,
        };
        let hook = NodeLoad { weight_n: self.point_n, ..NodeLoad::default() };
        let load = |node: usize| {
            if node > 0 && node < count && node.is_multiple_of(self.elements) { hook } else { NodeLoad::default() }
        };
        let span_m = self.ratio * self.clip_m * self.intervals as f64;
        Chain {
            ends_m: [[0.0, 0.0, self.float_line_m], [span_m, 0.0, self.float_line_m]],
            segments: vec![segment; count],
            loads: (0..=count).map(load).collect(),
            velocity_m_s: Vec::new(),
        }
    }
}

/// Speed of 0.1 m/s below `deep_m`, growing evenly from none at the surface, towards `towards_deg` from x to y.
fn shear(deep_m: f64, towards_deg: f64) -> Profile {
    let (sin, cos) = f64::to_radians(towards_deg).sin_cos();
    Profile::of(vec![0.0, deep_m], vec![[0.0; 2], [0.1 * cos, 0.1 * sin]])
}

fn still() -> Profile {
    Profile::of(Vec::new(), Vec::new())
}

fn middle(relaxed: &Relaxed) -> [f64; 3] {
    relaxed.nodes_m[relaxed.nodes_m.len() / 2]
}

/// Source: closed form of elastic catenary segments (Irvine 1981) with point loads, and an independent mixed Newton solver
/// at 1, 4 and 8 straight elements an interval (SciPy 1.17.1). Tolerance: the printed 0.5 mm for the same elements; the
/// closed form by Richardson's h² extrapolation within 1 mm.
#[test]
fn val_equal_point_loads_hang_as_the_independent_solver_says() {
    let cases = [
        (8, 0.75, 106.754, [106.961, 106.767, 106.757]),
        (16, 0.60, 261.920, [262.083, 261.930, 261.922]),
        (26, 0.60, 425.139, [425.238, 425.145, 425.140]),
        (26, 0.75, 345.064, [345.125, 345.067, 345.065]),
    ];
    for (intervals, ratio, closed_m, by_elements_m) in cases {
        let mut depths = Vec::new();
        for (elements, theirs_m) in [1, 4, 8].into_iter().zip(by_elements_m) {
            let gear = Gear {
                intervals,
                clip_m: 45.0,
                ratio,
                float_line_m: 0.0,
                stiffness_n: 20_000.0,
                weight_n_m: NYLON_N_M,
                point_n: 0.6,
                elements,
            };
            let relaxed = relax(&gear.chain(), &still(), None).expect("rests");
            depths.push(middle(&relaxed)[2]);
            assert_within("mid depth, m", middle(&relaxed)[2], theirs_m, 0.000_6);
        }
        assert_within("extrapolated, m", (4.0 * depths[2] - depths[1]) / 3.0, closed_m, 0.001);
    }
}

fn case(name: char, elements: usize) -> (Gear, Profile) {
    let (intervals, ratio, float_line_m) = if name == 'C' { (26, 0.60, 25.0) } else { (16, 0.70, 20.0) };
    let points = intervals as f64 - 1.0;
    let smeared = NYLON_N_M + 0.6 * points / (intervals as f64 * 45.0);
    let gear = Gear {
        intervals,
        clip_m: 45.0,
        ratio,
        float_line_m,
        stiffness_n: if name == 'D' { 2000.0 } else { 20_000.0 },
        weight_n_m: if name == 'D' { NYLON_N_M } else { smeared },
        point_n: if name == 'D' { 0.6 } else { 0.0 },
        elements,
    };
    let profile = match name {
        'B' => shear(200.0, 0.0),
        'C' => shear(300.0, 45.0),
        _ => shear(200.0, 90.0),
    };
    (gear, profile)
}

/// Cases A to C: branch lines spread along the line. Source: mixed Newton at 1, 2, 4 and 8 elements and `solve_bvp`
/// (SciPy 1.17.1, tol 1e-5 and 1e-8). Tolerance: printed digits for the same elements; 0.02 m of the boundary value
/// solution at 16 elements (differences seen: 0.003, 0.002, 0.003 m). Case D: point loads, EA 2000 N.
#[test]
fn val_chains_in_a_current_lie_where_independent_solvers_say() {
    let cases = [
        ('A', [252.000, 129.291, 210.907], 210.907, [211.411, 211.073, 210.946, 210.915]),
        ('B', [268.662, 0.0, 245.265], 247.182, [245.789, 245.418, 245.302, 245.273]),
        ('C', [393.043, 155.964, 404.035], 407.312, [404.562, 404.165, 404.066, 404.041]),
        ('D', [252.000, 128.365, 213.606], 213.606, [213.892, 213.660, 213.623, 213.606]),
    ];
    for (name, middle_m, deepest_m, by_elements_m) in cases {
        for (elements, theirs_m) in [1, 2, 4, 8].into_iter().zip(by_elements_m) {
            let (gear, profile) = case(name, elements);
            let relaxed = relax(&gear.chain(), &profile, None).expect("rests");
            assert_within("mid depth, m", middle(&relaxed)[2], theirs_m, 0.000_6);
        }
        let (gear, profile) = case(name, 16);
        let relaxed = relax(&gear.chain(), &profile, None).expect("rests");
        for (ours, theirs) in middle(&relaxed).into_iter().zip(middle_m) {
            assert_within("middle node, m", ours, theirs, 0.02);
        }
        let deepest = relaxed.nodes_m.iter().map(|node| node[2]).fold(0.0, f64::max);
        assert_within("deepest, m", deepest, deepest_m, 0.02);
    }
}

/// Source: `solve_bvp` (SciPy 1.17.1), end tensions of cases A to C. Tolerance 0.002 N (differences seen below 0.0003 N).
#[test]
fn val_ends_are_pulled_as_the_boundary_value_solver_says() {
    for (name, first_n, last_n) in [('A', 9.8381, 9.8381), ('B', 9.5959, 9.4535), ('C', 14.9832, 14.8578)] {
        let (gear, profile) = case(name, 16);
        let relaxed = relax(&gear.chain(), &profile, None).expect("rests");
        for (pull, theirs) in relaxed.end_pull_n.iter().zip([first_n, last_n]) {
            assert_within("pull, N", pull[0].hypot(pull[1]).hypot(pull[2]), theirs, 0.002);
        }
    }
}

/// Source: MoorDyn-C 2.7.2, two segments an interval, 6,000 s after it was let go. Tolerance 0.2 % or 0.5 m (it stands with
/// 3 micrometres a second still); 0.04 m seen. The other nodes: mixed Newton (SciPy 1.17.1), printed digits.
#[test]
fn val_a_basket_across_the_current_hangs_as_in_a_lumped_mass_code() {
    let (gear, profile) = case('D', 2);
    let ours = middle(&relax(&gear.chain(), &profile, None).expect("rests"));
    for (ours, theirs) in ours.into_iter().zip([252.000, 128.321, 213.704]) {
        assert_within("middle node, m", ours, theirs, 0.5);
    }
    let (gear, profile) = case('D', 8);
    let relaxed = relax(&gear.chain(), &profile, None).expect("rests");
    let nodes = [
        (56.31, 17.44),
        (90.59, 36.26),
        (122.38, 56.13),
        (151.11, 76.37),
        (175.98, 95.82),
        (195.81, 112.63),
        (208.95, 124.22),
        (213.61, 128.37),
    ];
    for (clip, (down, aside)) in nodes.into_iter().enumerate() {
        let node = relaxed.nodes_m[8 * (clip + 1)];
        assert_within("depth, m", node[2], down, 0.006);
        assert_within("aside, m", node[1], aside, 0.006);
    }
}

/// Source: extensible catenary in closed form, MoorPy 1.3.0 and `solve_bvp` (SciPy 1.17.1), which agree in all digits.
/// Tolerance: 2 mm and 0.2 mN on Richardson's extrapolation from 64 and 128 elements.
#[test]
fn val_a_stretching_line_sags_and_pulls_as_in_closed_form() {
    let cases = [
        (0.60, 20_000.0, 363.065, 15.777_23),
        (0.60, 2000.0, 365.598, 15.765_89),
        (0.60, 200.0, 390.135, 15.668_12),
        (0.95, 20_000.0, 137.760, 29.321_98),
        (0.95, 2000.0, 152.147, 27.208_78),
        (0.95, 200.0, 229.591, 20.948_54),
    ];
    for (ratio, stiffness_n, sag_m, end_n) in cases {
        let [coarse, fine] = [64, 128].map(|elements| {
            let gear = Gear {
                intervals: 1,
                clip_m: 1000.0,
                ratio,
                float_line_m: 0.0,
                stiffness_n,
                weight_n_m: 0.03,
                point_n: 0.0,
                elements,
            };
            let relaxed = relax(&gear.chain(), &still(), None).expect("rests");
            let pull = relaxed.end_pull_n[0];
            [middle(&relaxed)[2], pull[0].hypot(pull[2])]
        });
        assert_within("sag, m", (4.0 * fine[0] - coarse[0]) / 3.0, sag_m, 0.002);
        assert_within("end pull, N", (4.0 * fine[1] - coarse[1]) / 3.0, end_n, 0.000_2);
    }
}

/// What weight and drag leave over when the pulls at the ends are taken off, N: summed anew from the nodes.
fn left_over_n(chain: &Chain, profile: &Profile, relaxed: &Relaxed) -> f64 {
    let mut sum = [0.0; 3];
    let mut near = 0;
    for (segment, ends) in chain.segments.iter().zip(relaxed.nodes_m.windows(2)) {
        let between: Vec<f64> = (0..3).map(|axis| ends[1][axis] - ends[0][axis]).collect();
        let length_m = between.iter().map(|part| part * part).sum::<f64>().sqrt();
        let (flow, _) = profile.at(0.5 * (ends[0][2] + ends[1][2]), &mut near);
        let u = [flow[0], flow[1], 0.0];
        let along: f64 = (0..3).map(|axis| u[axis] * between[axis] / length_m).sum();
        let across: Vec<f64> = (0..3).map(|axis| u[axis] - along * between[axis] / length_m).collect();
        let speed = across.iter().map(|part| part * part).sum::<f64>().sqrt();
        for axis in 0..3 {
            sum[axis] += segment.normal_kg_m2 * speed * across[axis] * length_m
                + segment.tangential_kg_m2 * along.abs() * along * between[axis];
        }
        sum[2] += segment.weight_n_m * segment.unstretched_m;
    }
    sum[2] += chain.loads.iter().map(|load| load.weight_n).sum::<f64>();
    (0..3).map(|axis| (sum[axis] - relaxed.end_pull_n[0][axis] - relaxed.end_pull_n[1][axis]).abs()).fold(0.0, f64::max)
}

#[test]
fn verif_forces_close_to_a_nano_newton_and_ends_meet_whatever_the_slack() {
    for ratio in [0.1, 0.2, 0.4, 0.7, 0.95, 0.999, 1.0, 1.0005] {
        for speed in [0.0, 0.3, 1.0] {
            for elements in [1, 2, 5] {
                let mut gear = case('D', elements).0;
                gear.ratio = ratio;
                let chain = gear.chain();
                let profile = Profile::of(vec![0.0, 250.0], vec![[0.1, 0.2], [0.1 - speed, 0.2 + 0.5 * speed]]);
                let relaxed = relax(&chain, &profile, None)
                    .unwrap_or_else(|error| panic!("sag ratio {ratio}, {speed} m/s, {elements} elements: {error}"));
                let closure_n = left_over_n(&chain, &profile, &relaxed);
                assert_within("forces left over, N", closure_n, 0.0, 1e-9);
                for (segment, (ends, pull_n)) in
                    chain.segments.iter().zip(relaxed.nodes_m.windows(2).zip(&relaxed.tension_n))
                {
                    let length_m = (0..3).map(|axis| (ends[1][axis] - ends[0][axis]).powi(2)).sum::<f64>().sqrt();
                    let wanted_m = segment.unstretched_m * (1.0 + pull_n / segment.axial_stiffness_n);
                    assert_within("length, m", length_m, wanted_m, 1e-9);
                }
            }
        }
    }
}

#[test]
fn verif_a_chain_across_the_current_is_symmetric_and_turns_with_it() {
    let (gear, profile) = case('D', 3);
    let chain = gear.chain();
    let relaxed = relax(&chain, &profile, None).expect("rests");
    let last = relaxed.nodes_m.len() - 1;
    for (node, other) in relaxed.nodes_m.iter().zip(relaxed.nodes_m.iter().rev()) {
        assert_within("mirrored along, m", node[0] + other[0], relaxed.nodes_m[last][0], 1e-8);
        assert_within("mirrored down, m", node[2], other[2], 1e-8);
    }
    // The same seen from axes turned by 40 degrees.
    let (sin, cos) = 40_f64.to_radians().sin_cos();
    let mut turned = chain.clone();
    let end = chain.ends_m[1];
    turned.ends_m[1] = [end[0] * cos, end[0] * sin, end[2]];
    let turned = relax(&turned, &profile.changed(1.0, 40_f64.to_radians(), [0.0; 2]), None).expect("rests");
    for (node, other) in relaxed.nodes_m.iter().zip(&turned.nodes_m) {
        assert_within("turned, m", node[0] * cos - node[1] * sin, other[0], 1e-8);
        assert_within("turned, m", node[0] * sin + node[1] * cos, other[1], 1e-8);
    }
}

#[test]
fn verif_elements_are_of_second_order_in_a_current_without_a_corner() {
    // One even shear down to below the gear: halving the elements quarters the error.
    let depth = |elements| {
        let relaxed = relax(&case('D', elements).0.chain(), &shear(600.0, 60.0), None).expect("rests");
        middle(&relaxed)[2]
    };
    let [one, two, four, eight] = [1, 2, 4, 8].map(depth);
    assert_within("order", ((two - four) / (four - eight)).log2(), 2.0, 0.03);
    assert!(((one - two) / (two - four)).log2() > 1.8);
}

#[test]
fn verif_a_moving_chain_in_a_moving_sea_hangs_as_one_at_rest_and_a_start_nearby_saves_steps() {
    let (gear, profile) = case('C', 2);
    let chain = gear.chain();
    let still = relax(&chain, &profile, None).expect("rests");
    let mut moving = chain.clone();
    moving.velocity_m_s = vec![[0.31, -0.17]; chain.loads.len()];
    let faster = profile.changed(1.0, 0.0, [-0.31, 0.17]);
    let same = relax(&moving, &faster, Some(&still)).expect("rests");
    assert!(same.iterations <= 3, "{} steps", same.iterations);
    for (node, other) in still.nodes_m.iter().zip(&same.nodes_m) {
        (0..3).for_each(|axis| assert_within("node, m", node[axis], other[axis], 1e-8));
    }
}

#[test]
fn regress_lists_that_do_not_fit_together_are_refused() {
    let mut chain = case('A', 1).0.chain();
    chain.loads.pop();
    assert!(relax(&chain, &still(), None).expect_err("uneven").to_string().contains("16 segments"));
    let mut chain = case('A', 1).0.chain();
    chain.segments[3].unstretched_m = f64::NAN;
    assert!(relax(&chain, &still(), None).is_err());
}
