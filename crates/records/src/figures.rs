//! The figures of a set: what was put out, what came back, what it caught, and what is not sure.
//!
//! Pure counting over the fold's answer. Set = hauled + lost + unknown once a set is closed; while it is open,
//! hooks still in the water stand beside them. Rates are per 1,000 hooks set.

use std::collections::BTreeMap;

use forecast::HookDepth;
use quantity::{Position, UtcInstant};
use serde::Serialize;
use voyage::{CatchFate, Doubt, HookFate, SetRecord, VoyageRecord};

use crate::by_position::{ByPosition, catch_by_hook_position};
use crate::handling::{Handling, handling};

/// The report of one set. What is not known is null.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Report {
    /// Number of the voyage in the journal.
    pub voyage: usize,
    /// Number of the set in the voyage.
    pub set: usize,
    /// Id of the set's first event.
    pub set_id: String,
    /// The vessel's particulars as entered.
    pub vessel: BTreeMap<String, String>,
    /// Ship time minus UTC when setting began, minutes.
    pub utc_offset_min: Option<i64>,
    /// True until the last haul part has ended for good.
    pub open: bool,
    /// Hooks set: empty positions not counted.
    pub hooks_set: usize,
    /// Hooks still out.
    pub hooks_in_water: usize,
    /// Hooks back aboard.
    pub hooks_hauled: usize,
    /// Hooks that will not come back, branch lines included.
    pub hooks_lost: usize,
    /// Branch lines bitten, broken or cut off: a part of the lost.
    pub branch_lines_lost: usize,
    /// Hooks of a closed set of which nobody knows.
    pub hooks_unknown: usize,
    /// Baskets.
    pub baskets: usize,
    /// Places in the line that a float holds, not a radio buoy.
    pub floats_set: usize,
    /// Of these, hauled.
    pub floats_hauled: usize,
    /// Radio buoys launched with the line.
    pub radio_buoys: usize,
    /// Main line that went out, metres.
    pub main_line_total_m: Option<f64>,
    /// When and where the line was set.
    pub setting: Span,
    /// When and where it was hauled.
    pub hauling: Hauling,
    /// Catch by species, by code.
    pub catch: Vec<CatchLine>,
    /// Catch by hook position counted from the nearer float.
    pub catch_by_hook_position: Vec<ByPosition>,
    /// How the fish were handled.
    pub handling: Handling,
    /// What is not sure.
    pub doubts: Vec<Doubt>,
}

/// A stretch of time with the ship's place at both ends.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Span {
    /// When it began.
    pub start_utc: Option<UtcInstant>,
    /// When it ended.
    pub end_utc: Option<UtcInstant>,
    /// Where it began.
    pub start: Option<Position>,
    /// Where it ended.
    pub end: Option<Position>,
}

/// The haul with its parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Hauling {
    /// When the first part began.
    pub start_utc: Option<UtcInstant>,
    /// When the last part ended; null while the set is open.
    pub end_utc: Option<UtcInstant>,
    /// Where the first part began.
    pub start: Option<Position>,
    /// Where the last part ended; null while the set is open.
    pub end: Option<Position>,
    /// Parts in order of time.
    pub parts: Vec<HaulSpan>,
}

/// One part of a haul.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HaulSpan {
    /// Id of its first event.
    pub haul: String,
    /// `to_first` or `to_last`.
    pub direction: Option<String>,
    /// Place in the line at which it began.
    pub from_place: Option<i64>,
    /// When it began.
    pub start_utc: UtcInstant,
    /// When it ended.
    pub end_utc: Option<UtcInstant>,
    /// Why it ended.
    pub reason: Option<String>,
}

/// The catch of one species.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CatchLine {
    /// Alpha-3 code as entered; null for fish that nobody named.
    pub species: Option<String>,
    /// Kept, bitten and kept included.
    pub retained: usize,
    /// Let go.
    pub released: usize,
    /// Thrown away.
    pub discarded: usize,
    /// Lost at the rail, or bitten and not kept.
    pub lost: usize,
    /// All four together, per 1,000 hooks set.
    pub caught_per_thousand_hooks: Option<f64>,
    /// Kept, per 1,000 hooks set.
    pub retained_per_thousand_hooks: Option<f64>,
    /// Weight kept by product form, kg; `not stated` where no form was entered. Fish not weighed are not in it.
    pub retained_weight_kg: BTreeMap<String, f64>,
}

impl CatchLine {
    /// Fish of this species that came to the rail.
    #[must_use]
    pub const fn caught(&self) -> usize {
        self.retained + self.released + self.discarded + self.lost
    }
}

/// The report of a set. `depths` is [`forecast::depths`] of the same set.
#[must_use]
pub fn report(voyage: &VoyageRecord, set: &SetRecord, depths: &[HookDepth]) -> Report {
    let fates = |fate: HookFate| set.hooks.iter().filter(|hook| hook.fate == fate).count();
    let hooks_set = set.hooks.len() - fates(HookFate::Missed);
    let floats = || set.places.iter().filter(|place| place.radio_buoy.is_none());
    Report {
        voyage: voyage.number,
        set: set.number,
        set_id: set.id.clone(),
        vessel: voyage.vessel.clone(),
        utc_offset_min: utc_offset_min(voyage, set.started_at),
        open: set.open,
        hooks_set,
        hooks_in_water: fates(HookFate::InWater),
        hooks_hauled: fates(HookFate::Hauled),
        hooks_lost: fates(HookFate::Lost),
        branch_lines_lost: set.branch_lines_lost,
        hooks_unknown: fates(HookFate::Unknown),
        baskets: set.baskets.len(),
        floats_set: floats().count(),
        floats_hauled: floats().filter(|place| place.hauled_at.is_some()).count(),
        radio_buoys: set.radio_buoys.len().max(set.places.len() - floats().count()),
        main_line_total_m: set.main_line_total_m,
        setting: Span { start_utc: Some(set.started_at), end_utc: set.ended_at, start: set.start, end: set.end },
        hauling: hauling(set),
        catch: catch_lines(set, hooks_set),
        catch_by_hook_position: catch_by_hook_position(set),
        handling: handling(set),
        doubts: all_doubts(set, depths),
    }
}

