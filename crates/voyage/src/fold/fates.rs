//! What became of every hook: tangle, branch line lost, hauled, recovered, gear lost, in the water or unknown.

use std::collections::{BTreeMap, BTreeSet};

use super::SetWork;
use super::beats::incomplete;
use super::haul::Hauled;
use super::line::Line;
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::whole;
use crate::state::{Fish, HookFate};

/// Gives every hook its fate: tangle, branch line lost, hauled, recovered, gear lost, in the water or unknown.
pub(crate) fn settle_fates(
    work: &SetWork<'_>,
    line: &mut Line,
    hauled: &mut Hauled,
    fish: &[Fish],
    doubts: &mut Vec<Doubt>,
) {
    for fish in fish {
        if let (Some(basket), Some(position)) = (fish.basket, fish.position)
            && let Some(index) = line.hook(basket, position)
        {
            line.hooks[index].fish.push(fish.id.clone());
        }
    }
    let tangles = mark_tangles(work, line, doubts);
    let in_tangle: BTreeMap<i64, usize> = tangles
        .iter()
        .enumerate()
        .flat_map(|(i, tangle)| tangle.baskets.iter().map(move |basket| (*basket, i)))
        .collect();
    let mut reported = vec![0_i64; tangles.len()];
    let mut lost: BTreeSet<usize> = BTreeSet::new();
    let mut uncounted: Vec<(&String, Option<i64>)> = Vec::new();
    for (id, _) in &hauled.branch_lost {
        let spot = hauled.spots.get(id);
        let basket = spot.and_then(|spot| spot.basket);
        if let Some(&tangle) = basket.and_then(|basket| in_tangle.get(&basket)) {
            reported[tangle] += 1;
        } else if let Some(hook) = spot.and_then(|spot| spot.hook) {
            lost.insert(hook);
        } else {
            uncounted.push((id, basket));
        }
    }
    for (id, basket) in uncounted {
        let free = basket.map(|basket| line.hooks_of(basket)).and_then(|mut range| {
            range.rfind(|index| {
                hauled.lifted.contains_key(index) && line.hooks[*index].fish.is_empty() && !lost.contains(index)
            })
        });
        match free {
            Some(index) => {
                lost.insert(index);
            }
            None => doubts.push(Doubt::new("branch_line_unplaced", id, 
                "A branch line was lost and no hauled hook without fish is left in the basket at the rail. It is kept and takes no hook.")),
        }
    }
    hauled.branch_lines_lost = lost.len() + usize::try_from(reported.iter().sum::<i64>()).unwrap_or(0);
    let recovered = stretch_baskets(work, line, Kind::GearRecovered, doubts);
    let gear_lost = stretch_baskets(work, line, Kind::GearLost, doubts);
    for index in 0..line.hooks.len() {
        let basket = line.hooks[index].basket;
        if line.hooks[index].fate == HookFate::Missed || in_tangle.contains_key(&basket) {
            continue;
        }
        let (fate, lifted) = if lost.contains(&index) {
            (HookFate::Lost, None)
        } else if let Some(lifted) = hauled.lifted.get(&index) {
            (HookFate::Hauled, Some(*lifted))
        } else if recovered.contains(&basket) {
            (HookFate::Hauled, None)
        } else if gear_lost.contains(&basket) {
            (HookFate::Lost, None)
        } else if work.set.open {
            (HookFate::InWater, None)
        } else {
            (HookFate::Unknown, None)
        };
        line.hooks[index].fate = fate;
        line.hooks[index].lifted_at = lifted;
    }
    for (tangle, reported) in tangles.iter().zip(reported) {
        untangle(line, tangle, reported, doubts);
    }
}

struct Tangled {
    id: String,
    baskets: Vec<i64>,
    saved: i64,
    cut: i64,
}

fn mark_tangles(work: &SetWork<'_>, line: &mut Line, doubts: &mut Vec<Doubt>) -> Vec<Tangled> {
    let mut tangles: Vec<Tangled> = Vec::new();
    for fact in work.facts() {
        let Data::Tangle(data) = fact.data.as_ref() else { continue };
        let Some((from, to)) = whole(data.from_place).zip(whole(data.to_place)).filter(|(from, to)| from != to) else {
            doubts.push(incomplete(fact.id(), "A tangle lacks the places it reached from and to."));
            continue;
        };
        let mut baskets = Vec::new();
        for basket in from.min(to)..from.max(to).min(from.min(to) + super::beats::MOST_PLACES) {
            let Some(index) = usize::try_from(basket - 1).ok().filter(|index| *index < line.baskets.len()) else {
                continue;
            };
            if !line.baskets[index].tangled {
                line.baskets[index].tangled = true;
                baskets.push(basket);
            }
        }
        tangles.push(Tangled {
            id: fact.id().to_owned(),
            baskets,
            saved: whole(data.branch_lines_saved).unwrap_or(0).max(0),
            cut: whole(data.branch_lines_cut).unwrap_or(0).max(0),
        });
    }
    tangles
}

fn untangle(line: &mut Line, tangle: &Tangled, reported: i64, doubts: &mut Vec<Doubt>) {
    let hooks: Vec<usize> = tangle
        .baskets
        .iter()
        .flat_map(|basket| line.hooks_of(*basket))
        .filter(|&index| line.hooks[index].fate != HookFate::Missed)
        .collect();
    let all = i64::try_from(hooks.len()).unwrap_or(i64::MAX);
    let lost = tangle.cut + reported;
    if lost + tangle.saved > all {
        doubts.push(Doubt::new(
            "tangle_count",
            &tangle.id,
            format!("A tangle of {all} hooks has {} saved and {lost} lost. The lost count first.", tangle.saved),
        ));
    }
    for (i, &index) in (0_i64..).zip(&hooks) {
        let hook = &mut line.hooks[index];
        hook.lifted_at = None;
        hook.fate = if i < lost {
            HookFate::Lost
        } else if i < lost + tangle.saved {
            HookFate::Hauled
        } else {
            HookFate::Unknown
        };
        hook.doubts.push(Doubt::new(
            "tangle",
            &tangle.id,
            "This hook lay in a tangle: which of its hooks were saved, and when, is not known.",
        ));
    }
}

fn stretch_baskets(work: &SetWork<'_>, line: &Line, kind: Kind, doubts: &mut Vec<Doubt>) -> BTreeSet<i64> {
    let mut baskets = BTreeSet::new();
    for fact in work.facts().filter(|fact| fact.kind() == kind) {
        let (Data::GearLost(data) | Data::GearRecovered(data)) = fact.data.as_ref() else { continue };
        match whole(data.from_place).zip(whole(data.to_place)) {
            Some((from, to)) if from != to => {
                let last = i64::try_from(line.baskets.len()).unwrap_or(0);
                baskets.extend(from.min(to).max(1)..from.max(to).min(last + 1));
            }
            _ => doubts.push(incomplete(fact.id(), "Gear lost or found lacks the places it reached from and to.")),
        }
    }
    baskets
}
