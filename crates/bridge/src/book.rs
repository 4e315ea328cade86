//! The shapes of the voyage's views, made from what the fold answers.

use std::collections::BTreeMap;

use forecast::HookDepth;
use quantity::{Position, UtcInstant};
use records::Report;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use voyage::{Basket, CatchFate, Doubt, Fish, HookFate, Place, SetRecord, VoyageRecord};

use crate::ship::Folded;

/// The voyage as a whole.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VoyageView {
    /// Up to which row this was drawn.
    pub(crate) cursor: String,
    /// The moment up to which open sets were judged, ship's UTC.
    pub(crate) now_utc: UtcInstant,
    /// How many voyages the journal holds.
    pub(crate) voyages: usize,
    /// The voyage; null before the first.
    pub(crate) voyage: Option<VoyageHead>,
    /// Its sets in order of time.
    pub(crate) sets: Vec<SetHead>,
    /// What is not sure and concerns no set.
    pub(crate) doubts: Vec<Doubt>,
}

/// The voyage's particulars.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VoyageHead {
    /// 1, 2, 3 … in order of time.
    number: usize,
    /// Id of its `voyage_opened`.
    id: Option<String>,
    /// The vessel as entered.
    vessel: BTreeMap<String, String>,
    /// Where it sailed from.
    port: Option<String>,
    /// When.
    opened_utc: Option<UtcInstant>,
    /// When it ended.
    closed_utc: Option<UtcInstant>,
    /// Ship time minus UTC as it is now, minutes.
    utc_offset_min: Option<i64>,
    /// Days without a set.
    days_without_set: Vec<DayWithoutSet>,
}

/// A day without a set.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DayWithoutSet {
    /// The date, ship time.
    date: String,
    /// What was done.
    activity: String,
    /// More about it.
    note: Option<String>,
}

/// A set in one line.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SetHead {
    /// 1, 2, 3 … in the voyage.
    number: usize,
    /// Id of its `setting_started`.
    id: String,
    /// True until its last haul part has ended for good.
    open: bool,
    /// What is going on with it.
    stage: Stage,
    /// When setting began.
    started_utc: UtcInstant,
    /// When setting ended.
    ended_utc: Option<UtcInstant>,
    /// Floats and radio buoys.
    places: usize,
    /// Baskets.
    baskets: usize,
    /// Hooks set, empty positions not counted.
    hooks_set: usize,
    /// Hooks still out.
    hooks_in_water: usize,
    /// Hooks back aboard.
    hooks_hauled: usize,
    /// Hooks that will not come back.
    hooks_lost: usize,
    /// Hooks of a closed set of which nobody knows.
    hooks_unknown: usize,
    /// Fish that came to the rail.
    fish: usize,
    /// How many doubts there are.
    doubts: usize,
}

/// What is going on with a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Stage {
    /// The line is going out.
    Setting,
    /// The line fishes.
    Soaking,
    /// The line is coming in.
    Hauling,
    /// A haul part has ended and the set is not closed.
    HaulBrokenOff,
    /// Done with.
    Closed,
}

/// A set with its figures.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SetView {
    /// Up to which row this was drawn.
    cursor: String,
    /// The moment up to which an open set was judged, ship's UTC.
    now_utc: UtcInstant,
    /// What is going on with it.
    stage: Stage,
    /// Figures, catch and doubts.
    report: Report,
    /// Target species as entered.
    target: Option<Value>,
    /// Set by night on purpose.
    night: Option<bool>,
    /// The plan that it follows.
    plan: Option<Value>,
    /// Its gear.
    gear: GearView,
    /// Radio buoys.
    radio_buoys: Vec<RadioBuoyRow>,
    /// Surface water at its start, °C.
    water_temperature_c: Option<f64>,
    /// Wind at its start, m/s.
    wind_speed_m_s: Option<f64>,
    /// Where that wind came from, degrees true.
    wind_from_deg_true: Option<f64>,
    /// Temperature by depth, as last measured before the haul.
    temperature_profile: Vec<ProfileLevel>,
}

/// The gear of a set.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GearView {
    /// Its name.
    name: Option<String>,
    /// Length of the float lines, m.
    float_line_m: Option<f64>,
    /// Hooks in a basket.
    hooks_per_basket: Option<i64>,
    /// Main line between two clips, m.
    clip_spacing_m: Option<f64>,
    /// Whether the float has a beat of its own.
    float_takes_a_beat: Option<bool>,
    /// How floats are tagged.
    tag_mode: Option<String>,
}

/// A radio buoy of a set.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RadioBuoyRow {
    /// Its name.
    buoy: String,
    /// The place it hangs at.
    place: Option<i64>,
    /// When it went out.
    launched_utc: UtcInstant,
    /// When it came back.
    recovered_utc: Option<UtcInstant>,
}

/// Temperature at a depth.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProfileLevel {
    /// Below the surface, m.
    depth_m: f64,
    /// °C.
    temperature_c: f64,
}

