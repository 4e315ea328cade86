//! A plan to start from: the last set with its gear, its pace as measured, its legs as sailed, and what is aboard.
//!
//! Of the pace only values that do not hang on each other are given, so that the user may change any of them.

use gear::SettingInput;
use gear::parts::{BranchLine, DRAG_NORMAL, DRAG_TANGENTIAL, DragAt, MainLine, NYLON_KG_M3, STIFFNESS_N};
use quantity::{Position, UtcInstant, geodesic, wrap_bearing_deg};
use serde::de::DeserializeOwned;
use voyage::{Basket, HookFate, SetRecord, VoyageRecord, plan_number};

use super::wanted::{Aboard, BaitAboard, BinAboard, LegWanted, PlanWanted, StartPlace, WaterLevel, WaterWanted};
use crate::to_come::KNOT_M_S;

/// What a new plan starts from.
#[derive(Debug, Clone, Copy)]
pub struct StartFrom<'a> {
    /// The voyage.
    pub voyage: &'a VoyageRecord,
    /// The set that is followed; none where there is none yet.
    pub set: Option<&'a SetRecord>,
    /// The ship's time.
    pub now: UtcInstant,
    /// Where the ship is.
    pub ship: Option<Position>,
    /// Start where that set ended and go back along it.
    pub other_way: bool,
}

/// A plan as the last set was, for now and here.
#[must_use]
pub fn start_from(from: &StartFrom<'_>) -> PlanWanted {
    let mut wanted = PlanWanted {
        start_at: Some(from.now.plus_seconds(60.0 - from.now.second_of_day_s() % 60.0)),
        start: from.ship.map(place),
        utc_offset_min: from.voyage.utc_offsets.iter().rfind(|(at, _)| *at <= from.now).map(|(_, minutes)| *minutes),
        aboard: Some(aboard(from.voyage)),
        ..PlanWanted::default()
    };
    let Some(set) = from.set else { return wanted };
    let plan = set.plan.as_ref();
    let regular = regular(set);
    let number = |name: &str| plan_number(plan, name);
    let end = set.end.or_else(|| set.places.last().and_then(|place| place.position));
    wanted.start = if from.other_way { end.map(place).or(wanted.start) } else { wanted.start.or(end.map(place)) };
    wanted.legs = legs(set, from.other_way);
    wanted.setting = setting(set, regular);
    let gear_now = set.outgoing.gear_from.last();
    wanted.float_line_m = regular
        .and_then(|basket| basket.float_line_m)
        .or(gear_now.and_then(|gear| gear.float_line_m))
        .or(set.gear.float_line_m)
        .or_else(|| number("float_line_m"));
    wanted.branch_line_m = regular
        .and_then(|basket| basket.branch_line_m)
        .or(gear_now.and_then(|gear| gear.branch_line_m))
        .or_else(|| number("branch_line_m"));
    wanted.main_line = part(set, "main_line").or_else(|| {
        let diameter_mm = set.gear.main_line_diameter_mm.filter(|mm| *mm > 0.0 && *mm <= 50.0)?;
        Some(MainLine {
            diameter_mm,
            density_kg_m3: NYLON_KG_M3,
            axial_stiffness_n: STIFFNESS_N,
            drag_normal: DRAG_NORMAL,
            drag_tangential: DRAG_TANGENTIAL,
        })
    });
    wanted.branch = part(set, "branch").or_else(|| {
        let weight_in_water_n = crate::current::branch_weight_n(set, regular?)?;
        Some(BranchLine { weight_in_water_n, drag_area_m2: 0.0, drag_at: DragAt::OwnDepth })
    });
    wanted.float_line = part(set, "float_line");
    wanted.float = part(set, "float");
    wanted.water = water(set);
    wanted.layer_m = set.outgoing.wanted_layer_m.map(|(from_m, to_m)| [from_m, to_m]);
    wanted.target = set.target.as_ref().map(|target| target.as_str().map_or_else(|| target.to_string(), str::to_owned));
    wanted.night = set.night;
    wanted.buoy_in_place_of_float = Some(set.gear.buoy_in_place_of_float);
    wanted.radio_buoy_blank_m = Some(set.gear.radio_buoy_blank_m).filter(|blank_m| *blank_m > 0.0);
    if let Some(all) = &mut wanted.aboard {
        all.main_line_m = all.main_line_m.or(set.gear.main_line_aboard_m);
    }
    wanted
}

fn place(at: Position) -> StartPlace {
    StartPlace { latitude_deg: at.latitude_deg(), longitude_deg: at.longitude_deg() }
}

