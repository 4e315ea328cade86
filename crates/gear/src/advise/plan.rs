//! From gears that were tried to plans: ranked, told apart, described, and held against another current.
//!
//! Ranking: most hooks of the whole set in the band, then less main line, then less time. The search counts with one
//! straight element for each clip interval; the best are counted again with two before they are ranked for good, and
//! everything told about a plan is from those. Of neighbours on the grid only the best is shown.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::answer::{Advice, Change, Changed, LeftOut, Plan, Searched};
use super::grid::Grid;
use super::pace::Reason;
use super::trial::{Count, Tried, goes_under};
use super::{Parts, Question};
use crate::band::bands;
use crate::catenary::{self, HookPlace, hook_depths_with_band};
use crate::doubt::{GearDoubt, GearDoubtKind, about};
use crate::drift::Effort;
use crate::hang::{self, Drift, Hung, Ready, Rig, Start};
use crate::setting::KNOT_M_S;

/// Straight elements for each clip interval of a plan.
const PLAN_ELEMENTS: u32 = 2;
/// Gears that are counted again before they are ranked for good.
const FINALISTS: usize = 150;
/// Sag ratios that differ by so much are told apart.
const OTHER_SAG_RATIO: f64 = 0.1;
/// Hooks per basket that differ by this share of the larger, and by two at least, are told apart.
const OTHER_HOOKS: f64 = 0.25;

/// Ranks, chooses and describes.
pub(super) fn advice(question: &Question, grid: &Grid, tried: Vec<Tried>) -> Advice {
    let mut left_out = grid.left_out.clone();
    for reason in tried.iter().filter_map(|tried| tried.outcome.err()) {
        *left_out.entry(reason).or_insert(0) += 1;
    }
    let gears = tried.len();
    let best = ranked(tried);
    let wanted = question.plans as usize;
    let mut finalists: Vec<Tried> = best.iter().take(FINALISTS).copied().collect();
    finalists.extend(
        told_apart(&best, 2 * wanted).into_iter().filter(|tried| !finalists.contains(tried)).collect::<Vec<_>>(),
    );
    let finalists = ranked(finalists.into_iter().map(|tried| counted_again(question, tried)).collect());
    let mut plans: Vec<Plan> =
        told_apart(&finalists, wanted).iter().filter_map(|tried| described(question, tried)).collect();
    plans.sort_by(|a, b| {
        better((a.hooks_in_band, a.main_line_m, a.setting_time_s), (b.hooks_in_band, b.main_line_m, b.setting_time_s))
    });
    plans.retain(|plan| plan.hooks_in_band > 0);
    Advice {
        model: if question.parts.is_some() { hang::MODEL } else { catenary::MODEL }.to_owned(),
        target: question.target,
        limits: question.limits.clone(),
        no_plan_because: plans.is_empty().then(|| why_none(question, grid, &best, &left_out)),
        plans,
        searched: Searched {
            grid: grid.size,
            tried: gears,
            steps: grid.steps,
            left_out: left_out
                .iter()
                .map(|(reason, count)| LeftOut { reason: *reason, text: reason.words(&question.limits), count: *count })
                .collect(),
        },
        errors: question.errors,
        current_change_m_s: question.current_change_m_s,
        doubts: doubts(question),
    }
}

/// The gears that hang, best first; the order does not depend on the one they came in.
fn ranked(mut tried: Vec<Tried>) -> Vec<Tried> {
    tried.retain(|tried| tried.outcome.is_ok());
    tried.sort_by(|a, b| {
        let rank = |tried: &Tried| (tried.hooks_in_band(), tried.fit.main_line_m, tried.fit.setting_time_s);
        let (one, other) = (&a.candidate, &b.candidate);
        better(rank(a), rank(b))
            .then(one.hooks_per_basket.cmp(&other.hooks_per_basket))
            .then(one.sag_ratio.total_cmp(&other.sag_ratio))
            .then(one.float_line_m.total_cmp(&other.float_line_m))
            .then(one.clip_spacing_m.total_cmp(&other.clip_spacing_m))
    });
    tried
}

