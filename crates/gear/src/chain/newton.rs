//! Newton's method on the chain: residuals, their derivatives, and steps that are halved until the residual falls.

use super::band::Band;
use super::load::line_drag;
use super::{Chain, DragOn, Motion, direction};
use crate::current::Profile;
use crate::error::GearError;
use crate::march::pressure;
use crate::vector::{Matrix, Vector, plus};

/// Below this the drag of moving nodes goes with the speed instead of its square, m/s; without it nodes that rest have no
/// drag to steady them.
const SMOOTH_M_S: f64 = 0.005;
/// Corner of the smoothed law of a line that may be slack (Fischer 1992 with Kanzow's smoothing 1996; SOURCE NOT CHECKED).
const CORNER: f64 = 1e-8;
const MOST_ITERATIONS: u32 = 60;
const MOST_HALVINGS: u32 = 14;
/// When a solution is one: forces N per N of load or pull, lengths m. On the way less is enough, and rounding over a short
/// step leaves more.
const AT_REST: (f64, f64) = (1e-12, 1e-10);
const ON_THE_WAY: (f64, f64) = (1e-7, 1e-8);

/// What is solved.
pub(super) struct Problem<'a> {
    pub(super) chain: &'a Chain,
    pub(super) profile: &'a Profile,
    /// Share of the nodes' own velocities that counts, 0 to 1 (the profile comes already scaled).
    pub(super) share: f64,
    /// None: rest.
    pub(super) motion: Option<Motion<'a>>,
}

/// The unknowns, and the ends with them.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) nodes_m: Vec<Vector>,
    pub(super) tension_n: Vec<f64>,
}

/// A segment's forces, and how they change with its two nodes and its tension.
struct Piece {
    along: Vector,
    length_m: f64,
    load_n: Vector,
    load_by_first: Matrix,
    load_by_second: Matrix,
}

/// What it took, and how far off the last try that failed was left.
#[derive(Debug, Default)]
pub(super) struct Effort {
    pub(super) iterations: u32,
    gap_m: f64,
}

impl Effort {
    pub(super) fn given_up(&self) -> GearError {
        GearError::NotConverged { iterations: self.iterations, gap_m: self.gap_m }
    }
}

/// Solves from the state given and leaves the answer there. None when it does not come home.
pub(super) fn solve(problem: &Problem<'_>, state: &mut State, effort: &mut Effort) -> Option<()> {
    let mut residual = vec![0.0; 4 * problem.chain.segments.len() - 3];
    let solved = home(problem, state, &mut residual, effort);
    if solved.is_none() {
        effort.gap_m = residual.iter().step_by(4).fold(0.0, |most, gap| f64::max(most, gap.abs()));
    }
    solved
}

fn home(problem: &Problem<'_>, state: &mut State, residual: &mut [f64], effort: &mut Effort) -> Option<()> {
    let size = 4 * problem.chain.segments.len() - 3;
    let scale = Scale::of(problem.chain);
    let mut matrix = Band::new(size);
    let mut trial = state.clone();
    assemble(problem, &scale, state, residual, Some(&mut matrix));
    let mut merit = scale.merit(residual);
    for _ in 0..MOST_ITERATIONS {
        if !merit.is_finite() {
            return None;
        }
        let done = scale.solved(residual, state, if problem.motion.is_some() { ON_THE_WAY } else { AT_REST });
        effort.iterations += 1;
        let mut change = residual.to_vec();
        matrix.solve(&mut change)?;
        if done {
            // One step more costs little and takes what rounding leaves.
            shift(state, &change, 1.0, &mut trial);
            assemble(problem, &scale, &trial, residual, None);
            if scale.merit(residual) <= merit {
                std::mem::swap(state, &mut trial);
            }
            return Some(());
        }
        let mut share = 1.0;
        let mut halvings = 0;
        loop {
            shift(state, &change, share, &mut trial);
            assemble(problem, &scale, &trial, residual, None);
            let next = scale.merit(residual);
            if next < merit * (1.0 - 1e-4 * share) {
                break;
            }
            halvings += 1;
            if halvings > MOST_HALVINGS {
                return None;
            }
            share *= 0.5;
        }
        std::mem::swap(state, &mut trial);
        matrix.clear();
        assemble(problem, &scale, state, residual, Some(&mut matrix));
        merit = scale.merit(residual);
    }
    None
}

