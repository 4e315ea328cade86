//! What the fold answers: voyages, sets, places, baskets, hooks, haul parts and fish.
//!
//! Positions in a basket always run 1 … n from its first float towards the next, in setting order.

use std::collections::BTreeMap;

use quantity::{Position, UtcInstant};
use serde::Serialize;
use serde_json::Value;

use crate::aboard::{Aboard, LoadedTable};
use crate::beat::Laying;
use crate::doubt::Doubt;
use crate::outgoing::Outgoing;

/// Everything that a journal's events add up to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Book {
    /// The voyages in order of time.
    pub voyages: Vec<VoyageRecord>,
    /// Doubts that concern no set, such as unknown clock offsets.
    pub doubts: Vec<Doubt>,
    /// The tables that were loaded, by what they are and their names.
    pub tables: Vec<LoadedTable>,
    /// The line that is being laid, for whoever asks what is due; not part of what is told of the voyage.
    #[serde(skip)]
    pub laying: Option<Laying>,
    /// The moment up to which open sets were judged.
    #[serde(skip)]
    pub judged_at: UtcInstant,
}

/// One voyage.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VoyageRecord {
    /// 1, 2, 3 … in order of time.
    pub number: usize,
    /// The id of its `voyage_opened`; none where events came without one.
    pub id: Option<String>,
    /// The vessel's particulars as entered: name, flag, registration, call_sign, unique_id.
    pub vessel: BTreeMap<String, String>,
    /// Where it sailed from.
    pub port: Option<String>,
    /// When.
    pub opened_at: Option<UtcInstant>,
    /// When it ended.
    pub closed_at: Option<UtcInstant>,
    /// Ship time minus UTC, minutes, with the moment from which it held, in order of time.
    pub utc_offsets: Vec<(UtcInstant, i64)>,
    /// Its sets in order of time.
    pub sets: Vec<SetRecord>,
    /// Days without a set: (date, activity, note).
    pub days_without_set: Vec<(String, String, Option<String>)>,
    /// Who and what is aboard.
    pub aboard: Aboard,
    /// Who worked when.
    pub work: Vec<WorkSpan>,
}

/// A stretch of a person's work.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WorkSpan {
    /// The person's id.
    pub person: String,
    /// The name by which he was added last.
    pub name: Option<String>,
    /// What he did, as entered.
    pub what: Option<String>,
    /// From when.
    pub from: UtcInstant,
    /// To when; none while nobody ended it.
    pub to: Option<UtcInstant>,
}

/// The gear a set was made with, as described before it.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Gear {
    /// Its name.
    pub name: Option<String>,
    /// Diameter of the main line, mm.
    pub main_line_diameter_mm: Option<f64>,
    /// Its material.
    pub main_line_material: Option<String>,
    /// All of it that was aboard when the gear was described, m.
    pub main_line_aboard_m: Option<f64>,
    /// When the gear was described.
    pub described_at: Option<UtcInstant>,
    /// Length of the float lines, m.
    pub float_line_m: Option<f64>,
    /// Branch-line types in the order described.
    pub branch_lines: Vec<BranchLineType>,
    /// Hooks in a basket.
    pub hooks_per_basket: Option<i64>,
    /// Main line between two clips, m.
    pub clip_spacing_m: Option<f64>,
    /// Whether the float has a beat of its own.
    pub float_takes_a_beat: Option<bool>,
    /// Whether a radio buoy hangs in place of a float.
    pub buoy_in_place_of_float: bool,
    /// Empty main line round a radio buoy, m.
    pub radio_buoy_blank_m: f64,
    /// How floats are tagged.
    pub tag_mode: Option<String>,
}

/// One type of branch line.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct BranchLineType {
    /// Its name.
    pub name: Option<String>,
    /// Its length, m.
    pub length_m: Option<f64>,
    /// Its weight in water, N.
    pub weight_in_water_n: Option<f64>,
    /// Hook type and size.
    pub hook: Option<String>,
    /// Leader.
    pub leader: Option<String>,
    /// Lead, grams.
    pub lead_g: Option<f64>,
    /// Lead to hook, m.
    pub lead_to_hook_m: Option<f64>,
}

