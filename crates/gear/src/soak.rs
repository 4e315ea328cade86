//! The whole line through the whole soak: where every float drifts to and how deep every hook hangs meanwhile.
//!
//! Model: floats move slowly, baskets hang in balance between them (`soak/line.rs`). Ends slump inwards by themselves, a cut
//! or gap makes new ends, radio buoys feel wind and drogue, the current may vary along the line and in time. Hooks are
//! taken as settled: sinking after setting is `sink`'s. A fix of a float moves it and, by their share, those between it
//! and the next fixed one: so the sag ratio of the stretch is corrected to what was measured.

mod blocks;
mod field;
mod line;
mod plan;

use serde::Serialize;

pub use field::ProfileAt;
pub use line::StepCost;
pub use plan::{Cut, FloatFix, RadioBuoy, SoakPlan, Stretch, Wind};

use crate::current::Profile;
use crate::drift::free_row;
use crate::error::GearError;
use crate::hang::{Drift, branch_hang};
use crate::shape::Shape;
use crate::shoot::still_start;
use field::Field;
use line::Line;

/// Name of the model, as it stands in every output.
pub const MODEL: &str = "baskets in balance between drifting floats, hooks settled";

/// The line at one moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Moment {
    /// Seconds after the beginning.
    pub after_s: f64,
    /// Every float that is in the water.
    pub floats: Vec<FloatPlace>,
    /// Every basket that hangs.
    pub baskets: Vec<BasketNow>,
}

/// Where one float is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FloatPlace {
    /// Its place in the line, from 0.
    pub place: u32,
    /// East of the first float's first position, metres.
    pub east_m: f64,
    /// North of it, metres.
    pub north_m: f64,
    /// How far it is under water, metres; 0 at the surface.
    pub under_m: f64,
}

/// One basket at one moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BasketNow {
    /// Basket number in setting order, from 1.
    pub basket: u32,
    /// Distance between its floats ÷ its main line, now.
    pub sag_ratio: f64,
    /// Distance between its floats, metres.
    pub span_m: f64,
    /// Depth of its deepest hook, metres.
    pub deepest_hook_m: f64,
    /// Whether it has had the time to sink to these depths (by the formula t98 = 0.9 sag ÷ terminal speed); before that
    /// its hooks are shallower than told.
    pub settled: bool,
    /// Its drift over ground.
    pub drift: Drift,
    /// Depth of every hook in setting order, metres.
    pub hook_depths_m: Vec<f64>,
}

/// What the sag ratio of a stretch between two fixed floats became.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Correction {
    /// Seconds after the beginning.
    pub after_s: f64,
    /// Place of the first of the two floats.
    pub from_place: u32,
    /// Place of the second.
    pub to_place: u32,
    /// Mean sag ratio between them as computed up to then.
    pub sag_ratio_computed: f64,
    /// The same with both floats where they were fixed.
    pub sag_ratio_measured: f64,
}

/// What a run took and what it leaves open.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SoakReport {
    /// Steps in time.
    pub steps: u32,
    /// Rounds of Newton over all steps.
    pub rounds: u32,
    /// Largest gap at a basket's end in any step, metres.
    pub largest_gap_m: f64,
    /// Largest horizontal force left on a float in any step, N.
    pub largest_net_force_n: f64,
    /// Sag ratios corrected from fixes.
    pub corrections: Vec<Correction>,
    /// What is not certain.
    pub doubts: Vec<crate::doubt::GearDoubt>,
}

/// Follows a line through its soak; `tell` gets the line at the beginning, every `every_s`, and at the end.
///
/// # Errors
/// [`GearError`] for a plan that cannot be, [`GearError::NotConverged`] when no balance is found in some step.
pub fn follow(plan: &SoakPlan, mut tell: impl FnMut(Moment)) -> Result<SoakReport, GearError> {
    let mut run = Run::new(plan)?;
    plan.part(&mut run.line, 0.0);
    run.launch_due(0.0)?;
    run.take_fixes(plan, 0.0)?;
    tell(run.moment());
    let mut next_told_s = plan.every_s;
    while run.now_s < plan.duration_s - 1e-6 {
        let until_s = (run.now_s + plan.step_s)
            .min(plan.duration_s)
            .min(if next_told_s > run.now_s + 1e-6 { next_told_s } else { f64::INFINITY })
            .min(run.next_event_s(plan));
        run.advance(plan, until_s)?;
        plan.part(&mut run.line, until_s);
        run.launch_due(until_s)?;
        run.take_fixes(plan, until_s)?;
        if until_s >= next_told_s - 1e-6 || until_s >= plan.duration_s - 1e-6 {
            tell(run.moment());
            while next_told_s <= until_s + 1e-6 {
                next_told_s += plan.every_s;
            }
        }
    }
    Ok(run.finish(plan))
}

