//! Which hooks caught: hooks and fish by position, pooled from the nearer float.
//!
//! Position j of a basket of n hooks pools as min(j, n + 1 − j); in a basket without a float at its end as j. Left out:
//! empty positions, tangled baskets, and fish whose hook is not known. A fish with a guessed position stands at its
//! likeliest hook.

use std::collections::BTreeMap;

use serde::Serialize;
use voyage::{HookFate, SetRecord};

use crate::figures::per_thousand;

/// Hooks and fish at one distance from the nearer float.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ByPosition {
    /// Position counted from the nearer float, from 1.
    pub from_nearer_float: i64,
    /// Hooks set there.
    pub hooks: usize,
    /// Fish caught there, kept or not.
    pub caught: usize,
    /// Fish caught per 1,000 of these hooks.
    pub per_thousand: Option<f64>,
}

/// The table, from the float to the middle of the basket.
#[must_use]
pub fn catch_by_hook_position(set: &SetRecord) -> Vec<ByPosition> {
    let mut counts: BTreeMap<i64, (usize, usize)> = BTreeMap::new();
    let mut pooled: BTreeMap<(i64, i64), i64> = BTreeMap::new();
    for basket in set.baskets.iter().filter(|basket| !basket.tangled) {
        let first = basket.first_hook;
        let count = usize::try_from(basket.hooks).unwrap_or(0);
        for hook in set.hooks.iter().skip(first).take(count).filter(|hook| hook.fate != HookFate::Missed) {
            let from_end = basket.hooks + 1 - hook.position;
            let distance = if basket.has_end_float { hook.position.min(from_end) } else { hook.position };
            counts.entry(distance).or_default().0 += 1;
            pooled.insert((basket.basket, hook.position), distance);
        }
    }
    for fish in &set.fish {
        let hook = fish.basket.zip(fish.position);
        if let Some(distance) = hook.and_then(|hook| pooled.get(&hook)) {
            counts.entry(*distance).or_default().1 += 1;
        }
    }
    counts
        .into_iter()
        .map(|(from_nearer_float, (hooks, caught))| ByPosition {
            from_nearer_float,
            hooks,
            caught,
            per_thousand: per_thousand(caught, hooks),
        })
        .collect()
}