/// By hooks in the band, main line and time.
fn better(a: (u32, f64, f64), b: (u32, f64, f64)) -> Ordering {
    b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2))
}

/// The best that differ from each other, so many at most; where that leaves too few, those that differ half as much.
fn told_apart(best: &[Tried], most: usize) -> Vec<Tried> {
    let mut chosen: Vec<Tried> = Vec::new();
    for share in [1.0, 0.5] {
        for tried in best.iter().take_while(|tried| tried.hooks_in_band() > 0) {
            if chosen.len() < most && chosen.iter().all(|other| differ(tried, other, share)) {
                chosen.push(*tried);
            }
        }
    }
    chosen
}

fn differ(a: &Tried, b: &Tried, share: f64) -> bool {
    let (one, other) = (f64::from(a.candidate.hooks_per_basket), f64::from(b.candidate.hooks_per_basket));
    let sag = (a.candidate.sag_ratio - b.candidate.sag_ratio).abs();
    sag > share * OTHER_SAG_RATIO - 1e-9 || (one - other).abs() >= (share * OTHER_HOOKS * one.max(other)).max(2.0)
}

/// The same gear counted with the elements of a plan.
fn counted_again(question: &Question, tried: Tried) -> Tried {
    let Some(parts) = &question.parts else { return tried };
    let outcome = match finely(question, &question.rig(parts, &tried.candidate), &tried, Effort::Light) {
        Some((_, hung, _)) if goes_under(parts, hung.float_load_n) == Some(true) => Err(Reason::FloatGoesUnder),
        Some((_, hung, _)) => Ok(Count::of(&hung.hooks, question)),
        None => Err(Reason::NoBalancedShape),
    };
    Tried { outcome, ..tried }
}

/// A gear with the elements of a plan, from where the search found it; with finer ones where these have no balanced shape.
fn finely(question: &Question, rig: &Rig, tried: &Tried, effort: Effort) -> Option<(Ready, Hung, Start)> {
    let options = question.options(PLAN_ELEMENTS);
    let mut ready = Ready::new(rig, &question.water, &options).ok()?;
    ready.effort = effort;
    let near = tried.near.map(|near| ready.start(&near));
    let found = match ready.solve(near.as_ref()) {
        Ok((solved, start)) => Some((ready, solved, start)),
        Err(_) if effort == Effort::Whole => Ready::solved(rig, &question.water, &options).ok(),
        Err(_) => None,
    };
    found.map(|(ready, solved, start)| {
        let hung = ready.describe(&solved);
        (ready, hung, start)
    })
}

/// A plan in full; none when it does not hang after all.
fn described(question: &Question, tried: &Tried) -> Option<Plan> {
    let hanging = match &question.parts {
        Some(parts) => Hanging::in_the_current(question, &question.rig(parts, &tried.candidate), parts, tried)?,
        None => Hanging::still(question, tried)?,
    };
    let (candidate, fit) = (&tried.candidate, &tried.fit);
    let count = Count::of(&hanging.hooks, question);
    let surely = |hook: &HookPlace| {
        let band_m = hook.band_m?;
        Some(question.target.holds(hook.depth_m - band_m) && question.target.holds(hook.depth_m + band_m))
    };
    let sure: Option<Vec<bool>> = hanging.hooks.iter().map(surely).collect();
    let hooks = candidate.hooks_per_basket * fit.baskets;
    Some(Plan {
        hooks_per_basket: candidate.hooks_per_basket,
        sag_ratio: candidate.sag_ratio,
        float_line_m: candidate.float_line_m,
        clip_spacing_m: candidate.clip_spacing_m,
        beat_s: fit.beat_s,
        vessel_speed_through_water_kn: fit.vessel_speed_m_s / KNOT_M_S,
        shooter_speed_m_s: fit.shooter_speed_m_s,
        baskets: fit.baskets,
        floats: fit.baskets + 1,
        hooks,
        hooks_in_band: count.in_band * fit.baskets,
        hooks_in_band_per_basket: count.in_band,
        share_in_band: f64::from(count.in_band) / f64::from(candidate.hooks_per_basket),
        hooks_surely_in_band: sure.map(|sure| sure.iter().map(|sure| u32::from(*sure)).sum::<u32>() * fit.baskets),
        shallowest_hook_m: count.shallowest_m,
        deepest_hook_m: count.deepest_m,
        main_line_m: fit.main_line_m,
        setting_time_s: fit.setting_time_s,
        set_length_m: fit.main_line_m * candidate.sag_ratio,
        held_by: fit.held_by,
        drift: hanging.drift,
        worst: hanging.worst(),
        changes: hanging.changes,
        hook_places: hanging.hooks,
        doubts: hanging.doubts,
    })
}