/// A line under way.
struct Run {
    line: Line,
    field: Field,
    /// When each float goes in, seconds after the beginning.
    afloat_at_s: Vec<f64>,
    /// The line was in the water before the beginning: everything has settled.
    set_before: bool,
    profiles: Vec<Profile>,
    now_s: f64,
    steps: u32,
    cost: StepCost,
    corrections: Vec<Correction>,
    doubts: Vec<crate::doubt::GearDoubt>,
    deepest_m: f64,
}

/// The tautest that a basket can be set, as sag ratio: above it a float would be held back by the line.
const MOST_SAG_SET: f64 = 0.995;
/// A step is cut at most into this share of itself.
const SHORTEST_SHARE: f64 = 1.0 / 256.0;

impl Run {
    fn new(plan: &SoakPlan) -> Result<Self, GearError> {
        let (line, afloat_at_s, doubts) = plan.line()?;
        let field = Field::new(&plan.profiles)?;
        let profiles = field.at(0.0, line.baskets.len());
        Ok(Self {
            line,
            field,
            afloat_at_s,
            set_before: plan.float_times_s.is_empty(),
            profiles,
            now_s: 0.0,
            steps: 0,
            cost: StepCost::default(),
            corrections: Vec::new(),
            doubts,
            deepest_m: 0.0,
        })
    }

    /// Puts the floats in whose time has come, and hangs the baskets that are complete with them.
    fn launch_due(&mut self, now_s: f64) -> Result<(), GearError> {
        for index in 0..self.line.floats.len() {
            if self.line.floats[index].afloat || self.afloat_at_s[index] > now_s + 1e-6 {
                continue;
            }
            let near = index.min(self.line.baskets.len() - 1);
            // A float starts with its neighbour's drift, the first one with that of an endless row like its basket.
            let velocity = if index > 0 && self.line.floats[index - 1].afloat {
                self.line.floats[index - 1].velocity_m_s
            } else {
                self.line.drift_of_a_row(near, profile_of(&self.profiles, near))
            };
            let float = &mut self.line.floats[index];
            (float.afloat, float.velocity_m_s) = (true, velocity);
            if index > 0 && self.line.hangs(index - 1) {
                self.keep_within_reach(index);
                self.line.close(index - 1, profile_of(&self.profiles, index - 1))?;
                self.line.baskets[index - 1].settled_at_s =
                    Some(if self.set_before { 0.0 } else { now_s + self.line.settling_s(index - 1) });
            }
        }
        Ok(())
    }

    /// A float that goes in farther from the one before it than the main line between them reaches, because the line has
    /// drifted off meanwhile, is taken where the line reaches, and that is told.
    fn keep_within_reach(&mut self, index: usize) {
        let apart = self.line.ends(index - 1).apart_m;
        let (span_m, line_m) = (apart[0].hypot(apart[1]), self.line.baskets[index - 1].strand.line_m);
        let share = MOST_SAG_SET * line_m / span_m;
        if share >= 1.0 {
            return;
        }
        let from = self.line.floats[index - 1].place_m;
        self.line.floats[index].place_m = [from[0] + share * apart[0], from[1] + share * apart[1]];
        self.doubts.push(crate::doubt::GearDoubt::new(
            crate::doubt::GearDoubtKind::Assumed,
            format!(
                "The second float of basket {index} went in {span_m:.0} m from the drifted first one, the main line between them is {line_m:.0} m: it is taken where the line reaches."
            ),
        ));
    }

