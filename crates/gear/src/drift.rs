//! Free drift of an endless row of alike baskets: the velocity at which all horizontal forces on a basket with its
//! float vanish.
//!
//! Unknowns are the pull at the first end and the velocity of the whole row; both are found together by Newton with the
//! exact derivatives of the march. Nothing holds the gear but the sea, so the answer lies between the currents that the
//! gear hangs through.

use crate::current::Profile;
use crate::error::GearError;
use crate::float_line::Tether;
use crate::march::{Launch, Strand, march};
use crate::shoot::{BALANCED_N, CLOSED_M, Ends, Pull, Shot, close};
use crate::vector::{Vector, inverse, norm, plus, times};

/// Largest horizontal force left on a basket with its float, N.
pub(crate) const FREE_N: f64 = 1e-9;
const MOST_ROUNDS: u32 = 40;
/// Largest change of the drift in one round, m/s.
const MOST_CHANGE_M_S: f64 = 0.3;

/// A row that drifts freely.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drifting {
    pub shot: Shot,
    /// Ends of the basket: their depth and the velocity of both.
    pub ends: Ends,
    /// Horizontal force left, N.
    pub net_n: f64,
}

/// Finds shape and drift together. `pull` and `velocity_m_s` are where to start.
///
/// # Errors
/// [`GearError::NotConverged`].
pub(crate) fn free_row(
    strand: &Strand,
    profile: &Profile,
    tether: &Tether,
    span_m: f64,
    pull: &mut Pull,
    velocity_m_s: [f64; 2],
) -> Result<Drifting, GearError> {
    let start = pull.clone();
    let mut spent = 0;
    if let Ok(found) = together(strand, profile, tether, span_m, pull, velocity_m_s, &mut spent) {
        return Ok(found);
    }
    // One after the other: the shape at a given velocity is closed with every means there is, then the velocity moves.
    *pull = start;
    let mut velocity = velocity_m_s;
    let mut depth_m = tether.length_m;
    for _ in 0..MOST_ROUNDS {
        let ends = ends_at(span_m, depth_m, velocity);
        let shot = close(strand, profile, &ends, pull)?;
        spent += shot.rounds;
        if let Ok(found) = together(strand, profile, tether, span_m, &mut pull.clone(), velocity, &mut spent) {
            let mut again = pull.clone();
            together(strand, profile, tether, span_m, &mut again, velocity, &mut spent)?;
            *pull = again;
            return Ok(found);
        }
        let step = step_of(strand, profile, tether, &ends, pull)?;
        depth_m = step.depth_m;
        let most = (0.25 * MOST_CHANGE_M_S).min(1.0);
        let size = step.change[0].hypot(step.change[1]);
        let share = if size > most { most / size } else { 1.0 };
        velocity = [velocity[0] + share * step.change[0], velocity[1] + share * step.change[1]];
    }
    Err(GearError::NotConverged { iterations: spent, gap_m: f64::INFINITY })
}

fn ends_at(span_m: f64, depth_m: f64, velocity_m_s: [f64; 2]) -> Ends {
    Ends { apart_m: [span_m, 0.0, 0.0], depth_m, first_m_s: velocity_m_s, last_m_s: velocity_m_s }
}

/// Newton on pull and velocity together.
fn together(
    strand: &Strand,
    profile: &Profile,
    tether: &Tether,
    span_m: f64,
    pull: &mut Pull,
    mut velocity: [f64; 2],
    spent: &mut u32,
) -> Result<Drifting, GearError> {
    let mut depth_m = tether.length_m;
    let mut gap_m = f64::INFINITY;
    for _ in 0..MOST_ROUNDS {
        *spent += 1;
        let ends = ends_at(span_m, depth_m, velocity);
        let Some(step) = march_step(strand, profile, tether, &ends, pull) else { break };
        gap_m = norm(step.gap);
        let net_n = step.net_n[0].hypot(step.net_n[1]);
        let moved_m = (step.depth_m - depth_m).abs();
        // The pull's own accuracy sets how far below a nano-newton the sum of some hundred forces can go.
        let free_n = FREE_N.max(1e-13 * norm(pull.first_n));
        if gap_m <= CLOSED_M && step.imbalance_n <= BALANCED_N && net_n <= free_n && moved_m <= 1e-9 {
            let shot = Shot { gap_m, last_n: step.last_n, rounds: *spent };
            return Ok(Drifting { shot, ends, net_n });
        }
        if !(gap_m.is_finite() && net_n.is_finite()) {
            break;
        }
        let (size, most) = (norm(step.pull), 0.5 * norm(pull.first_n));
        let change = step.change[0].hypot(step.change[1]);
        let share = 1.0_f64.min(most / size.max(1e-300)).min(MOST_CHANGE_M_S / change.max(1e-300));
        pull.first_n = plus(pull.first_n, share, step.pull);
        velocity = [velocity[0] + share * step.change[0], velocity[1] + share * step.change[1]];
        depth_m = step.depth_m;
    }
    Err(GearError::NotConverged { iterations: *spent, gap_m })
}