/// The force of the chain on its two ends, N.
pub(super) fn end_pull(problem: &Problem<'_>, state: &State) -> [Vector; 2] {
    let last = problem.chain.segments.len();
    let pull = |node: usize, segment: usize, sign: f64| {
        let piece = piece(problem, state, segment);
        let half = plus([0.0; 3], 0.5, piece.load_n);
        let load = node_load(problem, state, node).0;
        plus(plus(half, 1.0, load), sign * state.tension_n[segment], piece.along)
    };
    [pull(0, 0, 1.0), pull(last, last - 1, -1.0)]
}

/// What residuals are measured against.
struct Scale {
    force_n: f64,
    length_m: f64,
}

impl Scale {
    fn of(chain: &Chain) -> Self {
        let segments = chain.segments.len() as f64;
        let weight_n: f64 = chain.segments.iter().map(|s| (s.weight_n_m * s.unstretched_m).abs()).sum::<f64>()
            + chain.loads.iter().map(|load| load.weight_n.abs()).sum::<f64>();
        Self { force_n: (weight_n / segments).max(1e-3), length_m: chain.unstretched_m() / segments }
    }

    fn merit(&self, residual: &[f64]) -> f64 {
        let (force, length) = (1.0 / self.force_n, 1.0 / self.length_m);
        residual
            .iter()
            .enumerate()
            .map(|(at, value)| {
                let part = value * if at % 4 == 0 { length } else { force };
                part * part
            })
            .sum()
    }

    fn solved(&self, residual: &[f64], state: &State, (force, length_m): (f64, f64)) -> bool {
        let pull_n = state.tension_n.iter().fold(self.force_n, |most, pull| f64::max(most, pull.abs()));
        residual
            .iter()
            .enumerate()
            .all(|(at, value)| value.abs() <= if at % 4 == 0 { length_m } else { force * pull_n })
    }
}

/// The state less a share of a change.
fn shift(state: &State, change: &[f64], share: f64, out: &mut State) {
    for (segment, pull) in state.tension_n.iter().enumerate() {
        out.tension_n[segment] = pull - share * change[4 * segment];
    }
    out.nodes_m.copy_from_slice(&state.nodes_m);
    for node in 1..state.tension_n.len() {
        for axis in 0..3 {
            out.nodes_m[node][axis] -= share * change[4 * node - 3 + axis];
        }
    }
}

/// Residuals (row 4i: length of segment i; rows 4j−3 to 4j−1: forces on node j) and, when asked, their derivatives.
fn assemble(problem: &Problem<'_>, scale: &Scale, state: &State, residual: &mut [f64], mut matrix: Option<&mut Band>) {
    let segments = problem.chain.segments.len();
    residual.fill(0.0);
    for segment in 0..segments {
        let piece = piece(problem, state, segment);
        let pull_n = state.tension_n[segment];
        let (fault_m, by_length, by_pull) = length_law(problem, scale, state, segment, &piece);
        residual[4 * segment] = fault_m;
        for (node, sign) in [(segment, 1.0), (segment + 1, -1.0)] {
            if node > 0 && node < segments {
                for axis in 0..3 {
                    residual[4 * node - 3 + axis] += sign * pull_n * piece.along[axis] + 0.5 * piece.load_n[axis];
                }
            }
        }
        let Some(matrix) = matrix.as_deref_mut() else { continue };
        matrix.add(4 * segment, 4 * segment, by_pull);
        // A pushing segment would make the matrix turn the wrong way: it counts as slack there.
        let stiff = if piece.length_m > 0.0 { pull_n.max(0.0) / piece.length_m } else { 0.0 };
        for (node, sign) in [(segment, 1.0), (segment + 1, -1.0)] {
            if node == 0 || node == segments {
                continue;
            }
            let place = 4 * node - 3;
            for axis in 0..3 {
                matrix.add(4 * segment, place + axis, -sign * by_length * piece.along[axis]);
                matrix.add(place + axis, 4 * segment, sign * piece.along[axis]);
            }
            for (other, load_by, turn) in
                [(segment, &piece.load_by_first, -sign), (segment + 1, &piece.load_by_second, sign)]
            {
                if other == 0 || other == segments {
                    continue;
                }
                matrix.add_block(place, 4 * other - 3, |i, j| {
                    let plane = (if i == j { 1.0 } else { 0.0 }) - piece.along[i] * piece.along[j];
                    turn * stiff * plane + 0.5 * load_by[i][j]
                });
            }
        }
    }
    for node in 1..segments {
        let (load_n, by_place) = node_load(problem, state, node);
        let place = 4 * node - 3;
        for axis in 0..3 {
            residual[place + axis] += load_n[axis];
        }
        if let Some(matrix) = matrix.as_deref_mut() {
            matrix.add_block(place, place, |i, j| by_place[i][j]);
        }
    }
}

