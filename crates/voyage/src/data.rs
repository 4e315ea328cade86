//! What each kind of event carries, version 1. Units are in the names; a field may be absent or null.
//!
//! Every field is optional here: a missing required field is kept and becomes a doubt in the fold.
#![allow(missing_docs, reason = "the fields are the wire's own names, with their units in them")]

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::Value;

use crate::loose::{LooseTime, OneOrMany, Whole};

macro_rules! shapes {
    ($($shape:ident { $($field:ident : $ty:ty),* $(,)? })*) => {
        $(#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
        #[serde(default)]
        pub struct $shape { $(pub $field: Option<$ty>,)* })*
    };
}

shapes! {
    Nothing {}
    Vessel { name: String, flag: String, registration: String, call_sign: String, unique_id: String }
    VoyageOpened { vessel: Vessel, licences: Vec<Value>, port: String, utc_offset_min: Whole }
    VoyageClosed { port: String, note: String }
    UtcOffsetChanged { utc_offset_min: Whole }
    DayWithoutSet { date: String, activity: String, note: String }
    PersonSeen { person: String, name: String, role: String, watch: String }
    Work { person: String, what: String }
    DeviceSeen { device_id: String, name: String, role: String }
    ClockOffset { of_device: String, offset_s: f64, uncertainty_s: f64, of_boot: String, of_monotonic_ms: Whole }
    ShipState {
        utc: LooseTime, latitude_deg: f64, longitude_deg: f64, speed_over_ground_kn: f64, course_deg_true: f64,
        heading_deg_true: f64, speed_through_water_kn: f64, water_temperature_c: f64, depth_m: f64,
        wind_speed_m_s: f64, wind_from_deg_true: f64, current_speed_kn: f64, current_to_deg_true: f64,
        sources: BTreeMap<String, Value>,
    }
    Weather { wind_speed_m_s: f64, wind_from_deg_true: f64, sea_state: Value, note: String }
    Level { depth_m: f64, temperature_c: f64, salinity: f64, east_m_s: f64, north_m_s: f64 }
    WaterProfile { taken_at: LooseTime, latitude_deg: f64, longitude_deg: f64, levels: Vec<Level>, source: String }
    Observer { aboard: bool, hooks_observed: Whole }
    TableLoaded { what: String, name: String, sha256: String }
    Note { text: String, latitude_deg: f64, longitude_deg: f64 }
    ManOverboard { latitude_deg: f64, longitude_deg: f64 }
    Target { target: String }
    DangerCalled { what: String }
    MainLine { diameter_mm: f64, material: String, length_aboard_m: f64 }
    BranchLine {
        r#type: String, length_m: f64, weight_in_water_n: f64, hook: String, leader: String, lead_g: f64,
        lead_to_hook_m: f64,
    }
    GearDescribed {
        gear: String, main_line: MainLine, float_line_m: f64, branch_lines: Vec<BranchLine>, hooks_per_basket: Whole,
        clip_spacing_m: f64, float_takes_a_beat: bool, radio_buoy: String, radio_buoy_blank_m: f64,
        radio_buoy_beats: f64, tag_mode: String,
    }
    TagsListed { from_place: Whole, tags: Vec<Value> }
    BinBundle { bundle: String, branch_type: String, hooks: Whole }
    BinDescribed { bin: String, bundles: Vec<BinBundle> }
    RadioBuoyRegistered {
        buoy: String, name: String, call: String, reflector: Value, light: Value, battery_date: String,
        checked_at: LooseTime,
    }
    StoresCounted { item: String, kind: String, count: f64 }
    BaitMoved { bait: String, boxes: f64, pieces_per_box: f64 }
    HoldDescribed { hold: String, layers: Vec<Value> }
    SetPlanned {
        plan: Value, target: Value, start_at: LooseTime, start_latitude_deg: f64, start_longitude_deg: f64,
        legs: Vec<Value>, layer_m: Vec<f64>, night: bool,
    }
    SettingStarted { gear: String, target: Value, plan: Value, night: bool }
    SettingEnded { last_place: Whole, hooks_after: Whole }
    BasketCounted { basket: Whole, hooks: Whole }
    Beat {
        basket: Whole, position: Whole, at: LooseTime, beat_s: f64, hooks_per_basket: Whole, float_takes_a_beat: bool,
        count_in: Whole,
    }
    Stop { line_running: bool }
    BeatSilent { from_at: LooseTime, to_at: LooseTime, hooks_clipped: Whole }
    ShooterSpeed { shooter_speed_m_s: f64, basis: String }
    LineCounter { paid_out_m: f64 }
    CourseLeg { course_deg_true: f64 }
    GearChanged {
        from_place: Whole, hooks_per_basket: Whole, clip_spacing_m: f64, float_line_m: f64, branch_type: String,
        lead_g: f64,
    }
    FloatTap { place: Whole, tag: Tag }
    RadioBuoyTap { buoy: String, place: Whole }
    BinTap { bin: String, hooks_left: Whole }
    HookMissed { basket: Whole, position: Whole }
    SettingParted { after_place: Whole, hooks_after: Whole }
    EndsJoined { after_place: Whole }
    BirdLine { state: String }
    LightStick { from_place: Whole, every: Whole, colour: String }
    HookBait { from_place: Whole, bait: String }
    BuoyFixed {
        buoy: String, at: LooseTime, latitude_deg: f64, longitude_deg: f64, bearing_deg_true: f64, range_m: f64,
        from_latitude_deg: f64, from_longitude_deg: f64, uncertainty_m: f64, source: String,
    }
    HaulStarted { direction: String, from_place: Whole, buoy: String }
    HaulEnded { reason: String }
    FloatMissing { place: Whole }
    HooksCounted { count: Whole }
    Tangle { from_place: Whole, to_place: Whole, branch_lines_saved: Whole, branch_lines_cut: Whole }
    BranchLineLost { cause: String, count_since_float: Whole }
    GearStretch { from_place: Whole, to_place: Whole, reason: String, by: String }
    Bundle { bin: String, bundle: String, branch_type: String, hooks: Whole, repaired: Value }
    Landed {
        fish: String, species: String, count_since_float: Whole, uncertainty_hooks: f64, fate: String,
        condition: String, length_cm: f64, length_kind: String, weight_kg: f64, weight_form: String, tie: Tag,
        by: String, kept: bool, hooked: String, gear_left_m: f64, handling: Vec<Value>,
    }
    FishMeasured {
        fish: String, species: String, fate: String, condition: String, length_cm: f64, length_kind: String,
        weight_kg: f64, weight_form: String, sex: String, tie: Tag, form: String, grade: BTreeMap<String, Value>,
    }
    CardTaken { fish: String }
    Pair { a: String, b: String }
    FishStep { fish: OneOrMany, step: String, at: LooseTime, medium: String }
    Stow { fish: OneOrMany, species: String, count: Whole, weight_kg: f64, hold: String, layer: Value, to: Value }
    ProbeRead { fish: String, hold: String, temperature_c: f64, depth_cm: f64 }
    Amended { target: String, data: BTreeMap<String, Value>, happened_at: LooseTime, set: String, haul: String, why: String }
    Voided { target: String, why: String }
}

/// What is painted on a float or tied to a fish: text, or a number taken as its text.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Tag(pub String);

impl<'de> Deserialize<'de> for Tag {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Painted {
            Text(String),
            Number(serde_json::Number),
        }
        Ok(Self(match Painted::deserialize(deserializer)? {
            Painted::Text(text) => text,
            Painted::Number(number) => number.to_string(),
        }))
    }
}
