//! The shape of a solved basket: its nodes and pulls, and the proof that its forces balance.
//!
//! The proof sums weights, drags and end pulls anew from the positions of the nodes alone: the march closes by
//! construction and so proves nothing.

use crate::current::Profile;
use crate::march::Strand;
use crate::shoot::{Ends, Pull};
use crate::vector::{Vector, dot, norm, plus};

/// Nodes and pulls of a solved basket.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    /// Positions: x and y from the first end, z the depth, metres.
    pub nodes_m: Vec<Vector>,
    /// The line's pull at each node, N: at an inner node the mean of before and after its load.
    pub pull_n: Vec<Vector>,
}

impl Shape {
    /// Walks a solved basket once more and keeps every node.
    pub(crate) fn of(strand: &Strand, profile: &Profile, ends: &Ends, pull: &Pull) -> Self {
        let mut here = [0.0, 0.0, ends.depth_m];
        let mut now = pull.first_n;
        let mut nodes_m = vec![here];
        let mut pull_n = vec![now];
        let (mut near, mut arc_m) = (0, 0.0);
        for ((length_m, clip), lag) in strand.length_m.iter().zip(&strand.clip).zip(&pull.lag_n) {
            let tension = plus(now, 1.0, *lag);
            here = plus(here, length_m * (1.0 / norm(tension) + 1.0 / strand.stiffness_n), tension);
            now = plus([-now[0], -now[1], -now[2]], 2.0, tension);
            arc_m += length_m;
            let mut mean = now;
            if *clip {
                let velocity = ends.velocity_at(arc_m / strand.line_m);
                let (drag, _, _) = strand.branch_drag_at(profile, here[2], velocity, &mut near);
                let load = [drag[0], drag[1], strand.branch_n];
                mean = plus(now, -0.5, load);
                now = plus(now, -1.0, load);
            }
            nodes_m.push(here);
            pull_n.push(mean);
        }
        Self { nodes_m, pull_n }
    }

    /// What all forces leave over when they are summed from the nodes alone, N; 0 where they balance.
    pub(crate) fn unbalanced_n(
        &self,
        strand: &Strand,
        profile: &Profile,
        ends: &Ends,
        pull: &Pull,
        last_n: Vector,
    ) -> Vector {
        let external = self.load_n(strand, profile, ends);
        plus(plus(pull.first_n, -1.0, last_n), -1.0, external)
    }

    /// Weight and drag of everything between the ends, summed from the nodes alone, N.
    pub(crate) fn load_n(&self, strand: &Strand, profile: &Profile, ends: &Ends) -> Vector {
        let mut sum = [0.0; 3];
        let (mut near, mut arc_m) = (0, 0.0);
        for (index, (length_m, clip)) in strand.length_m.iter().zip(&strand.clip).enumerate() {
            let (from, to) = (self.nodes_m[index], self.nodes_m[index + 1]);
            let chord = plus(to, -1.0, from);
            let stretched_m = norm(chord);
            let unit = [chord[0] / stretched_m, chord[1] / stretched_m, chord[2] / stretched_m];
            let (water, _) = profile.at(0.5 * (from[2] + to[2]), &mut near);
            let own = ends.velocity_at((arc_m + 0.5 * length_m) / strand.line_m);
            let u = [water[0] - own[0], water[1] - own[1], 0.0];
            let along = dot(u, unit);
            let across = plus(u, -along, unit);
            sum = plus(sum, strand.normal * norm(across) * stretched_m, across);
            sum = plus(sum, strand.tangential * along.abs() * along * stretched_m, unit);
            sum = plus(sum, strand.spread * norm(u) * stretched_m, u);
            sum[2] += strand.weight_n_m * length_m;
            arc_m += length_m;
            if *clip {
                let own = ends.velocity_at(arc_m / strand.line_m);
                let (drag, _, _) = strand.branch_drag_at(profile, to[2], own, &mut near);
                sum = plus(sum, 1.0, [drag[0], drag[1], strand.branch_n]);
            }
        }
        sum
    }
}