/// How far a segment's length is from what its pull makes it, m, and the change of that with its length and its pull.
/// At rest `|Δr| = ℓ(1 + T/EA)`; on the way the line may be slack: of pull and slack one is zero.
fn length_law(problem: &Problem<'_>, scale: &Scale, state: &State, segment: usize, piece: &Piece) -> (f64, f64, f64) {
    let part = &problem.chain.segments[segment];
    let pull_n = state.tension_n[segment];
    let strain = pull_n / part.axial_stiffness_n;
    if problem.motion.is_none() {
        let fault_m = piece.length_m - part.unstretched_m * (1.0 + strain);
        return (fault_m, 1.0, -part.unstretched_m / part.axial_stiffness_n);
    }
    let slack = 1.0 + strain - piece.length_m / part.unstretched_m;
    let pull = pull_n / scale.force_n;
    let root = (pull * pull + slack * slack + 2.0 * CORNER).sqrt();
    let (by_pull, by_slack) = (1.0 - pull / root, 1.0 - slack / root);
    // The sign follows the law at rest: too long is positive.
    let length_m = part.unstretched_m;
    (
        -length_m * (pull + slack - root),
        by_slack,
        -length_m * (by_pull / scale.force_n + by_slack / part.axial_stiffness_n),
    )
}

/// The forces on a segment and their derivatives.
fn piece(problem: &Problem<'_>, state: &State, segment: usize) -> Piece {
    let chain = problem.chain;
    let part = &chain.segments[segment];
    let (first, second) = (state.nodes_m[segment], state.nodes_m[segment + 1]);
    let (along, length_m) = direction(first, second);
    let mut out =
        Piece { along, length_m, load_n: [0.0; 3], load_by_first: [[0.0; 3]; 3], load_by_second: [[0.0; 3]; 3] };
    let mut near = 0;
    if let Some(motion) = problem.motion {
        if motion.drag == DragOn::Segments {
            segment_drag_on_the_way(problem, state, segment, motion, &mut out);
        }
    } else {
        let (flow, slope) = problem.profile.at(0.5 * (first[2] + second[2]), &mut near);
        let mean = material(problem, segment);
        let u = [flow[0] - mean[0], flow[1] - mean[1], 0.0];
        let drag = line_drag(part, u, along, 0.0);
        for i in 0..3 {
            out.load_n[i] = length_m * drag.force_n_m[i];
            let shear = (drag.by_flow[i][0] * slope[0] + drag.by_flow[i][1] * slope[1]) * length_m;
            let turned = &drag.by_direction[i];
            let turned_along = turned[0] * along[0] + turned[1] * along[1] + turned[2] * along[2];
            for j in 0..3 {
                let by_span = drag.force_n_m[i] * along[j] + turned[j] - turned_along * along[j];
                let by_depth = if j == 2 { 0.5 * shear } else { 0.0 };
                out.load_by_first[i][j] = by_depth - by_span;
                out.load_by_second[i][j] = by_depth + by_span;
            }
        }
    }
    out.load_n[2] += part.weight_n_m * part.unstretched_m;
    out
}

