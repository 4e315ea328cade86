//! What advice is answered: the plans, how they stand up to another current, and what was left out.

use serde::Serialize;

use super::TargetBand;
use super::grid::Steps;
use super::limits::Limits;
use super::pace::Reason;
use crate::band::InputErrors;
use crate::catenary::HookPlace;
use crate::doubt::GearDoubt;
use crate::hang::Drift;

/// Plans that put most hooks into a band.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Advice {
    /// The model that the depths come from.
    pub model: String,
    /// The band that was asked for.
    pub target: TargetBand,
    /// The limits, with what was taken for those left out.
    pub limits: Limits,
    /// Plans that differ from each other in hooks per basket or sag ratio, most hooks in the band first.
    pub plans: Vec<Plan>,
    /// Why there is no plan; null where there is one.
    pub no_plan_because: Option<String>,
    /// What was searched.
    pub searched: Searched,
    /// The standard errors that the bands of the hooks rest on.
    pub errors: InputErrors,
    /// By how much the current was changed to see how the plans stand up to it, m/s.
    pub current_change_m_s: f64,
    /// What is not certain about all of it.
    pub doubts: Vec<GearDoubt>,
}

/// A gear as it would be set, and where its hooks hang.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Plan {
    /// Hooks between two floats.
    pub hooks_per_basket: u32,
    /// Span between floats ÷ main line between them.
    pub sag_ratio: f64,
    /// Length of the float lines, metres.
    pub float_line_m: f64,
    /// Main line between two clips, metres.
    pub clip_spacing_m: f64,
    /// Seconds between two clips.
    pub beat_s: f64,
    /// The ship's speed through the water, knots.
    pub vessel_speed_through_water_kn: f64,
    /// The main line's speed from the shooter, m/s.
    pub shooter_speed_m_s: f64,
    /// Baskets of the set, all of them full.
    pub baskets: u32,
    /// Floats needed, one at either end.
    pub floats: u32,
    /// Hooks of the set.
    pub hooks: u32,
    /// Hooks of the set in the band.
    pub hooks_in_band: u32,
    /// Hooks of a basket in the band.
    pub hooks_in_band_per_basket: u32,
    /// Share of the hooks in the band.
    pub share_in_band: f64,
    /// Hooks of the set that are in the band with all of their own ± (`band_m`); null where that is not known.
    pub hooks_surely_in_band: Option<u32>,
    /// The shallowest hook, metres.
    pub shallowest_hook_m: f64,
    /// The deepest hook, metres.
    pub deepest_hook_m: f64,
    /// Main line needed, metres.
    pub main_line_m: f64,
    /// Time that setting takes without stops, seconds.
    pub setting_time_s: f64,
    /// Length of the set over the water, metres.
    pub set_length_m: f64,
    /// What keeps the set from having one basket more: hooks, line, time or floats.
    pub held_by: Reason,
    /// Velocity of the drifting row over ground, towards; null in still water by the closed form.
    pub drift: Option<Drift>,
    /// The change of the current that leaves fewest hooks in the band; null in still water by the closed form.
    pub worst: Option<Changed>,
    /// Every change of the current that was tried.
    pub changes: Vec<Changed>,
    /// Every hook of a basket in setting order.
    pub hook_places: Vec<HookPlace>,
    /// What is not certain about this plan.
    pub doubts: Vec<GearDoubt>,
}

/// A change of the current: at the surface in full, fading to nothing at the plan's deepest hook, so that the shear
/// changes (what is added at all depths alike only carries the gear along).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// More along the line.
    MoreAlong,
    /// Less along the line.
    LessAlong,
    /// More towards starboard of the line.
    MoreToStarboard,
    /// More towards port of the line.
    MoreToPort,
    /// The shear that is there, stronger.
    ShearStronger,
    /// The shear that is there, weaker.
    ShearWeaker,
}

/// A plan in a changed current.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Changed {
    /// The change.
    pub change: Change,
    /// The change in words.
    pub text: String,
    /// Hooks of the set in the band; null where no balanced shape was found.
    pub hooks_in_band: Option<u32>,
    /// The shallowest hook, metres.
    pub shallowest_hook_m: Option<f64>,
    /// The deepest hook, metres.
    pub deepest_hook_m: Option<f64>,
    /// Whether a float goes under; null where its buoyancy is not known.
    pub float_goes_under: Option<bool>,
    /// Velocity of the drifting row over ground, towards.
    pub drift: Option<Drift>,
}

/// What was searched.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Searched {
    /// Gears of the grid.
    pub grid: usize,
    /// Gears that fit the limits and were tried in the water.
    pub tried: usize,
    /// Steps of the grid.
    pub steps: Steps,
    /// Gears that were left out, by the first reason met.
    pub left_out: Vec<LeftOut>,
}

/// Gears that were left out for one reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LeftOut {
    /// The reason.
    pub reason: Reason,
    /// The reason in words.
    pub text: String,
    /// How many.
    pub count: usize,
}