/// A part of the gear as the set's plan described it.
fn part<T: DeserializeOwned>(set: &SetRecord, name: &str) -> Option<T> {
    serde_json::from_value(set.plan.as_ref()?.get(name)?.clone()).ok()
}

/// The basket that stands for the others: the middle one of those without empty line, by sag ratio.
fn regular(set: &SetRecord) -> Option<&Basket> {
    let mut plain: Vec<&Basket> = set
        .baskets
        .iter()
        .filter(|basket| basket.has_end_float && basket.empty_line_m <= 0.0 && basket.sag_ratio.is_some())
        .collect();
    plain.sort_by(|a, b| a.sag_ratio.unwrap_or(0.0).total_cmp(&b.sag_ratio.unwrap_or(0.0)));
    plain.get(plain.len() / 2).copied().or(set.baskets.first())
}

fn setting(set: &SetRecord, regular: Option<&Basket>) -> SettingInput {
    let number = |name: &str| plan_number(set.plan.as_ref(), name);
    let set_hooks = set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed).count();
    #[expect(clippy::cast_precision_loss, reason = "hooks of a set are few")]
    let hooks = (set_hooks > 0).then_some(set_hooks as f64).or_else(|| number("hooks"));
    let gear_now = set.outgoing.gear_from.last();
    #[expect(clippy::cast_precision_loss, reason = "hooks of a basket are few")]
    let hooks_per_basket = gear_now
        .map(|gear| gear.hooks as f64)
        .filter(|hooks| *hooks >= 1.0)
        .or(set.gear.hooks_per_basket.map(|hooks| hooks as f64))
        .or_else(|| number("hooks_per_basket"));
    let beat_s = beat_s(set).or_else(|| number("beat_s"));
    let shooter = set.outgoing.shooter_speeds.last().map(|(_, m_s)| *m_s).or_else(|| number("shooter_speed_m_s"));
    let sag_ratio = regular.and_then(|basket| basket.sag_ratio).or_else(|| number("sag_ratio"));
    let spacing_m = regular.and_then(|basket| basket.clip_spacing_m).or_else(|| number("clip_spacing_m"));
    let mut input = SettingInput {
        beat_s: beat_s.map(|s| rounded(s, 100.0)),
        hooks_per_basket,
        hooks,
        baskets: if hooks.is_none() { number("baskets") } else { None },
        float_takes_a_beat: gear_now.map(|gear| gear.float_takes_a_beat).or(set.gear.float_takes_a_beat),
        hooks_per_radio_buoy: number("hooks_per_radio_buoy").or_else(|| buoys_apart(set, hooks_per_basket)),
        ..SettingInput::default()
    };
    let ship_kn = shooter.zip(sag_ratio).map(|(m_s, ratio)| m_s * ratio.min(1.0) / KNOT_M_S);
    match shooter.zip(ship_kn.or_else(|| number("vessel_speed_through_water_kn"))) {
        Some((shooter_m_s, kn)) => {
            input.shooter_speed_m_s = Some(rounded(shooter_m_s, 1000.0));
            input.vessel_speed_through_water_kn = Some(rounded(kn, 100.0));
        }
        None => {
            input.shooter_speed_m_s = shooter;
            input.sag_ratio = sag_ratio.filter(|ratio| *ratio > 0.0 && *ratio <= 1.0);
            // With shooter and beat the spacing follows.
            input.clip_spacing_m = spacing_m.filter(|_| shooter.is_none() || beat_s.is_none());
        }
    }
    input
}

fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

/// Middle time between neighbouring hooks of a basket.
fn beat_s(set: &SetRecord) -> Option<f64> {
    let mut steps: Vec<f64> = set
        .hooks
        .windows(2)
        .filter(|pair| pair[0].basket == pair[1].basket)
        .filter_map(|pair| Some(pair[1].clipped_at?.seconds_since(pair[0].clipped_at?)))
        .filter(|step_s| *step_s > 0.0)
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied()
}

/// Middle distance of radio buoys, in hooks.
fn buoys_apart(set: &SetRecord, hooks_per_basket: Option<f64>) -> Option<f64> {
    let mut places: Vec<i64> = set.radio_buoys.iter().filter_map(|buoy| buoy.place).collect();
    places.sort_unstable();
    places.dedup();
    let mut apart: Vec<i64> = places.windows(2).map(|pair| pair[1] - pair[0]).collect();
    apart.sort_unstable();
    #[expect(clippy::cast_precision_loss, reason = "baskets of a set are few")]
    let baskets = *apart.get(apart.len() / 2)? as f64;
    hooks_per_basket.map(|hooks| baskets * hooks)
}