/// One basket.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BasketRow {
    /// Its number: it begins at the place of that number.
    basket: i64,
    /// Its hook positions, empty ones counted.
    hooks: i64,
    /// Of these, empty.
    hooks_missed: usize,
    /// Still out.
    hooks_in_water: usize,
    /// Back aboard.
    hooks_hauled: usize,
    /// Not coming back.
    hooks_lost: usize,
    /// Nobody knows.
    hooks_unknown: usize,
    /// Fish that its hooks caught.
    fish: usize,
    /// False at a bare end and before a parting.
    has_end_float: bool,
    /// Main line between its floats, m.
    main_line_m: Option<f64>,
    /// Main line between clips, m.
    clip_spacing_m: Option<f64>,
    /// Float span ÷ main line.
    sag_ratio: Option<f64>,
    /// What that rests on: `measured` or `plan`.
    sag_basis: Option<String>,
    /// Type of its branch lines.
    branch_type: Option<String>,
    /// Empty line that went out in it, m.
    empty_line_m: f64,
    /// Inside a tangle.
    tangled: bool,
    /// Computed depth of its shallowest hook, m.
    shallowest_m: Option<f64>,
    /// Computed depth of its deepest hook, m.
    deepest_m: Option<f64>,
    /// Half-width of the widest band of its hooks, m.
    band_m: Option<f64>,
}

/// A float or radio buoy in the line.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlaceRow {
    /// Its number in setting order, from 1.
    place: i64,
    /// What is painted on it.
    tag: Option<String>,
    /// The radio buoy that hangs there in place of a float.
    radio_buoy: Option<String>,
    /// When it was clipped.
    clipped_utc: Option<UtcInstant>,
    /// True when a person tapped it; false when it stands at its beat time.
    tapped: bool,
    /// Where it went in.
    position: Option<Position>,
    /// Main line from place 1, m.
    along_line_m: Option<f64>,
    /// When it was hauled.
    hauled_utc: Option<UtcInstant>,
    /// Missing at the rail.
    missing: bool,
}

/// One fish.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FishRow {
    /// The id of the event that began it.
    id: String,
    /// 1, 2, 3 … in the voyage.
    number: usize,
    /// `landed`, `bitten`, `lost_at_rail` or `released`.
    began_as: String,
    /// When it came to the rail.
    at_utc: UtcInstant,
    /// Alpha-3 code as entered.
    species: Option<String>,
    /// `retained`, `released`, `discarded` or `lost`.
    fate: String,
    /// Bitten by something.
    bitten: bool,
    /// Condition as entered.
    condition: Option<String>,
    /// Length, cm.
    length_cm: Option<f64>,
    /// Weight, kg.
    weight_kg: Option<f64>,
    /// Product form of that weight.
    weight_form: Option<String>,
    /// Numbered tie.
    tie: Option<String>,
    /// Basket, where known.
    basket: Option<i64>,
    /// Position in the basket, where known.
    position: Option<i64>,
    /// Half-width of the guess of its position, hooks.
    uncertainty_hooks: f64,
}

pub(crate) fn voyage_view(folded: &Folded, voyage: Option<&VoyageRecord>) -> VoyageView {
    VoyageView {
        cursor: folded.cursor.to_string(),
        now_utc: folded.now,
        voyages: if folded.cursor.sequence == 0 { 0 } else { folded.book.voyages.len() },
        voyage: voyage.map(|voyage| VoyageHead {
            number: voyage.number,
            id: voyage.id.clone(),
            vessel: voyage.vessel.clone(),
            port: voyage.port.clone(),
            opened_utc: voyage.opened_at,
            closed_utc: voyage.closed_at,
            utc_offset_min: voyage.utc_offsets.iter().rfind(|(from, _)| *from <= folded.now).map(|(_, min)| *min),
            days_without_set: voyage
                .days_without_set
                .iter()
                .map(|(date, activity, note)| DayWithoutSet {
                    date: date.clone(),
                    activity: activity.clone(),
                    note: note.clone(),
                })
                .collect(),
        }),
        sets: voyage.map_or_else(Vec::new, |voyage| voyage.sets.iter().map(set_head).collect()),
        doubts: folded.book.doubts.clone(),
    }
}

fn set_head(set: &SetRecord) -> SetHead {
    let count = |fate| set.hooks.iter().filter(|hook| hook.fate == fate).count();
    SetHead {
        number: set.number,
        id: set.id.clone(),
        open: set.open,
        stage: stage(set),
        started_utc: set.started_at,
        ended_utc: set.ended_at,
        places: set.places.len(),
        baskets: set.baskets.len(),
        hooks_set: set.hooks.len() - count(HookFate::Missed),
        hooks_in_water: count(HookFate::InWater),
        hooks_hauled: count(HookFate::Hauled),
        hooks_lost: count(HookFate::Lost),
        hooks_unknown: count(HookFate::Unknown),
        fish: set.fish.len(),
        doubts: set.doubts.len(),
    }
}

