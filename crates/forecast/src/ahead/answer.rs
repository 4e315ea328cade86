//! What is told of the set that goes out. What does not follow is null, and a doubt says what is missing.

use quantity::UtcInstant;
use serde::Serialize;
use voyage::Doubt;

use crate::zones::ZoneDistance;

/// The set that goes out, and what is ahead of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = SetAhead))]
pub struct Ahead {
    /// The moment for which it is told.
    pub at: UtcInstant,
    /// True while the line goes out.
    pub setting: bool,
    /// Hooks set so far, empty positions not counted.
    pub hooks_set: i64,
    /// Baskets begun so far.
    pub baskets_set: i64,
    /// Hooks still to come; null where nothing tells.
    pub hooks_to_come: Option<i64>,
    /// Baskets still to come after the one being hung; null where nothing tells.
    pub baskets_to_come: Option<i64>,
    /// What that rests on.
    pub rests_on: AheadRestsOn,
    /// When setting will have ended; null once it has, and where nothing tells.
    pub end_of_setting: Option<EndOfSetting>,
    /// Pace now against the plan; null once setting has ended.
    pub pace: Option<Pace>,
    /// What would keep the sag ratio and the spacing; empty while they are kept.
    pub suggestions: Vec<Suggestion>,
    /// Main line, bins, bait, floats and radio buoys left against what is still needed.
    pub stores: Vec<StoreLeft>,
    /// The line by stretches: from one change of gear or course to the next, what is out first.
    pub stretches: Vec<AheadStretch>,
    /// The wanted layer, m: upper, lower.
    pub wanted_layer_m: Option<[f64; 2]>,
    /// Hooks by daylight: always counted.
    pub daylight: Daylight,
    /// How near the line comes to the zones that were loaded.
    pub zones: Vec<AheadZone>,
    /// Warnings: only where a loaded rule covers the position, or the master chose to set by night.
    pub warnings: Vec<Doubt>,
    /// What is not certain.
    pub doubts: Vec<Doubt>,
}

/// What the number of hooks to come rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum AheadRestsOn {
    /// The plan tells its baskets.
    PlannedBaskets,
    /// The plan tells its hooks.
    PlannedHooks,
    /// As many baskets as the last set with this gear had.
    LastSet,
    /// No plan: until the main line aboard is out.
    MainLineLeft,
    /// No plan: until the bins are empty.
    BinsLeft,
    /// No plan: until the floats are out.
    FloatsLeft,
    /// Nothing tells.
    Nothing,
}

/// The end of setting.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EndOfSetting {
    /// When, stops to come included as far as the stops so far tell of them.
    pub at: UtcInstant,
    /// One standard error of it, seconds: how the stops so far scatter, and at least a beat.
    pub band_s: f64,
    /// When, if setting stood still no more.
    pub without_stops: UtcInstant,
    /// Beats still to come.
    pub beats_left: f64,
    /// Stops so far.
    pub stops: usize,
    /// How long they lasted together, seconds.
    pub stopped_s: f64,
    /// What is allowed for stops to come, seconds.
    pub allowed_for_stops_s: f64,
}

/// Pace now against the plan.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Pace {
    /// The shooter, m/s.
    pub shooter_speed_m_s: Option<f64>,
    /// As planned.
    pub planned_shooter_speed_m_s: Option<f64>,
    /// The ship's speed over the last minutes, knots.
    pub ship_speed_kn: Option<f64>,
    /// True where that is over the ground, for want of speed through the water.
    pub speed_is_over_ground: bool,
    /// As planned.
    pub planned_ship_speed_kn: Option<f64>,
    /// Float span ÷ main line as it is now.
    pub sag_ratio: Option<f64>,
    /// As planned.
    pub planned_sag_ratio: Option<f64>,
    /// Of the last whole basket.
    pub last_basket_sag_ratio: Option<f64>,
    /// Seconds between two clips.
    pub beat_s: Option<f64>,
    /// As planned.
    pub planned_beat_s: Option<f64>,
    /// Main line between clips as it is now, m.
    pub clip_spacing_m: Option<f64>,
    /// As planned.
    pub planned_clip_spacing_m: Option<f64>,
    /// Deepest hook of a basket as it goes out now, m.
    pub deepest_m: Option<f64>,
    /// Half-width of its band, m.
    pub deepest_band_m: Option<f64>,
    /// The same with the planned sag ratio and spacing.
    pub planned_deepest_m: Option<f64>,
}