/// One set, from its setting to its haul.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetRecord {
    /// 1, 2, 3 … in the voyage.
    pub number: usize,
    /// The id of its `setting_started`.
    pub id: String,
    /// Its gear.
    pub gear: Gear,
    /// Target species as entered.
    pub target: Option<Value>,
    /// Set by night on purpose.
    pub night: Option<bool>,
    /// The plan it follows, as `gangion setting` and `gangion depth` take it.
    pub plan: Option<Value>,
    /// True until every haul part has ended and the last one for good.
    pub open: bool,
    /// When setting started.
    pub started_at: UtcInstant,
    /// When setting ended.
    pub ended_at: Option<UtcInstant>,
    /// Where the ship was when setting started.
    pub start: Option<Position>,
    /// Where the ship was when setting ended.
    pub end: Option<Position>,
    /// Floats and radio buoys in setting order; `places[i].place == i + 1`.
    pub places: Vec<Place>,
    /// Baskets in setting order.
    pub baskets: Vec<Basket>,
    /// Every position in setting order, the missed ones too.
    pub hooks: Vec<Hook>,
    /// Haul parts in order of time.
    pub parts: Vec<HaulPart>,
    /// Fish in the order they came to the rail.
    pub fish: Vec<Fish>,
    /// All main line that went out, m; none where no spacing is known.
    pub main_line_total_m: Option<f64>,
    /// Radio buoys: name, place, when launched, when recovered.
    pub radio_buoys: Vec<RadioBuoy>,
    /// How it is laid: gear by stretches, the shooter, the basket that is being hung.
    pub outgoing: Outgoing,
    /// Bait: kind, from which place on.
    pub bait: Vec<(i64, String)>,
    /// Light sticks: from place, every nth hook, colour.
    pub light_sticks: Vec<(i64, Option<i64>, Option<String>)>,
    /// Bird line: moment and state (out, in, fouled).
    pub bird_line: Vec<(UtcInstant, String)>,
    /// What the ship's instruments and the crew said of wind, sea and water at the set's start.
    pub conditions: Conditions,
    /// Observer aboard, and hooks observed.
    pub observer: Option<(Option<bool>, Option<i64>)>,
    /// Hooks counted by bins: sum over the bins that were finished, where bins were described.
    pub hooks_by_bins: Option<i64>,
    /// Temperature by depth: (depth m, °C) of the last profile taken before the haul.
    pub temperature_profile: Vec<(f64, f64)>,
    /// Current by depth, towards, of the last profile with currents taken before the haul.
    pub current_profile: Vec<gear::current::CurrentLevel>,
    /// Fixes of radio buoys: (buoy, when, where).
    pub buoy_fixes: Vec<(String, UtcInstant, Position)>,
    /// The ship's track while setting and while hauling, thinned to a point a minute.
    pub setting_track: Vec<(UtcInstant, Position)>,
    /// The ship's track while hauling, thinned.
    pub hauling_track: Vec<(UtcInstant, Position)>,
    /// Hooks lost by `branch_line_lost`.
    pub branch_lines_lost: usize,
    /// What is not sure in this set.
    pub doubts: Vec<Doubt>,
}

/// Wind, sea and surface water.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Conditions {
    /// Sea surface temperature, °C.
    pub water_temperature_c: Option<f64>,
    /// Wind speed, m/s.
    pub wind_speed_m_s: Option<f64>,
    /// Wind from, degrees true.
    pub wind_from_deg_true: Option<f64>,
    /// Sea state as entered.
    pub sea_state: Option<Value>,
}

/// A radio buoy of a set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RadioBuoy {
    /// Its painted name or id.
    pub buoy: String,
    /// The place it hangs at.
    pub place: Option<i64>,
    /// When it went out.
    pub launched_at: UtcInstant,
    /// When it came back.
    pub recovered_at: Option<UtcInstant>,
}

/// One float or radio buoy in the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Place {
    /// Its number in setting order, from 1.
    pub place: i64,
    /// What is painted on it.
    pub tag: Option<String>,
    /// The radio buoy that hangs there in place of a float.
    pub radio_buoy: Option<String>,
    /// When it was clipped.
    pub clipped_at: Option<UtcInstant>,
    /// True when a person tapped it; false when it stands at its beat time.
    pub tapped: bool,
    /// Where it went in.
    pub position: Option<Position>,
    /// Main line from place 1, m.
    pub along_line_m: Option<f64>,
    /// When it was hauled (a radio buoy: recovered).
    pub hauled_at: Option<UtcInstant>,
    /// Declared or taken as missing at the rail.
    pub missing: bool,
}

