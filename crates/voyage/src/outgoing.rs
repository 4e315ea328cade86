//! How a set is laid: gear by stretches, speeds, courses and stops, the basket that is being hung, and the bins.
//!
//! Everything that a forecast of the rest of a set starts from. Shooter, beat, spacing and sag ratio hang together as
//! in `fold/lengths.rs` (common practice, no source).

use quantity::{Position, UtcInstant};
use serde::Serialize;
use serde_json::Value;

/// How a set is laid.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Outgoing {
    /// What holds from which basket on, in order; begins with basket 1.
    pub gear_from: Vec<GearFrom>,
    /// Depths between which the plan wants the hooks, metres: upper, lower.
    pub wanted_layer_m: Option<(f64, f64)>,
    /// The courses that were planned, as entered.
    pub planned_legs: Vec<Value>,
    /// Shooter speeds, m/s, each from its moment on.
    pub shooter_speeds: Vec<(UtcInstant, f64)>,
    /// Courses, degrees true, each from its moment on.
    pub courses: Vec<(UtcInstant, f64)>,
    /// Stops of setting, united.
    pub stops: Vec<Stop>,
    /// The basket that is being hung; none before the first float and once setting has ended.
    pub being_set: Option<BeingSet>,
    /// The bins that were emptied for it, in order of time.
    pub bins: Vec<BinRun>,
    /// The next three bins while it goes out.
    pub next_bins: Vec<String>,
    /// Hooks by bins against hooks by beat at the last change of bins.
    pub bins_against_beat: Option<BinsAgainstBeat>,
}

/// What holds from a basket on.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct GearFrom {
    /// The first basket for which it holds.
    pub basket: i64,
    /// Hooks in a basket.
    pub hooks: i64,
    /// Whether the float has a beat of its own.
    pub float_takes_a_beat: bool,
    /// Main line between clips as stated, m; a shooter with a beat overrules it.
    pub clip_spacing_m: Option<f64>,
    /// Float line, m.
    pub float_line_m: Option<f64>,
    /// Type of the branch lines.
    pub branch_type: Option<String>,
    /// Branch line, m.
    pub branch_line_m: Option<f64>,
}

/// A stop of setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Stop {
    /// From.
    pub from: UtcInstant,
    /// To; none while it lasts.
    pub to: Option<UtcInstant>,
    /// Whether line ran out meanwhile; none where nobody said.
    pub line_running: Option<bool>,
}

/// The basket that is being hung, and what holds for it now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BeingSet {
    /// Its number.
    pub basket: i64,
    /// Its hook positions when it is full.
    pub hooks: i64,
    /// Positions of it whose beat has fallen, empty ones counted.
    pub hooks_out: i64,
    /// Seconds between two clips.
    pub beat_s: Option<f64>,
    /// When the next hook or float is due.
    pub next_due_at: Option<UtcInstant>,
    /// Main line between clips, m.
    pub clip_spacing_m: Option<f64>,
    /// The shooter, m/s.
    pub shooter_speed_m_s: Option<f64>,
    /// The ship's speed over the last minutes, knots: through the water where that is known.
    pub ship_speed_kn: Option<f64>,
    /// True where that speed is over the ground.
    pub speed_is_over_ground: bool,
    /// Where the ship is.
    pub ship: Option<Position>,
    /// Her course as told last, degrees true; else made good over the last minutes.
    pub course_deg_true: Option<f64>,
    /// Since when setting stands still.
    pub stopped_since: Option<UtcInstant>,
}

/// Hooks by bins against hooks by beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BinsAgainstBeat {
    /// When the last bin was done.
    pub at: UtcInstant,
    /// Hooks out of the bins that are done.
    pub hooks_by_bins: i64,
    /// Hooks clipped by then, by beat and floats.
    pub hooks_by_beat: i64,
}

/// A bin that was emptied into a set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BinRun {
    /// Its name.
    pub bin: String,
    /// When it was begun.
    pub started_at: Option<UtcInstant>,
    /// When it was done.
    pub ended_at: Option<UtcInstant>,
    /// Hooks in it when it was begun; none where nobody said.
    pub hooks: Option<i64>,
    /// Hooks left in it at its end.
    pub hooks_left: Option<i64>,
}

impl Outgoing {
    /// What holds for a basket.
    #[must_use]
    pub fn gear_for(&self, basket: i64) -> Option<&GearFrom> {
        self.gear_from.iter().rfind(|gear| gear.basket <= basket).or(self.gear_from.first())
    }

    /// The shooter speed in force, m/s.
    #[must_use]
    pub fn shooter_m_s(&self, t: UtcInstant) -> Option<f64> {
        self.shooter_speeds.iter().rfind(|(at, _)| *at <= t).map(|(_, speed)| *speed)
    }
}

/// A number of a plan, which may stand at its top, within its basket, or within its setting.
#[must_use]
pub fn plan_number(plan: Option<&Value>, name: &str) -> Option<f64> {
    let plan = plan?;
    let within = |part: &str| plan.get(part).and_then(|part| part.get(name));
    plan.get(name)
        .or_else(|| within("basket"))
        .or_else(|| within("setting"))?
        .as_f64()
        .filter(|number| number.is_finite())
}
