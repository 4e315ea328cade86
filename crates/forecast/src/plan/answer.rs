//! What a plan answers. What does not follow is null, and a doubt says what is missing.

use gear::current::CurrentLevel;
use gear::{Cause, Setting};
use quantity::UtcInstant;
use serde::Serialize;
use serde_json::Value;
use voyage::Doubt;

use crate::zones::ZoneDistance;

/// A plan worked out.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Planned {
    /// The setting worked out, with its own doubts.
    pub setting: Setting,
    /// The order line for the stern.
    pub order: Order,
    /// The legs, each with the basket that hangs in it.
    pub stretches: Vec<Stretch>,
    /// Hooks of the whole set in the wanted layer; null without a layer, without depths or without hooks.
    pub hooks_in_layer: Option<u32>,
    /// The same with the current 0.1 m/s stronger; null where depths are for still water.
    pub hooks_in_layer_if_current_stronger: Option<u32>,
    /// Hooks of the set.
    pub hooks: Option<u32>,
    /// Where whole degrees lie, downward; an isotherm that is passed twice stands twice.
    pub isotherms: Vec<Isotherm>,
    /// The temperature profile as it is used, downward.
    pub temperature: Vec<Level>,
    /// The current profile as it is used, downward.
    pub current: Vec<CurrentLevel>,
    /// The wanted layer.
    pub layer_m: Option<[f64; 2]>,
    /// A round depth below everything that hangs: how deep to draw.
    pub draw_to_m: f64,
    /// Sums.
    pub totals: Totals,
    /// Needed against aboard.
    pub needed: Vec<Needed>,
    /// Bait by kind.
    pub bait: Vec<BaitNeeded>,
    /// Bins in the order in which they go out, with the hooks that are used of each.
    pub bins: Vec<BinUse>,
    /// Hooks that the bins lack; null where no bins were given or hooks are not known.
    pub bins_short_of_hooks: Option<u32>,
    /// The start and the end of each leg.
    pub track: Vec<TrackPoint>,
    /// Where radio buoys go out.
    pub radio_buoys: Vec<PlannedBuoy>,
    /// Sun and moon round the setting; null without a start and its time.
    pub sky: Option<SkyWindow>,
    /// How near the line comes to zones.
    pub zones: Vec<ZoneDistance>,
    /// Warnings: only where the master chose to set by night.
    pub warnings: Vec<Doubt>,
    /// What is not certain.
    pub doubts: Vec<Doubt>,
    /// The data of a `set_planned` event; its `plan` is what `gangion setting` and `gangion depth` take.
    pub event_data: Value,
}

/// The order line.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanOrder))]
pub struct Order {
    /// The ship's speed through the water, knots.
    pub ship_kn: Option<f64>,
    /// The shooter, m/s.
    pub shooter_m_s: Option<f64>,
    /// The same, metres a minute.
    pub shooter_m_min: Option<f64>,
    /// Seconds between two clips.
    pub beat_s: Option<f64>,
    /// Hooks between two floats.
    pub hooks_per_basket: Option<u32>,
    /// Float lines, metres.
    pub float_line_m: Option<f64>,
    /// Branch lines, metres.
    pub branch_line_m: Option<f64>,
    /// Span between floats ÷ main line between them.
    pub sag_ratio: Option<f64>,
    /// Main line between two clips, metres.
    pub clip_spacing_m: Option<f64>,
}

/// A leg and its basket.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanStretch))]
pub struct Stretch {
    /// From 1.
    pub leg: u32,
    /// First hook, from 1; null where the hooks are not known.
    pub from_hook: Option<u32>,
    /// Last hook.
    pub to_hook: Option<u32>,
    /// Place of the float before its first hook.
    pub from_place: Option<u32>,
    /// Place of the float behind its last hook.
    pub to_place: Option<u32>,
    /// Course through the water, degrees true; null where none was given.
    pub course_deg_true: Option<f64>,
    /// Angle between the line and the shear of the current (upper less lower), 0 along to 90 across; null without shear.
    pub off_current_deg: Option<f64>,
    /// When it begins.
    pub starts_at: Option<UtcInstant>,
    /// When it ends.
    pub ends_at: Option<UtcInstant>,
    /// Hooks of a basket.
    pub hooks: Option<u32>,
    /// Hooks of a basket in the wanted layer; null without a layer or depths.
    pub in_layer: Option<u32>,
    /// Their positions, setting order.
    pub in_layer_positions: Vec<u32>,
    /// Hooks of a basket in the layer with the current 0.1 m/s stronger; null where depths are for still water.
    pub in_layer_if_current_stronger: Option<u32>,
    /// Deepest hook, metres.
    pub deepest_m: Option<f64>,
    /// Half-width of its band, metres.
    pub deepest_band_m: Option<f64>,
    /// What most of that band comes from.
    pub mostly: Option<Cause>,
    /// Shallowest hook, metres.
    pub shallowest_m: Option<f64>,
    /// Whether forces in a current were balanced; false for a catenary in still water.
    pub in_current: bool,
    /// The basket for drawing; null without depths.
    pub section: Option<PlanSection>,
    /// Depths of the hooks of the short last basket, where it goes out in this leg; else empty.
    pub short_basket_depths_m: Vec<f64>,
    /// What is not certain about its depths.
    pub doubts: Vec<Doubt>,
}

/// A basket for drawing: metres from the first float along the line, depth in metres.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlanSection {
    /// Distance between the lower ends of the float lines, metres.
    pub span_m: f64,
    /// The main line.
    pub main_line: Vec<(f64, f64)>,
    /// The hooks.
    pub hooks: Vec<PlannedHook>,
    /// Upper edge of the main line's band.
    pub band_upper: Vec<(f64, f64)>,
    /// Lower edge of the main line's band.
    pub band_lower: Vec<(f64, f64)>,
}

