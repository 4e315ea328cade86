//! What stands round a set: its voyage, gear, plan, bait, weather; and the record put together.

use std::collections::BTreeMap;

use gear::current::CurrentLevel;
use quantity::{Position, UtcInstant};
use serde_json::Value;

use super::belong::Belonging;
use super::haul::Hauled;
use super::line::Line;
use super::{Fact, SetWork};
use crate::aboard::Aboard;
use crate::data::{GearDescribed, Level, SetPlanned};
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::{time, whole};
use crate::outgoing::Outgoing;
use crate::state::{BranchLineType, Conditions, Fish, Gear, HookFate, SetRecord, VoyageRecord};

/// A voyage without its sets.
pub(crate) fn voyage(
    number: usize,
    opened: Option<usize>,
    index: usize,
    belonging: &Belonging,
    facts: &[Fact<'_>],
) -> VoyageRecord {
    let mut record = VoyageRecord {
        number,
        id: opened.map(|index| facts[index].id().to_owned()),
        vessel: BTreeMap::new(),
        port: None,
        opened_at: opened.map(|index| facts[index].t),
        closed_at: None,
        utc_offsets: Vec::new(),
        sets: Vec::new(),
        days_without_set: Vec::new(),
        aboard: Aboard::default(),
        work: super::work::work(index, belonging, facts),
    };
    for fact in facts.iter().filter(|fact| belonging.voyage_at(fact.t) == index) {
        match fact.data.as_ref() {
            Data::VoyageOpened(data) => {
                record.port.clone_from(&data.port);
                if let Some(minutes) = whole(data.utc_offset_min) {
                    record.utc_offsets.push((fact.t, minutes));
                }
                let Some(vessel) = &data.vessel else { continue };
                for (name, value) in [
                    ("name", &vessel.name),
                    ("flag", &vessel.flag),
                    ("registration", &vessel.registration),
                    ("call_sign", &vessel.call_sign),
                    ("unique_id", &vessel.unique_id),
                ] {
                    if let Some(value) = value {
                        record.vessel.insert(name.to_owned(), value.clone());
                    }
                }
            }
            Data::VoyageClosed(_) => record.closed_at = Some(fact.t),
            Data::UtcOffsetChanged(data) => {
                if let Some(minutes) = whole(data.utc_offset_min) {
                    record.utc_offsets.push((fact.t, minutes));
                }
            }
            Data::DayWithoutSet(data) => record.days_without_set.push((
                data.date.clone().unwrap_or_default(),
                data.activity.clone().unwrap_or_default(),
                data.note.clone(),
            )),
            _ => {}
        }
    }
    record
}

/// The gear a set names, as described last by its end; without a name, the gear described last.
pub(crate) fn gear_of(work: &SetWork<'_>, belonging: &Belonging, doubts: &mut Vec<Doubt>) -> Gear {
    let started = &work.facts[work.set.started];
    let named = match started.data.as_ref() {
        Data::SettingStarted(data) => data.gear.clone(),
        _ => None,
    };
    let ended = work.facts().filter(|fact| fact.kind() == Kind::SettingEnded).last().map_or(work.now, |fact| fact.t);
    let described: Vec<(&Fact<'_>, &GearDescribed)> = work
        .descriptions()
        .filter(|fact| belonging.voyage_at(fact.t) <= work.set.voyage)
        .filter_map(|fact| match fact.data.as_ref() {
            Data::GearDescribed(data) => Some((fact, data.as_ref())),
            _ => None,
        })
        .collect();
    let fits = |data: &GearDescribed| named.is_none() || data.gear == named;
    let in_time =
        described.iter().filter(|(fact, data)| fits(data) && fact.t <= ended).max_by_key(|(fact, _)| fact.ship_seq);
    let any = || described.iter().filter(|(_, data)| fits(data)).min_by_key(|(fact, _)| fact.t);
    let Some((described, data)) = in_time.or_else(any) else {
        doubts.push(Doubt::new(
            "gear_unknown",
            "set",
            match &named {
                Some(name) => format!(
                    "The gear \"{name}\" of this set is not described. Describe it: lengths and counts rest on it."
                ),
                None => "This set names no gear, and none is described. Describe it: lengths and counts rest on it."
                    .to_owned(),
            },
        ));
        return Gear { name: named, ..Gear::default() };
    };
    let main_line = data.main_line.clone().unwrap_or_default();
    Gear {
        name: data.gear.clone(),
        main_line_diameter_mm: main_line.diameter_mm,
        main_line_material: main_line.material,
        main_line_aboard_m: main_line.length_aboard_m.filter(|m| *m >= 0.0 && m.is_finite()),
        described_at: Some(described.t),
        float_line_m: data.float_line_m.filter(|m| *m >= 0.0),
        branch_lines: data
            .branch_lines
            .iter()
            .flatten()
            .map(|branch| BranchLineType {
                name: branch.r#type.clone(),
                length_m: branch.length_m.filter(|m| *m >= 0.0),
                weight_in_water_n: branch.weight_in_water_n,
                hook: branch.hook.clone(),
                leader: branch.leader.clone(),
                lead_g: branch.lead_g,
                lead_to_hook_m: branch.lead_to_hook_m,
            })
            .collect(),
        hooks_per_basket: whole(data.hooks_per_basket).filter(|n| (1..=super::beats::MOST_HOOKS).contains(n)),
        clip_spacing_m: data.clip_spacing_m.filter(|m| *m > 0.0 && m.is_finite()),
        float_takes_a_beat: data.float_takes_a_beat,
        buoy_in_place_of_float: data.radio_buoy.as_deref() != Some("beside_float"),
        radio_buoy_blank_m: data.radio_buoy_blank_m.filter(|m| *m > 0.0).unwrap_or(0.0),
        tag_mode: data.tag_mode.clone(),
    }
}

/// The plan that a set follows: the one it names, else the last made before it began.
pub(crate) fn plan_of(work: &SetWork<'_>) -> Option<Value> {
    let Data::SettingStarted(data) = work.facts[work.set.started].data.as_ref() else { return None };
    match &data.plan {
        Some(plan @ Value::Object(_)) => Some(plan.clone()),
        _ => planned(work).and_then(|planned| planned.plan.clone()),
    }
}

/// The `set_planned` that a set follows: the one it names, else the last made in its voyage before it began.
pub(crate) fn planned<'a>(work: &SetWork<'a>) -> Option<&'a SetPlanned> {
    let started = &work.facts[work.set.started];
    let named = match started.data.as_ref() {
        Data::SettingStarted(data) => data.plan.as_ref().and_then(Value::as_str),
        _ => None,
    };
    let plans = work.descriptions().filter_map(|fact| match fact.data.as_ref() {
        Data::SetPlanned(data) => Some((fact, data.as_ref())),
        _ => None,
    });
    let found = match named {
        Some(id) => plans.filter(|(fact, _)| fact.id() == id).last(),
        None => plans.filter(|(fact, _)| fact.t <= started.t).max_by_key(|(fact, _)| fact.ship_seq),
    };
    found.map(|(_, data)| data)
}

