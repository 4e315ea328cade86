//! When the hooks of a basket were clipped and lifted: told hook by hook, or from the start of setting and hauling.

use std::collections::BTreeMap;

use gear::{GearDoubt, GearDoubtKind, GearError, Rig};
use quantity::UtcInstant;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::plumbing::Failure;

/// Which end of the basket comes up first.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum HauledFrom {
    /// The end that was set first.
    FirstSet,
    /// The end that was set last.
    #[default]
    LastSet,
}

/// Times as the command reads them; all may be left out.
#[derive(Debug, Deserialize, ToSchema)]
pub struct TimesInput {
    /// When the first float of the basket was clipped.
    #[serde(default)]
    setting_started_at: Option<UtcInstant>,
    /// When the first float of the basket to come up was lifted.
    #[serde(default)]
    hauling_started_at: Option<UtcInstant>,
    /// Seconds from hook to hook at hauling.
    #[serde(default)]
    hauling_beat_s: Option<f64>,
    /// Which end of the basket came up first; the one set last when left out.
    #[serde(default)]
    hauled_from: HauledFrom,
    /// Hooks whose times are known one by one; they go before the times that follow from setting and hauling.
    #[serde(default)]
    hooks: Vec<HookTimesInput>,
}

/// Times of one hook.
#[derive(Debug, Deserialize, ToSchema)]
struct HookTimesInput {
    /// Hook position in setting order, from 1.
    position: u32,
    /// When it was clipped.
    #[serde(default)]
    clipped_at: Option<UtcInstant>,
    /// When it was lifted.
    #[serde(default)]
    lifted_at: Option<UtcInstant>,
}

/// When a hook was clipped and lifted, as far as it is known.
#[derive(Debug, Clone, Copy, Default)]
pub struct HookTimes {
    pub clipped_at: Option<UtcInstant>,
    pub lifted_at: Option<UtcInstant>,
}

/// The times of a basket, checked.
#[derive(Debug)]
pub struct Times {
    setting_started_at: Option<UtcInstant>,
    /// When the first float came up, seconds from hook to hook, and the way round.
    hauling: Option<(UtcInstant, f64, HauledFrom)>,
    hooks: u32,
    /// Beats from the float to the first hook.
    lead: f64,
    told: BTreeMap<u32, HookTimes>,
    pub doubts: Vec<GearDoubt>,
}

impl Times {
    /// Checks the times.
    ///
    /// # Errors
    /// Bad input for a hook that the basket does not have or that is told twice, for a beat of hauling that is none, and
    /// for a hook lifted before it was clipped.
    pub fn of(input: &TimesInput, rig: &Rig) -> Result<Self, Failure> {
        let hooks = rig.basket.hooks;
        let mut doubts = Vec::new();
        if let Some(value) = input.hauling_beat_s.filter(|beat_s| !(0.0..=3600.0).contains(beat_s)) {
            let (field, rule) = ("hauling_beat_s", "from 0 to 3600 s");
            return Err(Failure::bad_input(GearError::OutOfRange { field, value, unit: " s", rule }));
        }
        if input.hauling_started_at.is_some() && input.hauling_beat_s.is_none() {
            let text = "hauling_beat_s was not given: all hooks are taken as lifted at hauling_started_at.".to_owned();
            doubts.push(GearDoubt::new(GearDoubtKind::Assumed, text));
        }
        let mut told = BTreeMap::new();
        for hook in &input.hooks {
            let position = hook.position;
            if !(1..=hooks).contains(&position) {
                return Err(Failure::BadInput(format!(
                    "hooks tells of position {position}, but the basket has hooks 1 to {hooks}; nothing was computed."
                )));
            }
            let times = HookTimes { clipped_at: hook.clipped_at, lifted_at: hook.lifted_at };
            if told.insert(position, times).is_some() {
                return Err(Failure::BadInput(format!(
                    "hooks tells of position {position} twice. Take one of the two out; nothing was computed."
                )));
            }
        }
        let times = Self {
            setting_started_at: input.setting_started_at,
            hauling: input
                .hauling_started_at
                .map(|started| (started, input.hauling_beat_s.unwrap_or(0.0), input.hauled_from)),
            hooks,
            lead: if rig.basket.float_takes_a_beat { 0.0 } else { 0.5 },
            told,
            doubts,
        };
        Ok(times)
    }

    /// The times of a hook that goes over the stern so long after the first float.
    ///
    /// # Errors
    /// Bad input when it was lifted before it was clipped.
    pub fn of_hook(&self, position: u32, clipped_s: f64) -> Result<HookTimes, Failure> {
        let told = self.told.get(&position).copied().unwrap_or_default();
        let by_setting = self.setting_started_at.map(|started| started.plus_seconds(clipped_s));
        let by_hauling = self.hauling.map(|(started, beat_s, from)| {
            let count = match from {
                HauledFrom::FirstSet => position,
                HauledFrom::LastSet => self.hooks + 1 - position,
            };
            started.plus_seconds((f64::from(count) - self.lead) * beat_s)
        });
        let times = HookTimes { clipped_at: told.clipped_at.or(by_setting), lifted_at: told.lifted_at.or(by_hauling) };
        if let (Some(clipped), Some(lifted)) = (times.clipped_at, times.lifted_at)
            && lifted < clipped
        {
            return Err(Failure::BadInput(format!(
                "hook {position} is lifted at {lifted}, before it is clipped at {clipped}. Correct one of them; nothing was \
                 computed."
            )));
        }
        Ok(times)
    }
}
