//! Hooks by daylight, so far and to come. Warnings stand only where the master chose to set by night or a loaded rule
//! covers the place.

use quantity::{Position, UtcInstant, sun};
use voyage::{Doubt, Hook, HookFate, SetRecord};

use super::answer::Daylight;
use super::coming::Coming;
use super::count;
use super::near::Way;
use crate::zones::Zone;

pub(super) fn daylight(set: &SetRecord, coming: &Coming, way: &Way) -> (Daylight, Vec<Doubt>) {
    let so_far = by_day(set);
    let known = || set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed && seen(set, hook).is_some());
    let to_come = || -> Option<i64> {
        let mut by_day = 0;
        for basket in &coming.baskets {
            let hooks = basket.hooks();
            let at = |position: i64| -> Option<bool> {
                let beats = basket.beat_of(position);
                is_day(way.place_at(beats)?, way.time_at(beats)?)
            };
            by_day += days_among(basket.out + 1, hooks, &at)?;
        }
        Some(by_day)
    };
    let to_come_by_daylight = if coming.baskets.is_empty() { None } else { to_come() };
    let daylight =
        Daylight { hooks_by_daylight: count(so_far.len()), hooks_judged: count(known().count()), to_come_by_daylight };
    let mut warnings = Vec::new();
    let ahead = to_come_by_daylight.unwrap_or(0);
    if set.night == Some(true) && (daylight.hooks_by_daylight > 0 || ahead > 0) {
        let so_far =
            format!("{} of {} hooks so far went out by daylight", daylight.hooks_by_daylight, daylight.hooks_judged);
        let still = if ahead > 0 { format!(", and {ahead} of those to come will") } else { String::new() };
        let text = format!("Night setting was chosen: {so_far}{still} (upper edge of the sun above the horizon).");
        warnings.push(Doubt::new("hooks_by_daylight", "set", text));
    }
    (daylight, warnings)
}

/// A loaded rule has hooks set by night in its zone: how many were not.
pub(super) fn by_rules(set: &SetRecord, rules: &[Zone]) -> Vec<Doubt> {
    if rules.is_empty() {
        return Vec::new();
    }
    let by_day = by_day(set);
    let told = rules.iter().filter_map(|rule| {
        let within = by_day.iter().filter(|place| rule.contains(**place)).count();
        let text = format!(
            "The loaded rule \"{}\" has hooks set by night: {within} hooks were clipped within its zone by daylight (upper edge of the sun above the horizon). Not met.",
            rule.name
        );
        (within > 0).then(|| Doubt::new("night_rule", format!("zone {}", rule.name), text))
    });
    told.collect()
}

/// When and where a hook was clipped.
fn seen(set: &SetRecord, hook: &Hook) -> Option<(UtcInstant, Position)> {
    hook.clipped_at.zip(hook.place.or(set.start))
}

/// Where hooks were clipped by daylight.
fn by_day(set: &SetRecord) -> Vec<Position> {
    let mut all = Vec::new();
    for basket in &set.baskets {
        let own = set.hooks.iter().skip(basket.first_hook).take(usize::try_from(basket.hooks).unwrap_or(0));
        let own: Vec<(UtcInstant, Position)> =
            own.filter(|hook| hook.fate != HookFate::Missed).filter_map(|hook| seen(set, hook)).collect();
        let day = |at: Option<&(UtcInstant, Position)>| at.and_then(|(when, place)| is_day(*place, *when));
        // Within a basket the light changes once at most: only where it does is each hook looked at.
        match (day(own.first()), day(own.last())) {
            (Some(true), Some(true)) => all.extend(own.iter().map(|(_, place)| *place)),
            (Some(false), Some(false)) | (None, None) => {}
            _ => all.extend(own.iter().filter(|hook| day(Some(hook)) == Some(true)).map(|(_, place)| *place)),
        }
    }
    all
}

fn is_day(place: Position, when: UtcInstant) -> Option<bool> {
    Some(sun::altitude_deg(place, when).ok()? >= sun::RISE_ALTITUDE_DEG)
}

/// How many of so many hooks are by day; the light changes once at most among them.
fn days_among(first: i64, hooks: i64, at: &impl Fn(i64) -> Option<bool>) -> Option<i64> {
    if hooks <= 0 {
        return Some(0);
    }
    let last = first + hooks - 1;
    let (begins, ends) = (at(first)?, at(last)?);
    if begins == ends {
        return Some(if begins { hooks } else { 0 });
    }
    let (mut before, mut after) = (first, last);
    while after - before > 1 {
        let middle = i64::midpoint(before, after);
        if at(middle)? == begins { before = middle } else { after = middle }
    }
    Some(if begins { before - first + 1 } else { last - before })
}