/// Puts a set's record together.
pub(crate) fn record(
    work: &SetWork<'_>,
    gear: Gear,
    line: Line,
    hauled: Hauled,
    fish: Vec<Fish>,
    outgoing: Outgoing,
) -> SetRecord {
    let started = &work.facts[work.set.started];
    let (target, night) = match started.data.as_ref() {
        Data::SettingStarted(data) => (data.target.clone(), data.night),
        _ => (None, None),
    };
    let ended_at = work.facts().filter(|fact| fact.kind() == Kind::SettingEnded).last().map(|fact| fact.t);
    let haul_from = hauled.parts.first().map(|part| part.started_at);
    let haul_to = hauled.parts.iter().filter_map(|part| part.ended_at).max();
    let at = |t: UtcInstant| work.track.at(t).map(|fixed| fixed.place);
    let mut record = SetRecord {
        number: 0,
        id: work.set.id.clone(),
        gear,
        target,
        night,
        plan: plan_of(work),
        open: work.set.open,
        started_at: started.t,
        ended_at,
        start: at(started.t),
        end: ended_at.and_then(at),
        places: line.places,
        baskets: line.baskets,
        hooks: line.hooks,
        parts: hauled.parts,
        fish,
        main_line_total_m: line.main_line_total_m,
        radio_buoys: hauled.radio_buoys,
        outgoing,
        bait: Vec::new(),
        light_sticks: Vec::new(),
        bird_line: Vec::new(),
        conditions: instruments_say(work, started.t),
        observer: None,
        hooks_by_bins: None,
        temperature_profile: Vec::new(),
        current_profile: Vec::new(),
        buoy_fixes: Vec::new(),
        setting_track: work.track.thinned(started.t, ended_at.unwrap_or(work.now)),
        hauling_track: haul_from.map_or_else(Vec::new, |from| work.track.thinned(from, haul_to.unwrap_or(work.now))),
        branch_lines_lost: hauled.branch_lines_lost,
        doubts: Vec::new(),
    };
    hear_the_rest(work, &mut record);
    record
}

fn instruments_say(work: &SetWork<'_>, t: UtcInstant) -> Conditions {
    let near = |has: fn(&super::track::Reading) -> bool| work.track.nearest(t, 3600.0, has);
    Conditions {
        water_temperature_c: near(|r| r.water_temperature_c.is_some()).and_then(|r| r.water_temperature_c),
        wind_speed_m_s: near(|r| r.wind_speed_m_s.is_some()).and_then(|r| r.wind_speed_m_s),
        wind_from_deg_true: near(|r| r.wind_from_deg_true.is_some()).and_then(|r| r.wind_from_deg_true),
        sea_state: None,
    }
}