/// A hook of a basket.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlannedHook {
    /// Setting order, from 1.
    pub position: u32,
    /// Its clip: metres from the first float along the line.
    pub x_m: f64,
    /// Depth of its clip, metres.
    pub clip_depth_m: f64,
    /// Depth of the hook, metres.
    pub depth_m: f64,
    /// Half-width of its band, metres.
    pub band_m: Option<f64>,
    /// Whether it hangs in the wanted layer; null without one.
    pub in_layer: Option<bool>,
}

/// A whole degree and where it lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanIsotherm))]
pub struct Isotherm {
    /// °C.
    pub temperature_c: f64,
    /// Metres.
    pub depth_m: f64,
}

/// Temperature at a depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = TemperatureLevel))]
pub struct Level {
    /// Metres.
    pub depth_m: f64,
    /// °C.
    pub temperature_c: f64,
}

/// Sums of the whole set.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = PlanTotals))]
pub struct Totals {
    /// Hooks.
    pub hooks: Option<u32>,
    /// Baskets, a short last one included.
    pub baskets: Option<u32>,
    /// Floats, without the radio buoys that hang in place of one.
    pub floats: Option<u32>,
    /// Radio buoys, both ends included.
    pub radio_buoys: Option<u32>,
    /// Main line, the blanks of radio buoys included, metres.
    pub main_line_m: Option<f64>,
    /// Seconds, beats of radio buoys included, without stops.
    pub setting_s: Option<f64>,
    /// When the last float is out.
    pub ends_at: Option<UtcInstant>,
    /// Hooks that go out with the sun's upper edge above the horizon (centre at −50′).
    pub hooks_by_daylight: Option<u32>,
    /// Way over the ground, metres.
    pub distance_m: Option<f64>,
}

/// What may be lacking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanNeededWhat))]
pub enum NeededWhat {
    /// Main line, metres.
    #[serde(rename = "main_line_m")]
    MainLine,
    /// Branch lines.
    BranchLines,
    /// Floats.
    Floats,
    /// Radio buoys.
    RadioBuoys,
}

/// Needed against aboard.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanNeeded))]
pub struct Needed {
    /// What.
    pub what: NeededWhat,
    /// How much the plan needs; null where it does not follow.
    pub needed: Option<f64>,
    /// How much is aboard; null where it was not counted.
    pub aboard: Option<f64>,
    /// Whether it suffices.
    pub enough: Option<bool>,
}

/// Bait of one kind.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanBaitNeeded))]
pub struct BaitNeeded {
    /// What it is.
    pub bait: String,
    /// Pieces for this set.
    pub pieces: Option<u32>,
    /// Whole boxes to take out.
    pub boxes: Option<f64>,
    /// Boxes aboard.
    pub boxes_aboard: Option<f64>,
    /// Whether they suffice.
    pub enough: Option<bool>,
    /// The latest time to take them out, by the boat's own hours of thaw.
    pub take_out_by: Option<UtcInstant>,
    /// Whole sets like this one that the boxes aboard suffice for.
    pub sets_left: Option<u32>,
}

/// A bin that goes out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanBinUse))]
pub struct BinUse {
    /// Its name.
    pub bin: String,
    /// Hooks used of it.
    pub hooks: u32,
}

/// A corner of the ship's way.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanTrackPoint))]
pub struct TrackPoint {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive, in [−180, 180).
    pub longitude_deg: f64,
    /// When.
    pub at: Option<UtcInstant>,
    /// The leg that ends here; 1 for the start.
    pub leg: u32,
}

/// A radio buoy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlannedBuoy {
    /// Hooks that are out before it.
    pub at_hook: u32,
    /// Its place in the line.
    pub place: u32,
    /// North positive.
    pub latitude_deg: Option<f64>,
    /// East positive.
    pub longitude_deg: Option<f64>,
    /// When.
    pub at: Option<UtcInstant>,
}

/// Sun and moon for a while round the setting.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanSky))]
pub struct SkyWindow {
    /// From.
    pub from: UtcInstant,
    /// To.
    pub to: UtcInstant,
    /// Night, twilight and day, without gaps.
    pub bars: Vec<LightSpan>,
    /// What happens, in order of time.
    pub events: Vec<SkyEvent>,
    /// Lit part of the moon at the middle of the setting, 0 to 1.
    pub moon_illuminated: Option<f64>,
}

/// How light it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanLight))]
pub enum SkyLight {
    /// Sun lower than 12° below the horizon.
    Night,
    /// Between.
    Twilight,
    /// Sun up: its centre above −50′.
    Day,
}

/// A while of one light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanLightSpan))]
pub struct LightSpan {
    /// From.
    pub from: UtcInstant,
    /// To.
    pub to: UtcInstant,
    /// How light.
    pub light: SkyLight,
}

/// What happens in the sky.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanSkyEventKind))]
pub enum SkyEventKind {
    /// The sun's upper edge goes.
    Sunset,
    /// The sun sinks to 12° below.
    NauticalDusk,
    /// The sun rises to 12° below.
    NauticalDawn,
    /// The sun's upper edge comes.
    Sunrise,
    /// The moon comes.
    Moonrise,
    /// The moon goes.
    Moonset,
}

/// When it happens, at the ship's place then.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanSkyEvent))]
pub struct SkyEvent {
    /// What.
    pub what: SkyEventKind,
    /// When.
    pub at: UtcInstant,
}