    /// The next moment at which a float goes in or a fix is taken.
    fn next_event_s(&self, plan: &SoakPlan) -> f64 {
        let floats = self.afloat_at_s.iter().copied();
        let fixes = plan.fixes.iter().map(|fix| fix.after_s);
        let cuts = plan.cuts.iter().map(|cut| cut.after_s);
        floats.chain(fixes).chain(cuts).filter(|at_s| *at_s > self.now_s + 1e-6).fold(f64::INFINITY, f64::min)
    }

    /// Moves on to a moment, in as many steps as it takes.
    fn advance(&mut self, plan: &SoakPlan, until_s: f64) -> Result<(), GearError> {
        let whole_s = until_s - self.now_s;
        let mut step_s = whole_s;
        while self.now_s < until_s - 1e-9 {
            let step = step_s.min(until_s - self.now_s);
            if !self.field.is_steady() {
                self.profiles = self.field.at(self.now_s + step, self.line.baskets.len());
            }
            plan.blow(&mut self.line, self.now_s + step);
            let profiles = &self.profiles;
            match self.line.step(step, &|basket| profile_of(profiles, basket)) {
                Ok(cost) => {
                    self.cost = self.cost.with(cost);
                    self.steps += 1;
                    self.now_s += step;
                    step_s = (2.0 * step_s).min(whole_s);
                }
                Err(error) => {
                    step_s = 0.25 * step;
                    if step_s < SHORTEST_SHARE * plan.step_s.min(whole_s) {
                        return Err(error);
                    }
                    // The pulls are brought into balance anew; the floats may have come far.
                    for basket in 0..self.line.baskets.len() {
                        if self.line.hangs(basket) {
                            self.line.close(basket, profile_of(profiles, basket))?;
                        }
                    }
                }
            }
        }
        self.now_s = until_s;
        Ok(())
    }

    /// Moves fixed floats on to their fixes and those between by their share.
    fn take_fixes(&mut self, plan: &SoakPlan, now_s: f64) -> Result<(), GearError> {
        let mut fixes: Vec<&FloatFix> = plan.fixes.iter().filter(|fix| (fix.after_s - now_s).abs() < 1e-6).collect();
        fixes.sort_by_key(|fix| fix.place);
        if fixes.is_empty() {
            return Ok(());
        }
        let before = self.line.clone();
        let offset = |fix: &FloatFix| {
            let at = before.floats[fix.place as usize].place_m;
            [fix.north_m - at[0], fix.east_m - at[1]]
        };
        for index in 0..self.line.floats.len() {
            let after = fixes.partition_point(|fix| (fix.place as usize) < index);
            let shift = match (after.checked_sub(1).map(|at| fixes[at]), fixes.get(after).copied()) {
                (Some(from), Some(to)) => {
                    let (first, last) = (f64::from(from.place), f64::from(to.place));
                    #[expect(clippy::cast_precision_loss, reason = "floats are few")]
                    let share = (index as f64 - first) / (last - first);
                    let (a, b) = (offset(from), offset(to));
                    [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
                }
                (None, Some(only)) | (Some(only), None) => offset(only),
                (None, None) => [0.0; 2],
            };
            let float = &mut self.line.floats[index];
            if float.afloat {
                float.place_m = [float.place_m[0] + shift[0], float.place_m[1] + shift[1]];
            }
        }
        for pair in fixes.windows(2) {
            let (from, to) = (pair[0].place as usize, pair[1].place as usize);
            if let (Some(computed), Some(measured)) = (before.mean_sag(from, to), self.line.mean_sag(from, to)) {
                self.corrections.push(Correction {
                    after_s: now_s,
                    from_place: pair[0].place,
                    to_place: pair[1].place,
                    sag_ratio_computed: computed,
                    sag_ratio_measured: measured,
                });
            }
        }
        for basket in 0..self.line.baskets.len() {
            if self.line.hangs(basket) {
                self.line.close(basket, profile_of(&self.profiles, basket))?;
            }
        }
        Ok(())
    }

    fn moment(&mut self) -> Moment {
        let line = &self.line;
        let floats = line
            .floats
            .iter()
            .zip(0_u32..)
            .filter(|(float, _)| float.afloat)
            .map(|(float, place)| FloatPlace {
                place,
                east_m: float.place_m[1],
                north_m: float.place_m[0],
                under_m: float.under_m,
            })
            .collect();
        let baskets: Vec<BasketNow> = (0..line.baskets.len())
            .filter(|basket| line.hangs(*basket))
            .map(|basket| basket_now(line, basket, profile_of(&self.profiles, basket), self.now_s))
            .collect();
        self.deepest_m = baskets.iter().map(|basket| basket.deepest_hook_m).fold(self.deepest_m, f64::max);
        Moment { after_s: self.now_s, floats, baskets }
    }

    fn finish(self, plan: &SoakPlan) -> SoakReport {
        let mut doubts = self.doubts;
        doubts.extend(plan.doubts(self.field.lowest_m(), self.deepest_m));
        SoakReport {
            steps: self.steps,
            rounds: self.cost.rounds,
            largest_gap_m: self.cost.gap_m,
            largest_net_force_n: self.cost.net_n,
            corrections: self.corrections,
            doubts,
        }
    }
}

impl Line {
    /// Velocity of an endless row of baskets like this one, north and east; of the surface where there is none.
    fn drift_of_a_row(&self, basket: usize, profile: &Profile) -> [f64; 2] {
        let strand = &self.baskets[basket].strand;
        let apart = self.ends(basket).apart_m;
        let (span_m, bearing_rad) = (apart[0].hypot(apart[1]), apart[1].atan2(apart[0]));
        let own = profile.changed(1.0, -bearing_rad, [0.0; 2]);
        let mut pull = still_start(strand, [span_m, 0.0, 0.0]);
        let (start, _) = own.at(0.5 * self.floats[basket].tether.length_m, &mut 0);
        match free_row(strand, &own, &self.floats[basket].tether, span_m, &mut pull, start) {
            Ok(row) => {
                let ([ahead, starboard], (sin, cos)) = (row.ends.first_m_s, bearing_rad.sin_cos());
                [ahead * cos - starboard * sin, ahead * sin + starboard * cos]
            }
            Err(_) => profile.at(0.0, &mut 0).0,
        }
    }

