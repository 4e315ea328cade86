//! One gear of the grid: how it hangs, and how many of its hooks lie in the band.

use super::grid::Candidate;
use super::pace::{Fit, Reason};
use super::{Parts, Question};
use crate::catenary::{Basket, HookPlace, hook_depths};
use crate::drift::Effort;
use crate::error::GearError;
use crate::hang::{EndsHeld, HangOptions, Near, Ready, Rig, Solved};
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
    /// Where it lies, for the next solution of it.
    pub(super) near: Option<Near>,
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
    let mut crew = Crew { question, near: None, purse: PURSE_A_GEAR * run.len() };
    run.iter()
        .map(|(candidate, fit)| {
            let hung = match &question.parts {
                Some(parts) => crew.hang(parts, candidate),
                None => hook_depths(&question.basket(candidate))
                    .map(|hanging| (Count::of(&hanging.hooks, question), None))
                    .map_err(|_| Reason::NoBalancedShape),
            };
            Tried {
                candidate: *candidate,
                fit: *fit,
                outcome: hung.map(|(count, _)| count),
                near: hung.ok().and_then(|(_, near)| near),
            }
        })
        .collect()
}

/// Marches over one element each that a run may spend for each of its gears beside the quick ones, some half a
/// millisecond: where a strong shear makes gears hard to solve, a search must still come to an end.
const PURSE_A_GEAR: usize = 1500;

/// What hangs one gear after the other.
struct Crew<'a> {
    question: &'a Question,
    /// Where the gear before lies.
    near: Option<Near>,
    /// What may still be spent on hard ones.
    purse: usize,
}

impl Crew<'_> {
    fn hang(&mut self, parts: &Parts, candidate: &Candidate) -> Result<(Count, Option<Near>), Reason> {
        let rig = self.question.rig(parts, candidate);
        if self.near.is_none() && self.purse == 0 {
            return Err(Reason::TooHard);
        }
        let (ready, solved) = self.solve(&rig)?;
        let near = Some(solved.near());
        self.near = near;
        let float_load_n = solved.pull.first_n[2] - solved.shot.last_n[2];
        if goes_under(parts, float_load_n) == Some(true) {
            return Err(Reason::FloatGoesUnder);
        }
        let shape = Shape::of(&ready.strand, &ready.profile, &solved.ends, &solved.pull);
        Ok((Count::of(&ready.hooks(&shape, &solved.ends), self.question), near))
    }

    /// Quickly from the neighbour; while the purse lasts, in halved steps from there, and with every means.
    fn solve(&mut self, rig: &Rig) -> Result<(Ready, Solved), Reason> {
        let (water, options) = (&self.question.water, self.question.options(SEARCH_ELEMENTS));
        let mut ready = Ready::new(rig, water, &options).map_err(|_| Reason::DoesNotSink)?;
        let elements = ready.strand.elements();
        if let Some(near) = self.near {
            let start = ready.start(&near);
            for effort in [Effort::Quick, Effort::Light] {
                ready.effort = effort;
                let found = ready.solve(Some(&start));
                if effort != Effort::Quick {
                    self.pay(found.as_ref().map(|(solved, _)| solved), elements);
                }
                if let Ok((solved, _)) = found {
                    return Ok((ready, solved));
                }
                if self.purse == 0 {
                    return Err(Reason::TooHard);
                }
            }
        }
        // By itself, with finer elements where few long ones have no balanced shape.
        for finer in [1, 2, 4, 8] {
            let ready = Ready::new(rig, water, &self.question.options(SEARCH_ELEMENTS * finer))
                .map_err(|_| Reason::DoesNotSink)?;
            let found = ready.solve(None);
            self.pay(found.as_ref().map(|(solved, _)| solved), ready.strand.elements());
            if let Ok((solved, _)) = found {
                return Ok((ready, solved));
            }
            if self.purse == 0 {
                return Err(Reason::TooHard);
            }
        }
        Err(Reason::NoBalancedShape)
    }

    /// Takes what a solution cost out of the purse.
    fn pay(&mut self, found: Result<&Solved, &GearError>, elements: usize) {
        let rounds = match found {
            Ok(solved) => solved.shot.rounds,
            Err(GearError::NotConverged { iterations, .. }) => *iterations,
            Err(_) => 0,
        };
        self.purse = self.purse.saturating_sub(rounds as usize * elements);
    }
}

/// Whether a float cannot carry its load; none where its buoyancy is not known.
pub(super) fn goes_under(parts: &Parts, float_load_n: f64) -> Option<bool> {
    parts.float.and_then(|float| float.net_buoyancy_n).map(|carries_n| float_load_n > carries_n)
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