/// One linearised round.
struct Step {
    gap: Vector,
    net_n: [f64; 2],
    imbalance_n: f64,
    last_n: Vector,
    /// Change of the first pull, N, and of the velocity, m/s.
    pull: Vector,
    change: [f64; 2],
    /// Where the lower ends of the leaning float lines hang, metres.
    depth_m: f64,
}

fn step_of(
    strand: &Strand,
    profile: &Profile,
    tether: &Tether,
    ends: &Ends,
    pull: &mut Pull,
) -> Result<Step, GearError> {
    march_step(strand, profile, tether, ends, pull).ok_or(GearError::NotConverged { iterations: 0, gap_m: f64::NAN })
}

fn march_step(strand: &Strand, profile: &Profile, tether: &Tether, ends: &Ends, pull: &mut Pull) -> Option<Step> {
    let launch =
        Launch { pull_n: pull.first_n, depth_m: ends.depth_m, first_m_s: ends.first_m_s, last_m_s: ends.last_m_s };
    let landing = march::<5>(strand, profile, &launch, &mut pull.lag_n)?;
    let gap = plus(landing.reach_m, -1.0, ends.apart_m);
    let hung = plus(pull.first_n, -1.0, landing.pull_n);
    let drag = tether.drag(profile, 0.0, ends.first_m_s);
    let net_n = [hung[0] + drag.force_n[0], hung[1] + drag.force_n[1]];
    let by = &landing.reach_by;
    let reach = [[by[0][0], by[1][0], by[2][0]], [by[0][1], by[1][1], by[2][1]], [by[0][2], by[1][2], by[2][2]]];
    let back = inverse(&reach)?;
    // The pull follows from the velocity's change c: δT = −R⁻¹ (gap + R_c c).
    let for_gap = times(&back, gap);
    let for_x = times(&back, by[3]);
    let for_y = times(&back, by[4]);
    // Net force by a change of pull: (1 − ∂N_end/∂T) on the two horizontal axes.
    let by_pull = |change: Vector, axis: usize| {
        change[axis] - (0..3).map(|column| landing.pull_by[column][axis] * change[column]).sum::<f64>()
    };
    let mut left = [[0.0; 2]; 2];
    let mut right = [0.0; 2];
    for axis in 0..2 {
        right[axis] = -(net_n[axis] - by_pull(for_gap, axis));
        left[axis][0] = -by_pull(for_x, axis) - landing.pull_by[3][axis] - drag.by_water[axis][0];
        left[axis][1] = -by_pull(for_y, axis) - landing.pull_by[4][axis] - drag.by_water[axis][1];
    }
    let determinant = left[0][0] * left[1][1] - left[0][1] * left[1][0];
    // Without drag anywhere, or in still water at rest, nothing moves the row.
    let change = if determinant.abs() > 1e-24 {
        [
            (right[0] * left[1][1] - right[1] * left[0][1]) / determinant,
            (left[0][0] * right[1] - left[1][0] * right[0]) / determinant,
        ]
    } else {
        [0.0; 2]
    };
    let pull_change = plus(plus(plus([0.0; 3], -1.0, for_gap), -change[0], for_x), -change[1], for_y);
    let lean = tether.lean(profile, 0.0, ends.first_m_s, [hung[0], hung[1]], hung[2]);
    Some(Step {
        gap,
        net_n,
        imbalance_n: landing.imbalance_n,
        last_n: landing.pull_n,
        pull: pull_change,
        change,
        depth_m: lean.down_m,
    })
}