/// Ship time minus UTC at a moment, minutes: the last that held by then, else the first there is.
#[must_use]
pub fn utc_offset_min(voyage: &VoyageRecord, at: UtcInstant) -> Option<i64> {
    let held = voyage.utc_offsets.iter().rev().find(|(from, _)| *from <= at);
    held.or_else(|| voyage.utc_offsets.first()).map(|(_, minutes)| *minutes)
}

fn hauling(set: &SetRecord) -> Hauling {
    let last = set.parts.last().filter(|_| !set.open);
    Hauling {
        start_utc: set.parts.first().map(|part| part.started_at),
        end_utc: last.and_then(|part| part.ended_at),
        start: set.parts.first().and_then(|part| part.start),
        end: last.and_then(|part| part.end),
        parts: set
            .parts
            .iter()
            .map(|part| HaulSpan {
                haul: part.haul.clone(),
                direction: part.direction.clone(),
                from_place: part.from_place,
                start_utc: part.started_at,
                end_utc: part.ended_at,
                reason: part.reason.clone(),
            })
            .collect(),
    }
}

/// A count per 1,000 hooks; none where there are no hooks.
#[must_use]
pub fn per_thousand(count: usize, hooks: usize) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "counts of hooks and fish are far below 2^52")]
    (hooks > 0).then(|| 1000.0 * count as f64 / hooks as f64)
}

fn catch_lines(set: &SetRecord, hooks_set: usize) -> Vec<CatchLine> {
    let mut lines: BTreeMap<(bool, String), CatchLine> = BTreeMap::new();
    for fish in &set.fish {
        // Fish without a name come last.
        let key = (fish.species.is_none(), fish.species.clone().unwrap_or_default());
        let line = lines.entry(key).or_insert_with(|| CatchLine {
            species: fish.species.clone(),
            retained: 0,
            released: 0,
            discarded: 0,
            lost: 0,
            caught_per_thousand_hooks: None,
            retained_per_thousand_hooks: None,
            retained_weight_kg: BTreeMap::new(),
        });
        match fish.fate {
            CatchFate::Retained => line.retained += 1,
            CatchFate::Released => line.released += 1,
            CatchFate::Discarded => line.discarded += 1,
            CatchFate::Lost => line.lost += 1,
        }
        if let (CatchFate::Retained, Some(weight_kg)) = (fish.fate, fish.weight_kg) {
            let form = fish.weight_form.as_ref().or(fish.form.as_ref());
            *line.retained_weight_kg.entry(form.map_or("not stated".to_owned(), Clone::clone)).or_default() +=
                weight_kg;
        }
    }
    let mut lines: Vec<CatchLine> = lines.into_values().collect();
    for line in &mut lines {
        line.caught_per_thousand_hooks = per_thousand(line.caught(), hooks_set);
        line.retained_per_thousand_hooks = per_thousand(line.retained, hooks_set);
    }
    lines
}

/// The set's own doubts, those of its hooks gathered by what they say, and those of its depths.
fn all_doubts(set: &SetRecord, depths: &[HookDepth]) -> Vec<Doubt> {
    let mut doubts = set.doubts.clone();
    let mut of_hooks: BTreeMap<(&str, &str), Vec<&Doubt>> = BTreeMap::new();
    for doubt in set.hooks.iter().flat_map(|hook| &hook.doubts) {
        of_hooks.entry((&doubt.kind, &doubt.text)).or_default().push(doubt);
    }
    for ((kind, text), same) in of_hooks {
        if doubts.iter().any(|doubt| doubt.kind == kind && doubt.text == text) {
            continue;
        }
        let concerns = match same.as_slice() {
            [first, .., last] if first.concerns != last.concerns => {
                format!("{} hooks, {} to {}", same.len(), first.concerns, last.concerns)
            }
            _ => same.first().map(|doubt| doubt.concerns.clone()).unwrap_or_default(),
        };
        doubts.push(Doubt::new(kind, concerns, text));
    }
    let mut of_depths: BTreeMap<&str, Vec<&Doubt>> = BTreeMap::new();
    for doubt in depths.iter().flat_map(|depth| &depth.doubts) {
        let known = of_depths.entry(&doubt.kind).or_default();
        // The hooks of one basket stand together, and so do their doubts.
        if known.last() != Some(&doubt) {
            known.push(doubt);
        }
    }
    for same in of_depths.into_values() {
        match same.as_slice() {
            [first, .., last] if same.len() > 3 => doubts.push(Doubt::new(
                &first.kind,
                format!("{} to {}", first.concerns, last.concerns),
                format!("{} The same holds for {} more baskets.", first.text, same.len() - 1),
            )),
            few => doubts.extend(few.iter().map(|doubt| (*doubt).clone())),
        }
    }
    doubts
}
