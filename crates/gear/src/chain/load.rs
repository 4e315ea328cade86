//! Drag of a straight segment, with the derivatives that Newton's method needs.

use super::Segment;
use crate::vector::{Matrix, Vector, dot, norm, plus};

/// Drag of one metre of line, N/m, and how it changes.
pub(super) struct LineDrag {
    pub(super) force_n_m: Vector,
    /// With the flow.
    pub(super) by_flow: Matrix,
    /// With the direction of the line, for turns that keep its length.
    pub(super) by_direction: Matrix,
}

/// Drag of a metre of line of direction `along` (unit) in a flow `u` past it. `smooth_m_s` rounds off |u| near no flow.
pub(super) fn line_drag(segment: &Segment, u: Vector, along: Vector, smooth_m_s: f64) -> LineDrag {
    let (across_head, along_head) = (segment.normal_kg_m2, segment.tangential_kg_m2);
    let flow_along = dot(u, along);
    let across = plus(u, -flow_along, along);
    let speed_across = norm(across).hypot(smooth_m_s);
    let speed_along = flow_along.hypot(smooth_m_s);
    let mut out = LineDrag { force_n_m: [0.0; 3], by_flow: [[0.0; 3]; 3], by_direction: [[0.0; 3]; 3] };
    // Derivatives of the two speeds; 0/0 without any flow is 0.
    let across_unit = if speed_across > 0.0 { 1.0 / speed_across } else { 0.0 };
    let along_slope = if speed_along > 0.0 { speed_along + flow_along * flow_along / speed_along } else { 0.0 };
    for i in 0..3 {
        out.force_n_m[i] = across_head * speed_across * across[i] + along_head * speed_along * flow_along * along[i];
        for j in 0..3 {
            let same = if i == j { 1.0 } else { 0.0 };
            let plane = same - along[i] * along[j];
            out.by_flow[i][j] = across_head * (speed_across * plane + across[i] * across[j] * across_unit)
                + along_head * along_slope * along[i] * along[j];
            out.by_direction[i][j] = across_head
                * (-flow_along * across_unit * across[i] * across[j]
                    - speed_across * (along[i] * across[j] + flow_along * plane))
                + along_head * (along_slope * along[i] * across[j] + speed_along * flow_along * plane);
        }
    }
    let speed = u[0].hypot(u[1]);
    if segment.spread_kg_m2 > 0.0 && speed > 0.0 {
        for i in 0..2 {
            out.force_n_m[i] += segment.spread_kg_m2 * speed * u[i];
            out.by_flow[i][i] += segment.spread_kg_m2 * speed;
            for j in 0..2 {
                out.by_flow[i][j] += segment.spread_kg_m2 * u[i] * u[j] / speed;
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;

    use super::*;

    #[test]
    fn verif_derivatives_of_line_drag_are_those_of_central_differences() {
        let segment = Segment {
            unstretched_m: 1.0,
            axial_stiffness_n: 1.0,
            weight_n_m: 0.0,
            normal_kg_m2: 2.2,
            tangential_kg_m2: 1.7,
            spread_kg_m2: 0.6,
        };
        let unit = |v: Vector| plus([0.0; 3], 1.0 / norm(v), v);
        let along = unit([0.3, -0.5, 0.8]);
        let u = [0.4, 0.1, -0.05];
        for smooth in [0.0, 0.1] {
            let drag = |u, along| line_drag(&segment, u, along, smooth);
            let (here, small) = (drag(u, along), 1e-6);
            // Any vector across `along` will do for a turn.
            let turn = [0.5, 0.3, 0.0];
            let (ahead, behind) = (drag(u, unit(plus(along, small, turn))), drag(u, unit(plus(along, -small, turn))));
            for i in 0..3 {
                let by_turn = (ahead.force_n_m[i] - behind.force_n_m[i]) / (2.0 * small);
                let ours = dot(here.by_direction[i], turn);
                assert_within("by direction", ours, by_turn, 1e-8);
                for j in 0..3 {
                    let mut more = [0.0; 3];
                    more[j] = small;
                    let (up, down) = (drag(plus(u, 1.0, more), along), drag(plus(u, -1.0, more), along));
                    let by_flow = (up.force_n_m[i] - down.force_n_m[i]) / (2.0 * small);
                    assert_within("by flow", here.by_flow[i][j], by_flow, 1e-8);
                }
            }
        }
    }
}
