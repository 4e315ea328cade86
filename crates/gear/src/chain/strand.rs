//! The chain of one basket's line, and its answer as the shooting solver wants it.

use super::{Chain, NodeLoad, Segment, direction, relax};
use crate::current::Profile;
use crate::error::GearError;
use crate::march::{Strand, element_load};
use crate::shoot::{Ends, Pull};
use crate::vector::{Vector, plus};

/// The chain with the same elements and loads.
pub(crate) fn chain_of(strand: &Strand, ends: &Ends) -> Chain {
    let segments: Vec<Segment> = strand
        .length_m
        .iter()
        .map(|length_m| Segment {
            unstretched_m: *length_m,
            axial_stiffness_n: strand.stiffness_n,
            weight_n_m: strand.weight_n_m,
            normal_kg_m2: strand.normal,
            tangential_kg_m2: strand.tangential,
            spread_kg_m2: strand.spread,
        })
        .collect();
    let branch =
        NodeLoad { weight_n: strand.branch_n, drag_kg_m: strand.branch_drag, drag_down_m: strand.branch_range_m };
    let mut loads = vec![NodeLoad::default()];
    loads.extend(strand.clip.iter().map(|clip| if *clip { branch } else { NodeLoad::default() }));
    let mut arc_m = 0.0;
    let mut velocity_m_s = vec![ends.first_m_s];
    for length_m in &strand.length_m {
        arc_m += length_m;
        velocity_m_s.push(ends.velocity_at(arc_m / strand.line_m));
    }
    let first = [0.0, 0.0, ends.depth_m];
    Chain { ends_m: [first, plus(first, 1.0, ends.apart_m)], segments, loads, velocity_m_s }
}

/// The pull with which shooting starts at its goal: where the chain comes to rest.
///
/// # Errors
/// As [`relax`].
pub(crate) fn pull_by_relaxing(strand: &Strand, profile: &Profile, ends: &Ends) -> Result<Pull, GearError> {
    let relaxed = relax(&chain_of(strand, ends), profile, None)?;
    let (mut arc_m, mut near) = (0.0, 0);
    let mut lag_n = Vec::with_capacity(strand.length_m.len());
    for ((length_m, pair), pull_n) in strand.length_m.iter().zip(relaxed.nodes_m.windows(2)).zip(&relaxed.tension_n) {
        let tension: Vector = direction(pair[0], pair[1]).0.map(|part| part * pull_n);
        let velocity = ends.velocity_at((arc_m + 0.5 * length_m) / strand.line_m);
        arc_m += length_m;
        let load = element_load(strand, profile, *length_m, tension, pair[0][2], velocity, &mut near)
            .map_or([0.0; 3], |load| load.force_n);
        lag_n.push(plus([0.0; 3], -0.5, load));
    }
    Ok(Pull { first_n: relaxed.end_pull_n[0], lag_n })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::strategy::ValueTree;
    use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
    use quantity::testing::assert_within;

    use super::*;
    use crate::catenary::Basket;
    use crate::parts::{BranchLine, DragAt, MainLine, Water};
    use crate::shoot::close;
    use crate::vector::norm;

    fn flow(strongest_m_s: f64) -> impl Strategy<Value = [f64; 2]> {
        (0.0..strongest_m_s, 0.0..std::f64::consts::TAU).prop_map(|(speed, to)| [speed * to.cos(), speed * to.sin()])
    }

    /// Any gear of 3 to 30 hooks in a current of four levels: the line, the current and the ends.
    fn any_gear(slackest: f64, strongest_m_s: f64) -> impl Strategy<Value = (Strand, Profile, Ends)> {
        let basket = (3..31_u32, 25.0..90.0_f64, slackest..1.0_f64, 5.0..50.0_f64, any::<bool>()).prop_map(
            |(hooks, clip_spacing_m, sag_ratio, float_line_m, float_takes_a_beat)| Basket {
                hooks,
                clip_spacing_m,
                sag_ratio,
                float_line_m,
                branch_line_m: 25.0,
                float_takes_a_beat,
            },
        );
        let main_line = (2.0..6.0_f64, 1100.0..1350.0_f64).prop_map(|(diameter_mm, density_kg_m3)| MainLine {
            diameter_mm,
            density_kg_m3,
            axial_stiffness_n: 20_000.0,
            drag_normal: 1.2,
            drag_tangential: 0.008,
        });
        let branch = (0.2..2.0_f64, 0.0..0.1_f64, any::<bool>()).prop_map(|(weight_in_water_n, drag_area_m2, own)| {
            let drag_at = if own { DragAt::OwnDepth } else { DragAt::Node };
            BranchLine { weight_in_water_n, drag_area_m2, drag_at }
        });
        let levels = prop::collection::vec(flow(strongest_m_s), 4);
        (basket, main_line, branch, levels, 1..4_u32, any::<bool>()).prop_map(
            |(basket, main_line, branch, levels, elements, points)| {
                let strand = Strand::new(&basket, &main_line, &branch, &Water::default(), points, elements);
                let ends = Ends::still(basket.sag_ratio * strand.line_m, basket.float_line_m);
                (strand, Profile::of(vec![0.0, 60.0, 150.0, 400.0], levels), ends)
            },
        )
    }

    fn sweep(
        cases: u32,
        gears: impl Strategy<Value = (Strand, Profile, Ends)>,
        mut look: impl FnMut(Strand, Profile, Ends),
    ) {
        let mut random = TestRunner::new_with_rng(Config::default(), TestRng::deterministic_rng(RngAlgorithm::ChaCha));
        for _ in 0..cases {
            let (strand, profile, ends) = gears.new_tree(&mut random).expect("a gear").current();
            look(strand, profile, ends);
        }
    }

    #[test]
    fn verif_shooting_agrees_to_a_hundred_millionth_with_where_the_chain_rests() {
        let (mut worst_m, mut compared): (f64, u32) = (0.0, 0);
        sweep(200, any_gear(0.3, 0.3), |strand, profile, ends| {
            let mut pull = match pull_by_relaxing(&strand, &profile, &ends) {
                Err(GearError::HangsSlack { .. }) => return,
                found => found.expect("rests"),
            };
            let begun = pull.first_n;
            let shot = close(&strand, &profile, &ends, &mut pull).expect("closes at once");
            assert!(shot.rounds <= 3, "{} rounds", shot.rounds);
            // Difference of the pulls, over the pull, times the line: what it can shift a node by.
            worst_m = worst_m.max(norm(plus(pull.first_n, -1.0, begun)) / norm(begun) * strand.line_m);
            compared += 1;
        });
        assert!(compared > 195, "{compared} compared");
        assert_within("shift, m", worst_m, 0.0, 1e-8);
    }

    #[test]
    fn verif_slack_taut_and_swept_chains_rest_in_a_current_up_to_a_metre_a_second() {
        let (mut slack, mut unrested) = (0, 0);
        sweep(400, any_gear(0.1, 1.0), |strand, profile, ends| {
            match relax(&chain_of(&strand, &ends), &profile, None) {
                Ok(relaxed) => {
                    assert!(relaxed.nodes_m.iter().flatten().all(|value| value.is_finite()));
                    assert!(relaxed.tension_n.iter().all(|pull| *pull > -1e-9));
                }
                Err(GearError::HangsSlack { .. }) => slack += 1,
                Err(_) => unrested += 1,
            }
        });
        // Slack: nearly all of a sag ratio below 0.2. Not at rest: they flap in a current above 0.6 m/s.
        assert!(slack <= 20 && unrested <= 2, "{slack} slack, {unrested} not brought to rest");
    }
}