fn stage(set: &SetRecord) -> Stage {
    match (set.open, set.parts.last(), set.ended_at) {
        (false, ..) => Stage::Closed,
        (true, Some(part), _) if part.ended_at.is_none() => Stage::Hauling,
        (true, Some(_), _) => Stage::HaulBrokenOff,
        (true, None, Some(_)) => Stage::Soaking,
        (true, None, None) => Stage::Setting,
    }
}

pub(crate) fn set_view(folded: &Folded, voyage: &VoyageRecord, set: &SetRecord) -> SetView {
    let gear = &set.gear;
    SetView {
        cursor: folded.cursor.to_string(),
        now_utc: folded.now,
        stage: stage(set),
        report: records::report(voyage, set, &folded.depths(voyage, set)),
        target: set.target.clone(),
        night: set.night,
        plan: set.plan.clone(),
        gear: GearView {
            name: gear.name.clone(),
            float_line_m: gear.float_line_m,
            hooks_per_basket: gear.hooks_per_basket,
            clip_spacing_m: gear.clip_spacing_m,
            float_takes_a_beat: gear.float_takes_a_beat,
            tag_mode: gear.tag_mode.clone(),
        },
        radio_buoys: set
            .radio_buoys
            .iter()
            .map(|buoy| RadioBuoyRow {
                buoy: buoy.buoy.clone(),
                place: buoy.place,
                launched_utc: buoy.launched_at,
                recovered_utc: buoy.recovered_at,
            })
            .collect(),
        water_temperature_c: set.conditions.water_temperature_c,
        wind_speed_m_s: set.conditions.wind_speed_m_s,
        wind_from_deg_true: set.conditions.wind_from_deg_true,
        temperature_profile: set
            .temperature_profile
            .iter()
            .map(|(depth_m, temperature_c)| ProfileLevel { depth_m: *depth_m, temperature_c: *temperature_c })
            .collect(),
    }
}

pub(crate) fn baskets_of(set: &SetRecord, depths: &[HookDepth]) -> Vec<BasketRow> {
    set.baskets.iter().map(|basket| basket_row(set, depths, basket)).collect()
}

fn basket_row(set: &SetRecord, depths: &[HookDepth], basket: &Basket) -> BasketRow {
    let count = usize::try_from(basket.hooks).unwrap_or(0);
    let own = || set.hooks.iter().zip(depths).skip(basket.first_hook).take(count);
    let fate = |fate| own().filter(|(hook, _)| hook.fate == fate).count();
    let depth = |pick: fn(f64, f64) -> f64| own().filter_map(|(_, depth)| depth.depth_m).reduce(pick);
    BasketRow {
        basket: basket.basket,
        hooks: basket.hooks,
        hooks_missed: fate(HookFate::Missed),
        hooks_in_water: fate(HookFate::InWater),
        hooks_hauled: fate(HookFate::Hauled),
        hooks_lost: fate(HookFate::Lost),
        hooks_unknown: fate(HookFate::Unknown),
        fish: own().map(|(hook, _)| hook.fish.len()).sum(),
        has_end_float: basket.has_end_float,
        main_line_m: basket.main_line_m,
        clip_spacing_m: basket.clip_spacing_m,
        sag_ratio: basket.sag_ratio,
        sag_basis: basket.sag_basis.map(ToOwned::to_owned),
        branch_type: basket.branch_type.clone(),
        empty_line_m: basket.empty_line_m,
        tangled: basket.tangled,
        shallowest_m: depth(f64::min),
        deepest_m: depth(f64::max),
        band_m: own().filter_map(|(_, depth)| depth.band_m).reduce(f64::max),
    }
}

impl PlaceRow {
    pub(crate) fn of(place: &Place) -> Self {
        Self {
            place: place.place,
            tag: place.tag.clone(),
            radio_buoy: place.radio_buoy.clone(),
            clipped_utc: place.clipped_at,
            tapped: place.tapped,
            position: place.position,
            along_line_m: place.along_line_m,
            hauled_utc: place.hauled_at,
            missing: place.missing,
        }
    }
}

impl FishRow {
    pub(crate) fn of(fish: &Fish) -> Self {
        let fate = match fish.fate {
            CatchFate::Retained => "retained",
            CatchFate::Released => "released",
            CatchFate::Discarded => "discarded",
            CatchFate::Lost => "lost",
        };
        Self {
            id: fish.id.clone(),
            number: fish.number,
            began_as: fish.began_as.to_owned(),
            at_utc: fish.at,
            species: fish.species.clone(),
            fate: fate.to_owned(),
            bitten: fish.bitten,
            condition: fish.condition.clone(),
            length_cm: fish.length_cm,
            weight_kg: fish.weight_kg,
            weight_form: fish.weight_form.clone(),
            tie: fish.tie.clone(),
            basket: fish.basket,
            position: fish.position,
            uncertainty_hooks: fish.uncertainty_hooks,
        }
    }
}