/// The main line from one float to the next, with its hooks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Basket {
    /// Its number: it begins at the place of that number.
    pub basket: i64,
    /// Its hook positions, missed ones counted.
    pub hooks: i64,
    /// Index of its first hook in [`SetRecord::hooks`].
    pub first_hook: usize,
    /// False at a bare end and before a parting.
    pub has_end_float: bool,
    /// Whether the float has a beat of its own.
    pub float_takes_a_beat: bool,
    /// Main line between its floats, m.
    pub main_line_m: Option<f64>,
    /// Main line between clips, m.
    pub clip_spacing_m: Option<f64>,
    /// Float span ÷ main line.
    pub sag_ratio: Option<f64>,
    /// What the sag ratio rests on: `measured`, `plan` or nothing.
    pub sag_basis: Option<&'static str>,
    /// Float line, m.
    pub float_line_m: Option<f64>,
    /// Type of its branch lines.
    pub branch_type: Option<String>,
    /// Branch line, m.
    pub branch_line_m: Option<f64>,
    /// Empty line that went out in it while stopped, m.
    pub empty_line_m: f64,
    /// Inside a tangle: its hooks stay out of the analysis by position.
    pub tangled: bool,
}

/// What became of a hook.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum HookFate {
    /// Still out.
    InWater,
    /// Back aboard.
    Hauled,
    /// Not coming back.
    Lost,
    /// The set is closed and nobody knows.
    Unknown,
    /// An empty position: never was a hook set.
    Missed,
}

/// One position in the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hook {
    /// 1, 2, 3 … over the set, missed positions not counted; none for a missed one.
    pub number: Option<i64>,
    /// Its basket.
    pub basket: i64,
    /// Its position in the basket, setting order.
    pub position: i64,
    /// When it was clipped.
    pub clipped_at: Option<UtcInstant>,
    /// Where the ship was then.
    pub place: Option<Position>,
    /// Main line from place 1, m.
    pub along_line_m: Option<f64>,
    /// When it came aboard.
    pub lifted_at: Option<UtcInstant>,
    /// What became of it.
    pub fate: HookFate,
    /// Ids of the fish it caught.
    pub fish: Vec<String>,
    /// What is not sure of it.
    pub doubts: Vec<Doubt>,
}

/// One stretch of hauling.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HaulPart {
    /// The id of its `haul_started`.
    pub haul: String,
    /// `to_first` or `to_last`, as entered.
    pub direction: Option<String>,
    /// The place it began at.
    pub from_place: Option<i64>,
    /// When it began.
    pub started_at: UtcInstant,
    /// Where the ship was then.
    pub start: Option<Position>,
    /// When it ended.
    pub ended_at: Option<UtcInstant>,
    /// Where the ship was then.
    pub end: Option<Position>,
    /// Why it ended, as entered.
    pub reason: Option<String>,
}

/// What became of a fish.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CatchFate {
    /// Kept (bitten and kept too).
    Retained,
    /// Let go.
    Released,
    /// Thrown away.
    Discarded,
    /// Lost at the rail, or bitten and not kept.
    Lost,
}

/// One fish: landed, bitten, lost at the rail, or released alongside.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fish {
    /// The id of the event that began it.
    pub id: String,
    /// 1, 2, 3 … in the voyage, in order of ship sequence.
    pub number: usize,
    /// What kind of event began it: `landed`, `bitten`, `lost_at_rail` or `released`.
    pub began_as: &'static str,
    /// When it came to the rail.
    pub at: UtcInstant,
    /// FAO three-letter code, as entered.
    pub species: Option<String>,
    /// What became of it.
    pub fate: CatchFate,
    /// Bitten by something.
    pub bitten: bool,
    /// Condition, as entered.
    pub condition: Option<String>,
    /// Length, cm.
    pub length_cm: Option<f64>,
    /// Kind of length.
    pub length_kind: Option<String>,
    /// Weight, kg.
    pub weight_kg: Option<f64>,
    /// Product form of that weight.
    pub weight_form: Option<String>,
    /// Sex.
    pub sex: Option<String>,
    /// Numbered tie.
    pub tie: Option<String>,
    /// Product form.
    pub form: Option<String>,
    /// Grade by field.
    pub grade: BTreeMap<String, Value>,
    /// The haul part it came up in.
    pub haul: Option<String>,
    /// Basket, where known.
    pub basket: Option<i64>,
    /// Position in the basket, where known.
    pub position: Option<i64>,
    /// Half-width of the guess of its position, hooks; 0 when exact.
    pub uncertainty_hooks: f64,
    /// Float last hauled before it, and the next to come, as places.
    pub between: Option<(i64, i64)>,
    /// Steps taken at the table: (moment, step, medium).
    pub steps: Vec<(UtcInstant, String, Option<String>)>,
}