/// The courses of a set with the hooks that went out on each; from its end back where `other_way`.
fn legs(set: &SetRecord, other_way: bool) -> Vec<LegWanted> {
    let mut courses: Vec<(Option<UtcInstant>, f64)> =
        set.outgoing.courses.iter().map(|(at, course)| (Some(*at), *course)).collect();
    if courses.is_empty() {
        let ends = set.start.or(set.places.first().and_then(|place| place.position)).zip(set.end);
        let way = ends.map(|(from, to)| geodesic::inverse(from, to)).filter(|way| way.distance_m > 1000.0);
        let planned: Vec<LegWanted> =
            set.outgoing.planned_legs.iter().filter_map(|leg| serde_json::from_value(leg.clone()).ok()).collect();
        if !planned.is_empty() && !other_way {
            return planned;
        }
        courses.extend(way.map(|way| (None, way.bearing_start_deg.round())));
    }
    let mut legs: Vec<(f64, f64)> = Vec::new();
    for (index, (from, course)) in courses.iter().enumerate() {
        let to = courses.get(index + 1).and_then(|(at, _)| *at);
        let within = |at: UtcInstant| (index == 0 || from.is_none_or(|from| at >= from)) && to.is_none_or(|to| at < to);
        let own = set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed);
        #[expect(clippy::cast_precision_loss, reason = "hooks of a set are few")]
        let hooks = own.filter(|hook| hook.clipped_at.is_some_and(within)).count() as f64;
        match legs.last_mut() {
            Some(last) if (last.0 - course).abs() < 0.5 => last.1 += hooks,
            _ if hooks > 0.0 => legs.push((*course, hooks)),
            _ => {}
        }
    }
    if legs.is_empty() {
        legs.extend(courses.last().map(|(_, course)| (*course, 0.0)));
    }
    if other_way {
        legs.reverse();
    }
    let last = legs.len().saturating_sub(1);
    let turned = if other_way { 180.0 } else { 0.0 };
    legs.iter()
        .enumerate()
        .map(|(index, (course, hooks))| LegWanted {
            course_deg_true: wrap_bearing_deg(course + turned),
            hooks: (index < last).then_some(*hooks),
        })
        .collect()
}

/// Temperature and current of the last profiles, as levels.
fn water(set: &SetRecord) -> Option<WaterWanted> {
    let mut levels: Vec<WaterLevel> = set
        .temperature_profile
        .iter()
        .map(|(depth_m, celsius)| WaterLevel {
            depth_m: *depth_m,
            temperature_c: Some(*celsius),
            east_m_s: None,
            north_m_s: None,
        })
        .collect();
    for current in &set.current_profile {
        match levels.iter_mut().find(|level| (level.depth_m - current.depth_m).abs() < 1e-6) {
            Some(level) => (level.east_m_s, level.north_m_s) = (Some(current.east_m_s), Some(current.north_m_s)),
            None => levels.push(WaterLevel {
                depth_m: current.depth_m,
                temperature_c: None,
                east_m_s: Some(current.east_m_s),
                north_m_s: Some(current.north_m_s),
            }),
        }
    }
    levels.sort_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
    (!levels.is_empty()).then_some(WaterWanted { levels, taken_at: None, source: None })
}

/// What was counted aboard.
fn aboard(voyage: &VoyageRecord) -> Aboard {
    let stores = &voyage.aboard;
    let count = |names: &[&str]| names.iter().find_map(|name| stores.counted(name)).map(|(count, _)| count);
    let buoys = stores.radio_buoys.iter().filter(|buoy| buoy.in_set.is_none()).count();
    #[expect(clippy::cast_precision_loss, reason = "stores of a ship are few")]
    Aboard {
        main_line_m: count(&["main line", "main_line", "main_line_m"]),
        branch_lines: count(&["branch line", "branch_line", "branch lines", "branch_lines"]),
        floats: count(&["float", "floats"]),
        radio_buoys: (!stores.radio_buoys.is_empty()).then_some(buoys as f64),
        // In the order in which a set takes them.
        bins: stores
            .bins
            .iter()
            .filter_map(|bin| {
                Some(BinAboard { bin: bin.bin.clone(), hooks: bin.hooks.filter(|hooks| *hooks > 0)? as f64 })
            })
            .collect(),
        bait: stores
            .bait
            .iter()
            .map(|kind| BaitAboard {
                bait: kind.bait.clone(),
                boxes: kind
                    .boxes_in_freezer
                    .map(|boxes| boxes + (kind.boxes_taken_out - kind.boxes_put_back - kind.boxes_spoiled).max(0.0)),
                pieces_per_box: kind.pieces_per_box.filter(|pieces| *pieces >= 1.0),
                share: None,
                // The boat's own hours: nobody else knows them.
                thaw_h: None,
            })
            .collect(),
    }
}
