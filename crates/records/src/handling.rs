//! How the fish of a set were handled: times from the rail to each step, dead or alive, what was not kept, tangles.
//!
//! Times run from the moment at which a fish came to the rail to each step as it was told; a step told more than once
//! counts at its first telling. A step that nobody told is not in the figures: that is not to say that it was not done.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use voyage::{CatchFate, SetRecord};

/// How the fish of a set were handled.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Handling {
    /// Fish kept.
    pub kept: usize,
    /// Of these, fish of which no step was told.
    pub kept_without_steps: usize,
    /// Steps, the one soonest after the rail first.
    pub steps: Vec<StepTimes>,
    /// How fish came to the rail, by species.
    pub at_the_rail: Vec<Condition>,
    /// Baskets that came up in a tangle.
    pub baskets_tangled: usize,
    /// Branch lines bitten, broken or cut off.
    pub branch_lines_lost: usize,
}

/// Times from the rail to one step.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StepTimes {
    /// The step, as entered.
    pub step: String,
    /// Fish of which it was told with a time not before the rail.
    pub fish: usize,
    /// Half of them took no longer, seconds: the middle one, or the mean of the two in the middle.
    pub median_s: f64,
    /// The longest, seconds.
    pub worst_s: f64,
    /// Ship's number of the fish that took longest.
    pub worst_fish: usize,
}

/// How the fish of one species came to the rail, and how many were let go or thrown away.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Condition {
    /// Alpha-3 code as entered; null for fish that nobody named.
    pub species: Option<String>,
    /// Alive at the rail.
    pub alive: usize,
    /// Dead at the rail.
    pub dead: usize,
    /// Neither was told.
    pub not_told: usize,
    /// Let go.
    pub released: usize,
    /// Thrown away.
    pub discarded: usize,
}

/// How the fish of a set were handled.
#[must_use]
pub fn handling(set: &SetRecord) -> Handling {
    let kept = || set.fish.iter().filter(|fish| fish.fate == CatchFate::Retained);
    let mut times: BTreeMap<&str, Vec<(f64, usize)>> = BTreeMap::new();
    for fish in kept() {
        let mut first: BTreeMap<&str, f64> = BTreeMap::new();
        for (at, step, _) in &fish.steps {
            let after_s = at.seconds_since(fish.at);
            if after_s >= 0.0 {
                let held = first.entry(step).or_insert(after_s);
                *held = held.min(after_s);
            }
        }
        for (step, after_s) in first {
            times.entry(step).or_default().push((after_s, fish.number));
        }
    }
    let mut steps: Vec<StepTimes> = times.into_iter().filter_map(|(step, times)| step_times(step, times)).collect();
    steps.sort_by(|a, b| a.median_s.total_cmp(&b.median_s).then_with(|| a.step.cmp(&b.step)));
    let tangled: BTreeSet<i64> =
        set.baskets.iter().filter(|basket| basket.tangled).map(|basket| basket.basket).collect();
    Handling {
        kept: kept().count(),
        kept_without_steps: kept().filter(|fish| fish.steps.is_empty()).count(),
        steps,
        at_the_rail: conditions(set),
        baskets_tangled: tangled.len(),
        branch_lines_lost: set.branch_lines_lost,
    }
}

fn step_times(step: &str, mut times: Vec<(f64, usize)>) -> Option<StepTimes> {
    // Of equal times the fish with the lower number is named.
    times.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let (worst_s, worst_fish) = *times.last()?;
    let middle = times.len() / 2;
    let upper_s = times.get(middle)?.0;
    let median_s = if times.len() % 2 == 1 { upper_s } else { 0.5 * (times.get(middle - 1)?.0 + upper_s) };
    Some(StepTimes { step: step.to_owned(), fish: times.len(), median_s, worst_s, worst_fish })
}

fn conditions(set: &SetRecord) -> Vec<Condition> {
    let mut lines: BTreeMap<(bool, &str), Condition> = BTreeMap::new();
    for fish in &set.fish {
        let code = fish.species.as_deref().unwrap_or("");
        // Fish without a name come last.
        let line = lines.entry((fish.species.is_none(), code)).or_insert_with(|| Condition {
            species: fish.species.clone(),
            alive: 0,
            dead: 0,
            not_told: 0,
            released: 0,
            discarded: 0,
        });
        match fish.condition.as_deref() {
            Some("dead") => line.dead += 1,
            // Whatever else is told of its state, such as lively or injured, it lived.
            Some(word) if !word.is_empty() && word != "unknown" => line.alive += 1,
            _ => line.not_told += 1,
        }
        match fish.fate {
            CatchFate::Released => line.released += 1,
            CatchFate::Discarded => line.discarded += 1,
            CatchFate::Retained | CatchFate::Lost => {}
        }
    }
    lines.into_values().collect()
}
