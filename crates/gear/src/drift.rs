//! Free drift of an endless row of alike baskets: the velocity at which all horizontal forces on a basket with its
//! float vanish.
//!
//! Unknowns are the pull at the first end and the velocity of the whole row; both are found together by Newton with the
//! exact derivatives of the march. Nothing holds the gear but the sea, so the answer lies between the currents that the
//! gear hangs through.

use crate::current::Profile;
use crate::error::GearError;
use crate::float_line::Tether;
use crate::march::{Care, Launch, Strand, march};
use crate::shoot::{BALANCED_N, CLOSED_M, Ends, Pull, SMALLEST_SHARE, Shot, close, pulls_oddly, still_start};
use crate::vector::{Vector, inverse, norm, plus, times};

/// Largest horizontal force left on a basket with its float, N.
pub(crate) const FREE_N: f64 = 1e-9;
const MOST_ROUNDS: u32 = 16;
const MOST_CAREFUL_ROUNDS: u32 = 60;
/// Marches after which moving the velocity alone is given up.
const MOST_MARCHES: u32 = 2000;
/// Largest change of the drift in one round, m/s.
const MOST_CHANGE_M_S: f64 = 0.3;

/// How hard to try before a row is given up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Effort {
    /// With every means there is.
    #[default]
    Whole,
    /// With Newton alone, in halved steps where whole ones lead nowhere.
    Light,
    /// With whole steps of Newton alone, from a start that should be near.
    Quick,
}

/// A row that drifts freely.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drifting {
    pub shot: Shot,
    /// Ends of the basket: their depth and the velocity of both.
    pub ends: Ends,
    /// Horizontal force left, N.
    pub net_n: f64,
}

/// Finds shape and drift together with every means there is. `pull` and `velocity_m_s` are where to start.
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
    free_row_with(Effort::Whole, strand, profile, tether, span_m, pull, velocity_m_s)
}

/// The same with so much effort.
///
/// # Errors
/// [`GearError::NotConverged`].
pub(crate) fn free_row_with(
    effort: Effort,
    strand: &Strand,
    profile: &Profile,
    tether: &Tether,
    span_m: f64,
    pull: &mut Pull,
    velocity_m_s: [f64; 2],
) -> Result<Drifting, GearError> {
    let row = Row { strand, profile, tether, span_m };
    let mut spent = 0;
    // A balanced shape that pulls far too hard is kept only until a better one is found: see `pulls_oddly`.
    let mut odd = None;
    let begun = pull.clone();
    if let Some(found) = row.fast(pull, velocity_m_s, &mut spent) {
        if !pulls_oddly(strand, &found.ends, pull.first_n, found.shot.last_n) {
            return Ok(found);
        }
        odd = Some((found, pull.clone()));
    }
    *pull = begun;
    if effort == Effort::Quick {
        return Err(GearError::NotConverged { iterations: spent, gap_m: f64::INFINITY });
    }
    if odd.is_none()
        && let Some(found) = row.careful(pull, velocity_m_s, &mut spent)
    {
        if !pulls_oddly(strand, &found.ends, pull.first_n, found.shot.last_n) {
            return Ok(found);
        }
        odd = Some((found, pull.clone()));
    }
    if effort == Effort::Light {
        return Err(GearError::NotConverged { iterations: spent, gap_m: f64::INFINITY });
    }
    // From still water to the whole current, in steps that are halved where they fail.
    *pull = still_start(strand, [span_m, 0.0, 0.0]);
    let mut velocity = [0.0; 2];
    let (mut reached, mut step) = (0.0_f64, 0.25_f64);
    while step >= 1.0 / 256.0 {
        let share = (reached + step).min(1.0);
        let weaker = profile.changed(share, 0.0, [0.0; 2]);
        let part = Row { profile: &weaker, ..row };
        let mut trial = pull.clone();
        let guess = if reached > 0.0 {
            [velocity[0] * share / reached, velocity[1] * share / reached]
        } else {
            [velocity_m_s[0] * share, velocity_m_s[1] * share]
        };
        match part.careful(&mut trial, guess, &mut spent) {
            Some(found) => {
                (*pull, velocity, reached) = (trial, found.ends.first_m_s, share);
                if reached >= 1.0 {
                    if !pulls_oddly(strand, &found.ends, pull.first_n, found.shot.last_n) {
                        return Ok(found);
                    }
                    odd = odd.or_else(|| Some((found, pull.clone())));
                    break;
                }
                step *= 1.5;
            }
            None => step *= 0.5,
        }
    }
    *pull = still_start(strand, [span_m, 0.0, 0.0]);
    let apart = row.apart(pull, velocity_m_s, &mut spent);
    let found = apart.or_else(|| {
        let (found, own) = odd?;
        *pull = own;
        Some(found)
    });
    found.ok_or(GearError::NotConverged { iterations: spent, gap_m: f64::INFINITY })
}

