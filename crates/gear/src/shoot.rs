//! One basket between two given ends: shooting on the pull at its first end.
//!
//! Newton on the three components of that pull with the exact derivatives of [`crate::march`]; a step is at most half
//! the pull. When it does not settle, the current is raised in steps; when that does not either, the slower solver of
//! [`crate::chain`] is asked, and its answer is brought to the same tolerance here.

use crate::catenary::tangent_of_sag_angle;
use crate::chain::pull_by_relaxing;
use crate::current::Profile;
use crate::error::GearError;
use crate::march::{Care, Landing, Launch, Strand, march};
use crate::vector::{Vector, inverse, norm, plus, times};

/// Largest gap at the far end that counts as closed, metres.
pub const CLOSED_M: f64 = 1e-7;
/// Largest imbalance of an element before its last correction that counts as balanced, N: the correction is of second
/// order, so what is left after it is far below a nano-newton.
pub(crate) const BALANCED_N: f64 = 1e-6;
const MOST_ROUNDS: u32 = 14;
const MOST_CAREFUL_ROUNDS: u32 = 60;
/// Times the pull of a catenary under the same load from which on a pull is odd.
const ODD_PULL: f64 = 2.5;
/// A step shorter than this share of Newton's leads nowhere.
pub(crate) const SMALLEST_SHARE: f64 = 1.0 / 4096.0;

/// Where a basket's ends are held, and how they move.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ends {
    /// Far end from near end, metres.
    pub apart_m: Vector,
    /// Depth of the near end, metres.
    pub depth_m: f64,
    /// Horizontal velocity of the near end, m/s.
    pub first_m_s: [f64; 2],
    /// Of the far end, m/s.
    pub last_m_s: [f64; 2],
}

impl Ends {
    /// Ends held still, level with each other.
    pub(crate) fn still(span_m: f64, depth_m: f64) -> Self {
        Self { apart_m: [span_m, 0.0, 0.0], depth_m, first_m_s: [0.0; 2], last_m_s: [0.0; 2] }
    }

    /// The line's own velocity at a share of its length.
    pub(crate) fn velocity_at(&self, along: f64) -> [f64; 2] {
        let (first, last) = (self.first_m_s, self.last_m_s);
        [first[0] + along * (last[0] - first[0]), first[1] + along * (last[1] - first[1])]
    }
}

/// A state to start from and to end with: what the next solution nearby starts from.
#[derive(Debug, Clone)]
pub(crate) struct Pull {
    /// The line's pull on its first end, N.
    pub first_n: Vector,
    /// See [`march`].
    pub lag_n: Vec<Vector>,
}

/// A basket that was solved.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shot {
    /// The line's pull at the far end, N.
    pub last_n: Vector,
    /// Marches spent.
    pub rounds: u32,
}

/// A start in still water: the catenary with branch lines spread along it.
pub(crate) fn still_start(strand: &Strand, apart_m: Vector) -> Pull {
    let weight_n = strand.weight_n();
    let flat_m = apart_m[0].hypot(apart_m[1]);
    // The chord's share of the line decides the shape; a line with ends at unlike depths starts from the level one.
    let sag_ratio = (norm(apart_m) / strand.line_m).clamp(0.01, 0.999_999);
    let down_n = 0.5 * weight_n.abs().max(1e-3);
    let flat_n = down_n / tangent_of_sag_angle(sag_ratio);
    let (x, y) = if flat_m > 1e-9 { (apart_m[0] / flat_m, apart_m[1] / flat_m) } else { (1.0, 0.0) };
    let lag_n = strand.length_m.iter().map(|length_m| [0.0, 0.0, -0.5 * strand.weight_n_m * length_m]).collect();
    Pull { first_n: [flat_n * x, flat_n * y, down_n * weight_n.signum()], lag_n }
}

/// Finds the pull with which the far end meets its place, starting from `pull` and leaving the answer in it.
///
/// # Errors
/// [`GearError::NotConverged`]; `pull` is then of no use.
pub(crate) fn close(strand: &Strand, profile: &Profile, ends: &Ends, pull: &mut Pull) -> Result<Shot, GearError> {
    let mut spent = 0;
    let begun = pull.clone();
    if let Some(shot) = fast(strand, profile, ends, pull, &mut spent) {
        if !pulls_oddly(strand, ends, pull.first_n, shot.last_n) {
            return Ok(shot);
        }
        // Another shape in balance, not the one that a line let go would come to: the slower solver finds that.
        let mut other = pull.clone();
        if let Ok(rested) = by_relaxing(strand, profile, ends, &mut other, spent) {
            *pull = other;
            return Ok(rested);
        }
        return Ok(shot);
    }
    *pull = begun;
    if let Some(shot) = careful(strand, profile, ends, pull, &mut spent) {
        return Ok(shot);
    }
    if let Some(shot) = by_raising_the_current(strand, profile, ends, pull, &mut spent) {
        return Ok(shot);
    }
    by_relaxing(strand, profile, ends, pull, spent)
}

impl Ends {
    /// The same ends moving at a share of their velocity.
    fn moving(&self, share: f64) -> Self {
        Self { first_m_s: self.first_m_s.map(|v| v * share), last_m_s: self.last_m_s.map(|v| v * share), ..*self }
    }

    fn launch(&self, pull_n: Vector) -> Launch {
        Launch { pull_n, depth_m: self.depth_m, first_m_s: self.first_m_s, last_m_s: self.last_m_s }
    }
}