    /// How long a basket takes to settle after it was set, seconds, by the formula.
    fn settling_s(&self, basket: usize) -> f64 {
        let strand = &self.baskets[basket].strand;
        let apart = self.ends(basket).apart_m;
        let sag_ratio = (apart[0].hypot(apart[1]) / strand.line_m).clamp(0.01, 0.999_999);
        let sag_m = crate::catenary::drop_at_m(strand.line_m, sag_ratio, 0.5 * strand.line_m);
        let terminal_m_s = (strand.weight_n() / strand.line_m / strand.normal.max(1e-9)).sqrt();
        crate::sink::law::t98_s(sag_m, terminal_m_s)
    }
}

fn profile_of(profiles: &[Profile], basket: usize) -> &Profile {
    &profiles[basket.min(profiles.len() - 1)]
}

fn basket_now(line: &Line, index: usize, profile: &Profile, now_s: f64) -> BasketNow {
    let state = &line.baskets[index];
    let ends = line.ends(index);
    let shape = Shape::of(&state.strand, profile, &ends, &state.pull);
    let parts = state.strand.elements() / (state.basket.hooks as usize + 1);
    let mut near = 0;
    let hook_depths_m: Vec<f64> = (1..=state.basket.hooks as usize)
        .map(|position| {
            let node = shape.nodes_m[position * parts];
            let velocity = ends.velocity_at(state.strand.share_of(position * parts));
            let (_, down_m) =
                branch_hang(&state.strand, profile, state.basket.branch_line_m, node[2], velocity, &mut near);
            node[2] + down_m
        })
        .collect();
    let span_m = ends.apart_m[0].hypot(ends.apart_m[1]);
    let mean = [0, 1].map(|axis| 0.5 * (ends.first_m_s[axis] + ends.last_m_s[axis]));
    BasketNow {
        basket: u32::try_from(index + 1).unwrap_or(u32::MAX),
        sag_ratio: span_m / state.strand.line_m,
        span_m,
        deepest_hook_m: hook_depths_m.iter().copied().fold(0.0, f64::max),
        settled: state.settled_at_s.is_some_and(|settled_at_s| now_s >= settled_at_s),
        drift: Drift { east_m_s: mean[1], north_m_s: mean[0] },
        hook_depths_m,
    }
}
