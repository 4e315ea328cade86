//! While a set goes out: what is still to come, when it ends, how deep it hangs and will hang, and what is left.
//!
//! Start with [`ahead`]. Pure: the same set at the same moment gives the same answer. It goes on from how the ship goes
//! now (speed, shooter, beat, course), and takes what is planned from the plan that the set follows.
//!
//! - Clip spacing = shooter speed × beat; sag ratio = ship's speed through the water ÷ shooter speed (common practice, no
//!   source).
//! - Stops to come: as often and as long as those so far (a compound Poisson process; its variance from the sum of the
//!   squared lengths, with that of the estimated rate: Ross, S. M. (1996), Stochastic Processes, 2nd ed., section 2.5;
//!   SOURCE NOT CHECKED in wording, derived again beside the formula).
//! - Depths are [`crate::hang`]'s, light is `quantity::sun`'s (centre −50′), distances are [`crate::zones`]'.

mod answer;
mod coming;
mod ending;
mod light;
mod near;
mod pace;
mod rules;
mod stores;
mod stretches;

use quantity::UtcInstant;
use voyage::{Doubt, HookFate, SetRecord, VoyageRecord};

pub use answer::{
    Ahead, AheadRestsOn, AheadStretch, AheadZone, Daylight, EndOfSetting, KindLeft, Pace, StoreLeft, StoreWhat,
    Suggestion, SuggestionKind,
};

pub use rules::night_rules;

use crate::HookDepth;
use crate::zones::Zone;

/// What was loaded from the boat's own tables.
#[derive(Debug, Clone, Copy, Default)]
pub struct Loaded<'a> {
    /// Zones whose distance is told.
    pub zones: &'a [Zone],
    /// Of these, where a loaded rule has hooks set by night.
    pub night_rules: &'a [Zone],
}

/// The set at `now`, and what is ahead of it. `depths` is [`crate::depths`] of the same set.
#[must_use]
pub fn ahead(
    voyage: &VoyageRecord,
    set: &SetRecord,
    depths: &[HookDepth],
    loaded: Loaded<'_>,
    now: UtcInstant,
) -> Ahead {
    let mut doubts: Vec<Doubt> = Vec::new();
    let setting = set.open && set.parts.is_empty() && set.ended_at.is_none();
    let left = stores::Left::of(voyage, set);
    let coming = coming::Coming::of(voyage, set, &left);
    if setting && coming.rests_on == AheadRestsOn::Nothing {
        let text = "Nothing tells how many baskets are to come: no plan, no set before with this gear, and neither main line, bins nor floats were counted.";
        doubts.push(Doubt::new("to_come_unknown", "set", text));
    }
    let end_of_setting = ending::end_of_setting(set, &coming, now, &mut doubts);
    let way = near::Way::of(set, &coming, now, &mut doubts);
    let (daylight, mut warnings) = light::daylight(set, &coming, &way);
    warnings.extend(light::by_rules(set, loaded.night_rules));
    let (pace, suggestions) = pace::pace(set, &mut doubts);
    let known = coming.rests_on != AheadRestsOn::Nothing;
    Ahead {
        at: now,
        setting,
        hooks_set: count(set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed).count()),
        baskets_set: set.outgoing.being_set.as_ref().map_or_else(|| count(set.baskets.len()), |being| being.basket),
        hooks_to_come: (setting && known).then_some(coming.hooks()),
        baskets_to_come: (setting && known).then(|| coming.whole_baskets()),
        rests_on: coming.rests_on,
        end_of_setting,
        pace,
        suggestions,
        stores: if setting { stores::stores(set, &left, &coming, known) } else { Vec::new() },
        stretches: stretches::stretches(set, depths, &coming),
        wanted_layer_m: set.outgoing.wanted_layer_m.map(|(upper_m, lower_m)| [upper_m, lower_m]),
        daylight,
        zones: near::zones(set, loaded.zones, &way, now),
        warnings,
        doubts,
    }
}

fn count(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// Counts here stay far below 2^53.
#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
fn to_f64(count: i64) -> f64 {
    count as f64
}