/// The levels that tell a whole current, downward, the first of two at one depth.
fn current_levels(levels: &Option<Vec<Level>>) -> Vec<CurrentLevel> {
    let mut currents: Vec<CurrentLevel> = levels
        .iter()
        .flatten()
        .filter_map(|level| {
            let (depth_m, (east_m_s, north_m_s)) = level.depth_m.zip(level.east_m_s.zip(level.north_m_s))?;
            let sound = depth_m >= 0.0 && east_m_s.abs() <= 6.0 && north_m_s.abs() <= 6.0;
            sound.then_some(CurrentLevel { depth_m, east_m_s, north_m_s })
        })
        .collect();
    currents.sort_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
    currents.dedup_by(|a, b| (a.depth_m - b.depth_m).abs() < 1e-6);
    currents
}

fn hear_the_rest(work: &SetWork<'_>, record: &mut SetRecord) {
    let mut described: BTreeMap<String, i64> = BTreeMap::new();
    let mut profile_at: Option<UtcInstant> = None;
    let mut current_at: Option<UtcInstant> = None;
    let until = record.parts.iter().filter_map(|part| part.ended_at).max().unwrap_or(work.now);
    for fact in work.descriptions().filter(|fact| fact.t <= until) {
        match fact.data.as_ref() {
            Data::BinDescribed(data) => {
                let hooks = data.bundles.iter().flatten().filter_map(|bundle| whole(bundle.hooks)).sum();
                described.insert(data.bin.clone().unwrap_or_default(), hooks);
            }
            Data::WaterProfile(data) => {
                let taken = time(data.taken_at.as_ref()).map_or(fact.t, |at| fact.moved(at));
                let levels: Vec<(f64, f64)> =
                    data.levels.iter().flatten().filter_map(|level| level.depth_m.zip(level.temperature_c)).collect();
                if !levels.is_empty() && profile_at.is_none_or(|at| taken >= at) {
                    profile_at = Some(taken);
                    record.temperature_profile = levels;
                    record.temperature_profile.sort_by(|a, b| a.0.total_cmp(&b.0));
                }
                let currents = current_levels(&data.levels);
                if !currents.is_empty() && current_at.is_none_or(|at| taken >= at) {
                    current_at = Some(taken);
                    record.current_profile = currents;
                }
            }
            _ => {}
        }
    }
    for fact in work.facts() {
        match fact.data.as_ref() {
            Data::HookBait(data) => {
                record.bait.push((whole(data.from_place).unwrap_or(1), data.bait.clone().unwrap_or_default()))
            }
            Data::LightStick(data) => {
                record.light_sticks.push((whole(data.from_place).unwrap_or(1), whole(data.every), data.colour.clone()));
            }
            Data::BirdLine(data) => record.bird_line.push((fact.t, data.state.clone().unwrap_or_default())),
            Data::Observer(data) => record.observer = Some((data.aboard, whole(data.hooks_observed))),
            Data::Weather(data) => {
                let said = &mut record.conditions;
                said.wind_speed_m_s = data.wind_speed_m_s.or(said.wind_speed_m_s);
                said.wind_from_deg_true = data.wind_from_deg_true.or(said.wind_from_deg_true);
                said.sea_state = data.sea_state.clone().or(said.sea_state.take());
            }
            Data::BinEnded(data) => {
                let bin = data.bin.clone().unwrap_or_default();
                if let Some(hooks) = described.get(&bin) {
                    let used = hooks - whole(data.hooks_left).unwrap_or(0);
                    record.hooks_by_bins = Some(record.hooks_by_bins.unwrap_or(0) + used);
                }
            }
            Data::BuoyFixed(data) => {
                if let (Some(lat), Some(lon)) = (data.latitude_deg, data.longitude_deg)
                    && let Ok(place) = Position::new(lat, lon)
                {
                    let at = time(data.at.as_ref()).map_or(fact.t, |at| fact.moved(at));
                    record.buoy_fixes.push((data.buoy.clone().unwrap_or_default(), at, place));
                }
            }
            _ => {}
        }
    }
    if let Some(by_bins) = record.hooks_by_bins {
        let set = record.hooks.iter().filter(|hook| hook.fate != HookFate::Missed).count();
        if i64::try_from(set).unwrap_or(0) != by_bins {
            record.doubts.push(Doubt::new(
                "bins_against_beat",
                "set",
                format!("The bins count {by_bins} hooks, the beat {set}."),
            ));
        }
    }
}
