//! The first guess of a chain: the catenary of the same weight spread evenly, in still water.

use super::newton::State;
use super::{Chain, direction};
use crate::catenary::drop_at_m;
use crate::vector::{Vector, plus};

/// Nodes on the uniform catenary between the ends, tilted when they are not level, and the pull that goes with it.
pub(super) fn catenary(chain: &Chain) -> State {
    let [first, last] = chain.ends_m;
    let line_m = chain.unstretched_m();
    let weight_n = chain.weight_n().abs().max(1e-3 * line_m);
    let across = plus(last, -1.0, first);
    let span_m = across[0].hypot(across[1]).hypot(across[2]);
    let stiffness_n = chain.segments.iter().map(|s| s.axial_stiffness_n).fold(f64::INFINITY, f64::min);
    let (ratio, pull_n) = stretched(span_m / line_m, weight_n, stiffness_n);
    let mut arc_m = 0.0;
    let mut before = (0.0, 0.0);
    let mut nodes_m: Vec<Vector> = vec![first];
    for segment in &chain.segments {
        arc_m += segment.unstretched_m;
        let drop_m = drop_at_m(line_m, ratio, arc_m);
        let step_m = segment.unstretched_m;
        let fall_m = drop_m - before.1;
        before = (before.0 + (step_m * step_m - fall_m * fall_m).max(0.0).sqrt(), drop_m);
        nodes_m.push([before.0, 0.0, drop_m]);
    }
    // The chords of the arcs are a little short or long of the span: brought to fit.
    let reach_m = before.0.max(1e-9);
    let sense = if chain.weight_n() < 0.0 { -1.0 } else { 1.0 };
    for node in nodes_m.iter_mut().skip(1) {
        let mut place = plus(first, node[0] / reach_m, across);
        place[2] += sense * node[2];
        *node = place;
    }
    if let Some(end) = nodes_m.last_mut() {
        *end = last;
    }
    let tension_n = nodes_m
        .windows(2)
        .map(|pair| {
            let along = direction(pair[0], pair[1]).0;
            pull_n / along[0].hypot(along[1]).max(0.02)
        })
        .collect();
    State { nodes_m, tension_n }
}

/// Sag ratio and horizontal pull of a uniform chain that stretches: the ratio is that of the stretched line.
fn stretched(ratio: f64, weight_n: f64, stiffness_n: f64) -> (f64, f64) {
    // Of a taut line: H³ = EA W² / 24 when span and line are equally long (parabola, Irvine 1981; SOURCE NOT CHECKED).
    let taut_n = (stiffness_n * weight_n * weight_n / 24.0).cbrt() + stiffness_n * (ratio - 1.0).max(0.0);
    let slack_n = |ratio: f64| {
        // Slope at the ends from the drop of a short piece there.
        let fall = (drop_at_m(1.0, ratio, 1e-4) / 1e-4).min(1.0 - 1e-9);
        0.5 * weight_n * (1.0 - fall * fall).sqrt() / fall.max(1e-9)
    };
    let mut pull_n = f64::min(slack_n(ratio.clamp(1e-3, 1.0 - 1e-9)), taut_n);
    for _ in 0..8 {
        let eased = (ratio / (1.0 + pull_n / stiffness_n)).clamp(1e-3, 1.0 - 1e-9);
        pull_n = f64::midpoint(pull_n, f64::min(slack_n(eased), taut_n));
    }
    ((ratio / (1.0 + pull_n / stiffness_n)).clamp(1e-3, 1.0 - 1e-9), pull_n)
}