/// What does not change while a row is solved.
#[derive(Clone, Copy)]
struct Row<'a> {
    strand: &'a Strand,
    profile: &'a Profile,
    tether: &'a Tether,
    span_m: f64,
}

impl Row<'_> {
    fn ends(&self, depth_m: f64, velocity_m_s: [f64; 2]) -> Ends {
        Ends { apart_m: [self.span_m, 0.0, 0.0], depth_m, first_m_s: velocity_m_s, last_m_s: velocity_m_s }
    }

    /// The answer when a round has come to rest.
    fn at_rest(&self, step: &Step, ends: Ends, pull: &Pull, spent: u32) -> Option<Drifting> {
        let net_n = step.net_n[0].hypot(step.net_n[1]);
        let gap_m = norm(step.gap);
        // The pull's own digits bound how far below a nano-newton the sum of some hundred forces can go.
        let free_n = FREE_N.max(1e-13 * norm(pull.first_n));
        let resting = gap_m <= CLOSED_M
            && step.imbalance_n <= BALANCED_N
            && net_n <= free_n
            && (step.depth_m - ends.depth_m).abs() <= 1e-9;
        let shot = Shot { last_n: step.last_n, rounds: spent };
        resting.then_some(Drifting { shot, ends, net_n })
    }

    /// Newton that corrects elements, ends and velocity together.
    fn fast(&self, pull: &mut Pull, mut velocity: [f64; 2], spent: &mut u32) -> Option<Drifting> {
        let mut depth_m = self.tether.length_m;
        let (mut best, mut since_best) = (f64::INFINITY, 0);
        for _ in 0..MOST_ROUNDS {
            *spent += 1;
            let ends = self.ends(depth_m, velocity);
            let step = self.step(&ends, pull, Care::Once)?;
            if let Some(found) = self.at_rest(&step, ends, pull, *spent) {
                return Some(found);
            }
            let merit = self.merit(&step);
            if merit < 0.7 * best {
                (best, since_best) = (merit, 0);
            } else {
                since_best += 1;
            }
            if since_best > 5 || !merit.is_finite() {
                return None;
            }
            let share = step.most_share(pull);
            pull.first_n = plus(pull.first_n, share, step.pull);
            velocity = [velocity[0] + share * step.change[0], velocity[1] + share * step.change[1]];
            depth_m = step.depth_m;
        }
        None
    }

    /// Newton with elements fully corrected and a step that is halved until gap and net force together shrink.
    fn careful(&self, pull: &mut Pull, mut velocity: [f64; 2], spent: &mut u32) -> Option<Drifting> {
        let mut depth_m = self.tether.length_m;
        for _ in 0..MOST_CAREFUL_ROUNDS {
            *spent += 1;
            let ends = self.ends(depth_m, velocity);
            let step = self.step(&ends, pull, Care::Fully)?;
            if let Some(found) = self.at_rest(&step, ends, pull, *spent) {
                return Some(found);
            }
            let merit = self.merit(&step);
            let mut share = step.most_share(pull);
            loop {
                *spent += 1;
                let mut trial = pull.clone();
                trial.first_n = plus(pull.first_n, share, step.pull);
                let moved = [velocity[0] + share * step.change[0], velocity[1] + share * step.change[1]];
                let found = self.step(&self.ends(depth_m, moved), &mut trial, Care::Fully);
                if let Some(found) = found.filter(|found| self.merit(found) < (1.0 - 0.1 * share) * merit + 1e-11) {
                    (*pull, velocity, depth_m) = (trial, moved, found.depth_m);
                    break;
                }
                share *= 0.5;
                if share < SMALLEST_SHARE {
                    return None;
                }
            }
        }
        None
    }

    /// One after the other: the shape at a given velocity is closed with every means there is, then the velocity moves
    /// by Newton, in steps halved until the net force shrinks.
    fn apart(&self, pull: &mut Pull, mut velocity: [f64; 2], spent: &mut u32) -> Option<Drifting> {
        // The depth of the ends follows from the pull of what hangs there: settled anew for every velocity.
        let look = |pull: &mut Pull, mut depth_m: f64, velocity: [f64; 2], spent: &mut u32| {
            for _ in 0..MOST_CAREFUL_ROUNDS {
                let ends = self.ends(depth_m, velocity);
                let shot = close(self.strand, self.profile, &ends, pull).ok()?;
                *spent += shot.rounds;
                let step = self.step(&ends, pull, Care::Fully)?;
                if (step.depth_m - depth_m).abs() <= 1e-9 {
                    return Some((step.net_n[0].hypot(step.net_n[1]), ends, step));
                }
                depth_m = step.depth_m;
            }
            None
        };
        let (mut net_n, mut ends, mut step) = look(pull, self.tether.length_m, velocity, spent)?;
        let enough = *spent + MOST_MARCHES;
        for _ in 0..MOST_CAREFUL_ROUNDS {
            if let Some(found) = self.at_rest(&step, ends, pull, *spent) {
                return Some(found);
            }
            let size = step.change[0].hypot(step.change[1]);
            let mut share = (MOST_CHANGE_M_S / size.max(1e-300)).min(1.0);
            loop {
                let mut trial = pull.clone();
                let moved = [velocity[0] + share * step.change[0], velocity[1] + share * step.change[1]];
                match look(&mut trial, ends.depth_m, moved, spent) {
                    Some(found) if found.0 < (1.0 - 0.1 * share) * net_n || found.0 <= FREE_N => {
                        (*pull, velocity) = (trial, moved);
                        (net_n, ends, step) = found;
                        break;
                    }
                    _ => share *= 0.5,
                }
                if share < SMALLEST_SHARE || *spent > enough {
                    return None;
                }
            }
        }
        None
    }

    /// Gap as a share of the line and net force as a share of the weight, together.
    fn merit(&self, step: &Step) -> f64 {
        let net_n = step.net_n[0].hypot(step.net_n[1]);
        (norm(step.gap) / self.strand.line_m).hypot(net_n / self.strand.weight_n())
    }

    /// One march and what Newton makes of it.
    fn step(&self, ends: &Ends, pull: &mut Pull, care: Care) -> Option<Step> {
        let launch =
            Launch { pull_n: pull.first_n, depth_m: ends.depth_m, first_m_s: ends.first_m_s, last_m_s: ends.last_m_s };
        let landing = march::<5>(self.strand, self.profile, &launch, &mut pull.lag_n, care)?;
        let gap = plus(landing.reach_m, -1.0, ends.apart_m);
        let hung = plus(pull.first_n, -1.0, landing.pull_n);
        let drag = self.tether.drag(self.profile, 0.0, ends.first_m_s);
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
        let lean = self.tether.lean(self.profile, 0.0, ends.first_m_s, [hung[0], hung[1]], hung[2]);
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

impl Step {
    /// The share of Newton's step that may be taken.
    fn most_share(&self, pull: &Pull) -> f64 {
        let change = self.change[0].hypot(self.change[1]);
        1.0_f64.min(0.5 * norm(pull.first_n) / norm(self.pull).max(1e-300)).min(MOST_CHANGE_M_S / change.max(1e-300))
    }
}