/// Drag of a segment whose nodes are on their way, with direction, wet length and flow where they were.
fn segment_drag_on_the_way(problem: &Problem<'_>, state: &State, segment: usize, motion: Motion<'_>, out: &mut Piece) {
    let part = &problem.chain.segments[segment];
    let (first, second) = (state.nodes_m[segment], state.nodes_m[segment + 1]);
    let (old_first, old_second) = (motion.from_m[segment], motion.from_m[segment + 1]);
    let (old_along, old_length_m) = direction(old_first, old_second);
    let wet_m = old_length_m.max(part.unstretched_m);
    let (flow, _) = problem.profile.at(0.5 * (old_first[2] + old_second[2]), &mut 0);
    let mean = material(problem, segment);
    let half_rate = 0.5 / motion.step_s;
    let mut u = [0.0; 3];
    for axis in 0..3 {
        let moved = first[axis] - old_first[axis] + second[axis] - old_second[axis];
        let through = if axis < 2 { flow[axis] - mean[axis] } else { 0.0 };
        u[axis] = through - half_rate * moved;
    }
    let drag = line_drag(part, u, old_along, SMOOTH_M_S);
    for i in 0..3 {
        out.load_n[i] = wet_m * drag.force_n_m[i];
        for j in 0..3 {
            let by_place = -wet_m * half_rate * drag.by_flow[i][j];
            out.load_by_first[i][j] = by_place;
            out.load_by_second[i][j] = by_place;
        }
    }
}

/// What hangs on a node, N, and its change with the node's place: with [`DragOn::Nodes`] half of the line on either side too.
fn node_load(problem: &Problem<'_>, state: &State, node: usize) -> (Vector, Matrix) {
    let chain = problem.chain;
    let load = &chain.loads[node];
    let own = chain.velocity_m_s.get(node).copied().unwrap_or_default();
    let mut velocity = [problem.share * own[0], problem.share * own[1], 0.0];
    let place = state.nodes_m[node];
    let mut depth_m = place[2];
    if let Some(motion) = problem.motion {
        let old = motion.from_m[node];
        depth_m = old[2];
        velocity = plus(velocity, 1.0 / motion.step_s, plus(place, -1.0, old));
    }
    let mut force_n = [0.0, 0.0, load.weight_n];
    let mut by_place = [[0.0; 3]; 3];
    let mut near = 0;
    if load.drag_kg_m > 0.0 {
        let flat = [velocity[0], velocity[1]];
        let (drag_n, by_depth, by_water) =
            pressure(problem.profile, load.drag_kg_m, (depth_m, load.drag_down_m), flat, 0.0, &mut near);
        for i in 0..2 {
            force_n[i] += drag_n[i];
            match problem.motion {
                Some(motion) => (0..2).for_each(|j| by_place[i][j] = -by_water[i][j] / motion.step_s),
                None => by_place[i][2] = by_depth[i],
            }
        }
    }
    let Some(motion) = problem.motion.filter(|motion| motion.drag == DragOn::Nodes) else { return (force_n, by_place) };
    let (flow, _) = problem.profile.at(depth_m, &mut near);
    let u = [flow[0] - velocity[0], flow[1] - velocity[1], -velocity[2]];
    let last = chain.segments.len();
    let smooth = direction(motion.from_m[node.saturating_sub(1)], motion.from_m[(node + 1).min(last)]).0;
    for segment in [node.checked_sub(1), (node < last).then_some(node)].into_iter().flatten() {
        let part = &chain.segments[segment];
        let (own_along, apart_m) = direction(motion.from_m[segment], motion.from_m[segment + 1]);
        let along = if load.weight_n > 0.0 { own_along } else { smooth };
        let wet_m = 0.5 * apart_m.max(part.unstretched_m);
        let drag = line_drag(part, u, along, SMOOTH_M_S);
        force_n = plus(force_n, wet_m, drag.force_n_m);
        for (row, by_flow) in by_place.iter_mut().zip(drag.by_flow) {
            *row = plus(*row, -wet_m / motion.step_s, by_flow);
        }
    }
    (force_n, by_place)
}

/// Mean of the material velocity of a segment's two nodes, m/s.
fn material(problem: &Problem<'_>, segment: usize) -> [f64; 2] {
    match (problem.chain.velocity_m_s.get(segment), problem.chain.velocity_m_s.get(segment + 1)) {
        (Some(a), Some(b)) => [0.5 * problem.share * (a[0] + b[0]), 0.5 * problem.share * (a[1] + b[1])],
        _ => [0.0; 2],
    }
}