/// Whether a pull is many times what the load on the line calls for at this span: in a strong current the equations of a
/// few straight elements have more than one solution, and those that a line would not come to pull far too hard.
pub(crate) fn pulls_oddly(strand: &Strand, ends: &Ends, first_n: Vector, last_n: Vector) -> bool {
    let load_n = norm(plus(first_n, -1.0, last_n));
    let most_n = norm(first_n).max(norm(last_n));
    if most_n <= ODD_PULL * load_n {
        return false;
    }
    let sag_ratio = (norm(ends.apart_m) / strand.line_m).clamp(0.01, 0.999_999);
    let tangent = tangent_of_sag_angle(sag_ratio);
    most_n > ODD_PULL * load_n * 0.5 * (1.0 + 1.0 / (tangent * tangent)).sqrt()
}

/// Newton that corrects elements and ends together: two or three marches where the start is near.
fn fast(strand: &Strand, profile: &Profile, ends: &Ends, pull: &mut Pull, spent: &mut u32) -> Option<Shot> {
    let mut best_m = f64::INFINITY;
    let mut since_best = 0;
    for _ in 0..MOST_ROUNDS {
        *spent += 1;
        let landing = march::<3>(strand, profile, &ends.launch(pull.first_n), &mut pull.lag_n, Care::Once)?;
        let gap = plus(landing.reach_m, -1.0, ends.apart_m);
        let gap_m = norm(gap);
        if gap_m <= CLOSED_M && landing.imbalance_n <= BALANCED_N {
            return Some(Shot { last_n: landing.pull_n, rounds: *spent });
        }
        if gap_m < 0.7 * best_m {
            (best_m, since_best) = (gap_m, 0);
        } else {
            since_best += 1;
        }
        if since_best > 4 || !gap_m.is_finite() {
            return None;
        }
        let step = pull_step(&landing, gap)?;
        let most = 0.5 * norm(pull.first_n);
        pull.first_n = plus(pull.first_n, -(most / norm(step).max(1e-300)).min(1.0), step);
    }
    None
}

/// Newton with elements fully corrected in every march and a step that is halved until the gap shrinks.
fn careful(strand: &Strand, profile: &Profile, ends: &Ends, pull: &mut Pull, spent: &mut u32) -> Option<Shot> {
    let look = |pull: &mut Pull, spent: &mut u32| {
        *spent += 1;
        let landing = march::<3>(strand, profile, &ends.launch(pull.first_n), &mut pull.lag_n, Care::Fully)?;
        let gap = plus(landing.reach_m, -1.0, ends.apart_m);
        Some((landing, gap, norm(gap)))
    };
    let (mut landing, mut gap, mut gap_m) = look(pull, spent)?;
    for _ in 0..MOST_CAREFUL_ROUNDS {
        if gap_m <= CLOSED_M && landing.imbalance_n <= BALANCED_N {
            return Some(Shot { last_n: landing.pull_n, rounds: *spent });
        }
        let step = pull_step(&landing, gap)?;
        let mut share = (0.5 * norm(pull.first_n) / norm(step).max(1e-300)).min(1.0);
        loop {
            let mut trial = pull.clone();
            trial.first_n = plus(pull.first_n, -share, step);
            match look(&mut trial, spent) {
                Some((found, left, left_m)) if left_m < (1.0 - 0.1 * share) * gap_m || left_m <= CLOSED_M => {
                    (*pull, landing, gap, gap_m) = (trial, found, left, left_m);
                    break;
                }
                _ => share *= 0.5,
            }
            if share < SMALLEST_SHARE {
                return None;
            }
        }
    }
    None
}

/// The change of pull that makes up for a gap.
pub(crate) fn pull_step<const COLUMNS: usize>(landing: &Landing<COLUMNS>, gap: Vector) -> Option<Vector> {
    let by = &landing.reach_by;
    let matrix = [[by[0][0], by[1][0], by[2][0]], [by[0][1], by[1][1], by[2][1]], [by[0][2], by[1][2], by[2][2]]];
    Some(times(&inverse(&matrix)?, gap))
}

/// From still water to the whole current, in steps that are halved where Newton fails.
fn by_raising_the_current(
    strand: &Strand,
    profile: &Profile,
    ends: &Ends,
    pull: &mut Pull,
    spent: &mut u32,
) -> Option<Shot> {
    *pull = still_start(strand, ends.apart_m);
    careful(strand, &profile.changed(0.0, 0.0, [0.0; 2]), &ends.moving(0.0), pull, spent)?;
    let (mut reached, mut step) = (0.0_f64, 0.25_f64);
    loop {
        let share = (reached + step).min(1.0);
        let mut trial = pull.clone();
        match careful(strand, &profile.changed(share, 0.0, [0.0; 2]), &ends.moving(share), &mut trial, spent) {
            Some(shot) => {
                *pull = trial;
                reached = share;
                if reached >= 1.0 {
                    return Some(shot);
                }
                step *= 1.5;
            }
            None => step *= 0.5,
        }
        if step < 1.0 / 128.0 {
            return None;
        }
    }
}

/// By the slower solver, which does not march and so passes where an element's own equation turns back.
fn by_relaxing(
    strand: &Strand,
    profile: &Profile,
    ends: &Ends,
    pull: &mut Pull,
    mut spent: u32,
) -> Result<Shot, GearError> {
    *pull = pull_by_relaxing(strand, profile, ends)?;
    let begun = pull.clone();
    if let Some(shot) = fast(strand, profile, ends, pull, &mut spent) {
        return Ok(shot);
    }
    *pull = begun;
    careful(strand, profile, ends, pull, &mut spent)
        .ok_or(GearError::NotConverged { iterations: spent, gap_m: f64::NAN })
}