/// What a suggestion answers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum SuggestionKind {
    /// The sag ratio has gone off: another shooter speed keeps it, and another beat keeps the spacing.
    ShooterAndBeat,
    /// The spacing has gone off: another beat keeps it.
    Beat,
}

/// A suggestion.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Suggestion {
    /// Which.
    pub kind: SuggestionKind,
    /// The shooter speed, m/s; null without a shooter.
    pub shooter_speed_m_s: Option<f64>,
    /// The same, metres a minute.
    pub shooter_speed_m_min: Option<f64>,
    /// Seconds between two clips; null where no spacing is known.
    pub beat_s: Option<f64>,
    /// The sag ratio that it keeps.
    pub sag_ratio: Option<f64>,
    /// The spacing that it keeps, m.
    pub clip_spacing_m: Option<f64>,
    /// The same in a sentence.
    pub text: String,
}

/// What something left is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum StoreWhat {
    /// Main line, metres.
    MainLineM,
    /// Hooks in bins.
    HooksInBins,
    /// Pieces of bait thawed.
    BaitPieces,
    /// Floats.
    Floats,
    /// Radio buoys.
    RadioBuoys,
}

/// Something left against what is still needed.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StoreLeft {
    /// What.
    pub what: StoreWhat,
    /// Left now; null where it was never counted.
    pub left: Option<f64>,
    /// Still needed for this set; null where that is not known.
    pub needed: Option<f64>,
    /// Left when this set is out; below 0: so much is lacking.
    pub left_at_end: Option<f64>,
    /// Of which kinds, and how much of each.
    pub of_kinds: Vec<KindLeft>,
}

/// One kind of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct KindLeft {
    /// The kind, or the bin.
    pub kind: String,
    /// Left now.
    pub left: f64,
}

/// A stretch of the line: one gear, one course.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AheadStretch {
    /// Its first basket.
    pub from_basket: i64,
    /// Its last basket.
    pub to_basket: i64,
    /// True where it is not out yet.
    pub to_come: bool,
    /// Course, degrees true; null where nobody told it and no places tell it.
    pub course_deg_true: Option<f64>,
    /// Its hooks: those in the water, or those to come.
    pub hooks: i64,
    /// Hooks of a whole basket in it.
    pub hooks_per_basket: Option<i64>,
    /// Float line, m.
    pub float_line_m: Option<f64>,
    /// Branch line, m.
    pub branch_line_m: Option<f64>,
    /// Mean sag ratio.
    pub sag_ratio: Option<f64>,
    /// Hooks with a computed depth.
    pub hooks_with_depth: i64,
    /// Of these, in the wanted layer; null without one.
    pub hooks_in_layer: Option<i64>,
    /// Of these, with their whole band in it.
    pub hooks_surely_in_layer: Option<i64>,
    /// Shallowest hook, m.
    pub shallowest_m: Option<f64>,
    /// Half-width of its band, m.
    pub shallowest_band_m: Option<f64>,
    /// Deepest hook, m.
    pub deepest_m: Option<f64>,
    /// Half-width of its band, m.
    pub deepest_band_m: Option<f64>,
}

/// Hooks by daylight: clipped with the upper edge of the sun above the horizon.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Daylight {
    /// Hooks so far by daylight.
    pub hooks_by_daylight: i64,
    /// Hooks so far whose time and place are known.
    pub hooks_judged: i64,
    /// Hooks to come by daylight, if the ship goes on as now; null where that is not known.
    pub to_come_by_daylight: Option<i64>,
}

/// How near the line comes to a zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AheadZone {
    /// The zone.
    pub name: String,
    /// The line as far as it is out; null without places.
    pub line_so_far: Option<ZoneDistance>,
    /// The ship now; null where her place is not known.
    pub ship: Option<ZoneDistance>,
    /// The way that is ahead; null where that is not known.
    pub way_ahead: Option<ZoneDistance>,
}