/// How a plan's basket hangs.
struct Hanging {
    hooks: Vec<HookPlace>,
    drift: Option<Drift>,
    changes: Vec<Changed>,
    doubts: Vec<GearDoubt>,
}

impl Hanging {
    fn still(question: &Question, tried: &Tried) -> Option<Self> {
        let hanging = hook_depths_with_band(&question.basket(&tried.candidate), question.errors.sag_ratio).ok()?;
        Some(Self { hooks: hanging.hooks, drift: None, changes: Vec::new(), doubts: Vec::new() })
    }

    fn in_the_current(question: &Question, rig: &Rig, parts: &Parts, tried: &Tried) -> Option<Self> {
        let (ready, mut hung, start) = finely(question, rig, tried, Effort::Whole)?;
        let light = Ready { effort: Effort::Light, ..ready.clone() };
        if let Some(bands) = bands(&light, &start, &hung.hooks, &question.errors) {
            for (hook, (band_m, mostly)) in hung.hooks.iter_mut().zip(bands) {
                (hook.band_m, hook.band_mostly) = (Some(band_m), Some(mostly));
            }
        }
        let deepest_m = hung.hooks.iter().map(|hook| hook.depth_m).fold(1.0, f64::max);
        let sea = Sea { question, parts, tried, ready: &ready, start: &start, deepest_m };
        let doubts = about(&hung, rig, &question.water, &question.options(PLAN_ELEMENTS))
            .into_iter()
            .filter(|doubt| doubt.kind != GearDoubtKind::NoCurrent)
            .collect();
        Some(Self { drift: hung.drift, changes: sea.changes(), doubts, hooks: hung.hooks })
    }

    /// The change that leaves fewest hooks in the band, one without a balanced shape before all.
    fn worst(&self) -> Option<Changed> {
        self.changes.iter().min_by_key(|changed| changed.hooks_in_band.map_or(-1, i64::from)).cloned()
    }
}

/// A plan's basket in its sea, to be changed.
struct Sea<'a> {
    question: &'a Question,
    parts: &'a Parts,
    tried: &'a Tried,
    ready: &'a Ready,
    start: &'a Start,
    deepest_m: f64,
}

impl Sea<'_> {
    fn changes(&self) -> Vec<Changed> {
        let by = self.question.current_change_m_s;
        let more = |[x, y]: [f64; 2]| [x * by, y * by];
        let mut changes = vec![
            (Change::MoreAlong, more([1.0, 0.0])),
            (Change::LessAlong, more([-1.0, 0.0])),
            (Change::MoreToStarboard, more([0.0, 1.0])),
            (Change::MoreToPort, more([0.0, -1.0])),
        ];
        let mut near = 0;
        let (top, _) = self.ready.profile.at(0.0, &mut near);
        let (bottom, _) = self.ready.profile.at(self.deepest_m, &mut near);
        let shear = [top[0] - bottom[0], top[1] - bottom[1]];
        let size = shear[0].hypot(shear[1]);
        if size > 1e-6 {
            let unit = [shear[0] / size, shear[1] / size];
            changes.push((Change::ShearStronger, more(unit)));
            changes.push((Change::ShearWeaker, more([-unit[0], -unit[1]])));
        }
        changes.into_iter().map(|(change, top_m_s)| self.changed(change, top_m_s)).collect()
    }

    fn changed(&self, change: Change, top_m_s: [f64; 2]) -> Changed {
        let mut ready = self.ready.clone();
        ready.profile = self.ready.profile.with_added(self.deepest_m, top_m_s, [0.0; 2]);
        let hung: Option<Hung> = ready
            .solve(Some(self.start))
            .or_else(|_| ready.solve(None))
            .ok()
            .map(|(solved, _)| ready.describe(&solved));
        let count = hung.as_ref().map(|hung| Count::of(&hung.hooks, self.question));
        Changed {
            change,
            text: change.words(self.question.current_change_m_s),
            hooks_in_band: count.map(|count| count.in_band * self.tried.fit.baskets),
            shallowest_hook_m: count.map(|count| count.shallowest_m),
            deepest_hook_m: count.map(|count| count.deepest_m),
            float_goes_under: hung.as_ref().and_then(|hung| goes_under(self.parts, hung.float_load_n)),
            drift: hung.and_then(|hung| hung.drift),
        }
    }
}

