//! The baskets of a set that are still to come: how many, and how each will hang if the ship goes on as she does.
//!
//! Spacing = shooter speed × beat and sag ratio = ship's speed through the water ÷ shooter speed (common practice, no
//! source); without a shooter's speed the last basket's own numbers, else the plan's.

use std::borrow::Cow;

use serde::Serialize;
use voyage::{Basket, SetRecord, VoyageRecord, plan_number};

/// One knot in metres a second (1,852 m in 3,600 s, by definition).
pub(crate) const KNOT_M_S: f64 = 1852.0 / 3600.0;
/// More baskets than any line has.
const MOST_BASKETS: i64 = 5_000;

/// What a number of baskets rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum RestsOn {
    /// The plan tells its baskets.
    PlannedBaskets,
    /// The plan tells its hooks.
    PlannedHooks,
    /// As many as the last set with this gear had.
    LastSet,
    /// Nothing tells.
    Nothing,
}

/// The baskets after the one that is being hung.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ToCome {
    /// How many, a short last one included.
    pub baskets: i64,
    /// Hooks in the last one where it is short.
    pub hooks_in_last: Option<i64>,
    /// What that rests on.
    pub rests_on: RestsOn,
}

/// How many baskets are still to come; none once setting has ended.
#[must_use]
pub fn to_come(voyage: &VoyageRecord, set: &SetRecord) -> ToCome {
    let none = ToCome { baskets: 0, hooks_in_last: None, rests_on: RestsOn::Nothing };
    let setting = set.open && set.parts.is_empty() && set.ended_at.is_none();
    if !setting {
        return none;
    }
    let now_at = set.outgoing.being_set.as_ref().map_or(0, |being| being.basket);
    let left = |all: i64, rests_on| ToCome { baskets: (all - now_at).max(0), hooks_in_last: None, rests_on };
    if let Some(baskets) = plan_count(set, "baskets", MOST_BASKETS) {
        return left(baskets, RestsOn::PlannedBaskets);
    }
    if let Some(hooks) = plan_count(set, "hooks", MOST_BASKETS * 100) {
        return until_hooks(set, now_at, hooks);
    }
    let before = voyage
        .sets
        .iter()
        .rfind(|other| other.number < set.number && other.gear.name == set.gear.name && !other.baskets.is_empty());
    match before.and_then(|before| i64::try_from(before.baskets.len()).ok()) {
        Some(baskets) => left(baskets, RestsOn::LastSet),
        None => none,
    }
}

/// A whole number of the plan, from 1 on.
pub(crate) fn plan_count(set: &SetRecord, name: &str, most: i64) -> Option<i64> {
    let number = plan_number(set.plan.as_ref(), name).filter(|number| (1.0..=1e9).contains(number))?;
    #[expect(clippy::cast_possible_truncation, reason = "between 1 and 10^9")]
    let count = number.round() as i64;
    (count <= most).then_some(count)
}

fn until_hooks(set: &SetRecord, now_at: i64, wanted: i64) -> ToCome {
    let being = set.outgoing.being_set.as_ref();
    let before: i64 = set.baskets.iter().filter(|basket| basket.basket < now_at).map(|basket| basket.hooks).sum();
    let mut hooks = before + being.map_or(0, |being| being.hooks);
    let mut to_come = ToCome { baskets: 0, hooks_in_last: None, rests_on: RestsOn::PlannedHooks };
    while hooks < wanted && to_come.baskets < MOST_BASKETS {
        let own = set.outgoing.gear_for(now_at + to_come.baskets + 1).map_or(0, |gear| gear.hooks);
        if own <= 0 {
            break;
        }
        to_come.hooks_in_last = (wanted - hooks < own).then_some(wanted - hooks);
        hooks += own;
        to_come.baskets += 1;
    }
    to_come
}

/// A basket that is being hung, as it will hang when it is full; any other as it is.
#[must_use]
pub fn as_when_full<'a>(set: &SetRecord, basket: &'a Basket) -> Cow<'a, Basket> {
    match &set.outgoing.being_set {
        Some(being) if being.basket == basket.basket && !basket.has_end_float => {
            let coming = basket_to_come(set, basket.basket);
            Cow::Owned(Basket {
                hooks: being.hooks.max(basket.hooks),
                has_end_float: true,
                main_line_m: None,
                sag_ratio: basket.sag_ratio.or(coming.sag_ratio),
                sag_basis: basket.sag_basis.or(coming.sag_basis),
                clip_spacing_m: basket.clip_spacing_m.or(coming.clip_spacing_m),
                ..basket.clone()
            })
        }
        _ => Cow::Borrowed(basket),
    }
}

/// The basket of that number as it will hang if the ship goes on as she does now.
#[must_use]
pub fn basket_to_come(set: &SetRecord, number: i64) -> Basket {
    let gear = set.outgoing.gear_for(number).cloned().unwrap_or_default();
    let being = set.outgoing.being_set.as_ref();
    let by_shooter = being.and_then(|being| Some(being.shooter_speed_m_s? * being.beat_s?));
    let sag_now = being.and_then(|being| Some(being.ship_speed_kn? * KNOT_M_S / being.shooter_speed_m_s?));
    let last = set.baskets.iter().rev().find(|basket| basket.has_end_float && basket.sag_ratio.is_some());
    let planned = plan_number(set.plan.as_ref(), "sag_ratio").filter(|ratio| *ratio > 0.0);
    let (sag_ratio, sag_basis) = match (sag_now, last) {
        (Some(now), _) => (Some(now), Some("measured")),
        (None, Some(last)) => (last.sag_ratio, last.sag_basis),
        (None, None) => (planned, planned.map(|_| "plan")),
    };
    Basket {
        basket: number,
        hooks: gear.hooks,
        first_hook: set.hooks.len(),
        has_end_float: true,
        float_takes_a_beat: gear.float_takes_a_beat,
        main_line_m: None,
        clip_spacing_m: by_shooter.or(gear.clip_spacing_m),
        sag_ratio,
        sag_basis,
        float_line_m: gear.float_line_m,
        branch_type: gear.branch_type,
        branch_line_m: gear.branch_line_m,
        empty_line_m: 0.0,
        tangled: false,
    }
}
