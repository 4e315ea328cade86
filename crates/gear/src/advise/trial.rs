//! One gear of the grid: how it hangs, and how many of its hooks lie in the band.

use super::grid::Candidate;
use super::pace::{Fit, Reason};
use super::{Parts, Question};
use crate::catenary::{Basket, HookPlace, hook_depths};
use crate::drift::Effort;
use crate::hang::{EndsHeld, HangOptions, Near, Ready, Rig, Solved, Start};
use crate::shape::Shape;

/// Straight elements for each clip interval while searching.
pub(super) const SEARCH_ELEMENTS: u32 = 1;

/// A gear that was tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// The gear.
    pub candidate: Candidate,
    /// How it would be set.
    pub fit: Fit,
    /// How it hangs, or why it does not.
    pub outcome: Result<Count, Reason>,
}

/// How a basket hangs, counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Count {
    /// Hooks of a basket in the band.
    pub in_band: u32,
    /// The shallowest hook, metres.
    pub shallowest_m: f64,
    /// The deepest hook, metres.
    pub deepest_m: f64,
}

impl Tried {
    /// Hooks in the band over the whole set; 0 where it does not hang.
    #[must_use]
    pub fn hooks_in_band(&self) -> u32 {
        self.outcome.map_or(0, |count| count.in_band * self.fit.baskets)
    }
}

impl Count {
    /// Counts hooks.
    pub(super) fn of(hooks: &[HookPlace], question: &Question) -> Self {
        let mut count = Self { in_band: 0, shallowest_m: f64::INFINITY, deepest_m: f64::NEG_INFINITY };
        for hook in hooks {
            count.in_band += u32::from(question.target.holds(hook.depth_m));
            count.shallowest_m = count.shallowest_m.min(hook.depth_m);
            count.deepest_m = count.deepest_m.max(hook.depth_m);
        }
        count
    }
}

/// Tries a run of neighbours, each starting from the one before it.
pub(super) fn try_all(question: &Question, run: &[(Candidate, Fit)]) -> Vec<Tried> {
    let mut near = None;
    run.iter()
        .map(|(candidate, fit)| {
            let outcome = match &question.parts {
                Some(parts) => in_the_current(question, parts, candidate, &mut near),
                None => hook_depths(&question.basket(candidate))
                    .map(|hanging| Count::of(&hanging.hooks, question))
                    .map_err(|_| Reason::NoBalancedShape),
            };
            Tried { candidate: *candidate, fit: *fit, outcome }
        })
        .collect()
}

fn in_the_current(
    question: &Question,
    parts: &Parts,
    candidate: &Candidate,
    near: &mut Option<Near>,
) -> Result<Count, Reason> {
    let rig = question.rig(parts, candidate);
    let (ready, solved, _) = hang(question, &rig, SEARCH_ELEMENTS, *near)?;
    *near = Some(solved.near());
    if let Some(carries_n) = parts.float.and_then(|float| float.net_buoyancy_n)
        && solved.pull.first_n[2] - solved.shot.last_n[2] > carries_n
    {
        return Err(Reason::FloatGoesUnder);
    }
    let shape = Shape::of(&ready.strand, &ready.profile, &solved.ends, &solved.pull);
    Ok(Count::of(&ready.hooks(&shape, &solved.ends), question))
}

/// Hangs a gear from where its neighbour lies, or from still water, with finer elements where that fails.
fn hang(
    question: &Question,
    rig: &Rig,
    elements_per_interval: u32,
    near: Option<Near>,
) -> Result<(Ready, Solved, Start), Reason> {
    for finer in [1, 2, 4] {
        let mut ready = Ready::new(rig, &question.water, &question.options(elements_per_interval * finer))
            .map_err(|_| Reason::DoesNotSink)?;
        ready.effort = Effort::Light;
        let near = near.map(|near| ready.start(&near));
        let mut k = 0;
        for start in [near.as_ref()] {
            k += 1;
            if let Ok((solved, found)) = ready.solve(start) {
                eprintln!("STAGE {finer} {}", solved.shot.rounds / 32);
                return Ok((ready, solved, found));
            }
        }
    }
                eprintln!("STAGE fail");
    Err(Reason::NoBalancedShape)
}

impl Question {
    /// The basket of a gear.
    pub(super) fn basket(&self, candidate: &Candidate) -> Basket {
        Basket {
            hooks: candidate.hooks_per_basket,
            clip_spacing_m: candidate.clip_spacing_m,
            sag_ratio: candidate.sag_ratio,
            float_line_m: candidate.float_line_m,
            branch_line_m: self.branch_line_m,
            float_takes_a_beat: self.float_takes_a_beat,
        }
    }

    /// The same with its parts.
    pub(super) fn rig(&self, parts: &Parts, candidate: &Candidate) -> Rig {
        Rig {
            basket: self.basket(candidate),
            main_line: parts.main_line,
            branch: parts.branch,
            float_line: parts.float_line,
            float: parts.float,
        }
    }

    /// How a gear is hung: an endless row that drifts.
    pub(super) fn options(&self, elements_per_interval: u32) -> HangOptions {
        HangOptions {
            line_bearing_deg_true: self.line_bearing_deg_true,
            ends: EndsHeld::Drifting,
            point_loads: true,
            elements_per_interval,
        }
    }
}