impl Change {
    fn words(self, by_m_s: f64) -> String {
        let fading = "at the surface, fading to nothing at the deepest hook";
        match self {
            Self::MoreAlong => format!("{by_m_s} m/s more along the line {fading}"),
            Self::LessAlong => format!("{by_m_s} m/s less along the line {fading}"),
            Self::MoreToStarboard => format!("{by_m_s} m/s more towards starboard of the line {fading}"),
            Self::MoreToPort => format!("{by_m_s} m/s more towards port of the line {fading}"),
            Self::ShearStronger => format!("the shear between surface and deepest hook {by_m_s} m/s stronger"),
            Self::ShearWeaker => format!("the shear between surface and deepest hook {by_m_s} m/s weaker"),
        }
    }
}

/// What is not certain about all plans.
fn doubts(question: &Question) -> Vec<GearDoubt> {
    let mut doubts = Vec::new();
    if question.parts.is_none() {
        doubts.push(GearDoubt::new(
            GearDoubtKind::NoCurrent,
            "Depths are for still water; a current lifts hooks, and how the plans stand up to it is not known. Give main_line, \
             branch and water with its current to have it counted."
                .to_owned(),
        ));
    } else if question.water.current.is_empty() {
        doubts.push(GearDoubt::new(
            GearDoubtKind::NoCurrent,
            "No current was given: the plans are for still water; what a current does to them is told by their changes."
                .to_owned(),
        ));
    }
    doubts
}

/// Why no plan can be shown.
fn why_none(question: &Question, grid: &Grid, best: &[Tried], left_out: &BTreeMap<Reason, usize>) -> String {
    let mut reasons: Vec<_> = left_out.iter().collect();
    reasons.sort_by(|a, b| b.1.cmp(a.1));
    let told: Vec<String> =
        reasons.iter().map(|(reason, count)| format!("for {count}, {}", reason.words(&question.limits))).collect();
    let told = told.join("; ");
    let target = question.target;
    if best.is_empty() {
        return format!("None of the {} gears of the grid can be set: {told}.", grid.size);
    }
    if best[0].hooks_in_band() > 0 {
        return format!(
            "Gears with hooks between {} and {} m were found, but with {PLAN_ELEMENTS} elements for each clip interval none of \
             the best has a balanced shape that its float carries.",
            target.from_m, target.to_m
        );
    }
    let depths = best.iter().filter_map(|tried| tried.outcome.ok());
    let shallowest_m = depths.clone().map(|count| count.shallowest_m).fold(f64::INFINITY, f64::min);
    let deepest_m = depths.map(|count| count.deepest_m).fold(f64::NEG_INFINITY, f64::max);
    let others = if told.is_empty() { String::new() } else { format!(" Left out: {told}.") };
    format!(
        "No hook of the {} gears that can be set hangs between {} and {} m: they hang between {shallowest_m:.0} and {deepest_m:.0} m.{others}",
        best.len(),
        target.from_m,
        target.to_m
    )
}
