//! A set before it goes out: from what the master fixes, everything that follows.
//!
//! Start with [`plan`]. The setting arithmetic is `gear::setting`'s; each leg's basket is hung by the mechanics of
//! `gear::hang` in the current that is known (course of that leg, an endless row that drifts freely), or as a catenary in
//! still water where diameter or weight are not known. Times run by the beat; places by rhumb lines of the speed through
//! the water plus the current at the surface, because floats drift with the water from the moment they are clipped.
//! Pure: the same question gives the same answer.

mod answer;
mod error;
mod event;
mod hang;
mod light;
mod line;
mod start;
mod stores;
mod wanted;
mod water;
mod way;

use quantity::{Position, UtcInstant};
use voyage::Doubt;

pub use answer::{
    BaitNeeded, BinUse, Isotherm, Level, LightSpan, Needed, NeededWhat, Order, PlanSection, Planned, PlannedBuoy,
    PlannedHook, SkyEvent, SkyEventKind, SkyLight, SkyWindow, Stretch, Totals, TrackPoint,
};
pub use error::PlanError;
pub use start::{StartFrom, start_from};
pub use wanted::{
    Aboard, BaitAboard, BinAboard, LegWanted, PlanWanted, StartPlace, WaterLevel, WaterWanted, ZoneWanted,
};

use crate::zones::{Zone, ZoneDistance, least_distance};
use line::Line;
use way::Way;

/// The most hooks of a plan.
pub const MOST_HOOKS: u32 = 50_000;
/// The most legs of a plan.
pub const MOST_LEGS: usize = 60;

/// Works a plan out. What is missing leaves what rests on it open, with a doubt.
///
/// # Errors
/// [`PlanError`] for numbers that no set can have, and numbers that contradict each other.
pub fn plan(wanted: &PlanWanted) -> Result<Planned, PlanError> {
    plan_near(wanted, &[])
}

/// The same, held against zones that were loaded before; those in the question are read too.
///
/// # Errors
/// As [`plan`].
pub fn plan_near(wanted: &PlanWanted, loaded: &[Zone]) -> Result<Planned, PlanError> {
    let start = wanted.check()?;
    let mut doubts = Vec::new();
    let setting = gear::work_out(&wanted.setting)?;
    if setting.hooks.is_some_and(|hooks| hooks > MOST_HOOKS) {
        return Err(PlanError::TooManyHooks { hooks: setting.hooks.unwrap_or(0) });
    }
    let water = water::Water::of(wanted, &mut doubts);
    let line = Line::of(wanted, &setting, &mut doubts);
    let way = Way::of(wanted, &setting, &line, start, &water, &mut doubts)?;
    let hung = hang::stretches(wanted, &setting, &line, &way, &water, &mut doubts)?;
    let totals = totals(wanted, &setting, &line, &way);
    let stores = stores::stores(wanted, &totals, &mut doubts);
    let sky = light::window(&way, &mut doubts);
    let by_daylight = light::hooks_by_daylight(wanted, &line, &way);
    let warnings = light::night_warning(wanted, by_daylight, totals.hooks);
    let zones = near_zones(wanted, loaded, &way, &mut doubts);
    let draw_to_m = water::draw_to_m(&hung.stretches, wanted.layer_m);
    let order = Order {
        ship_kn: setting.vessel_speed_through_water_kn,
        shooter_m_s: setting.shooter_speed_m_s,
        shooter_m_min: setting.shooter_speed_m_s.map(|m_s| m_s * 60.0),
        beat_s: setting.beat_s,
        hooks_per_basket: setting.hooks_per_basket,
        float_line_m: wanted.float_line_m,
        branch_line_m: wanted.branch_line_m,
        sag_ratio: setting.sag_ratio,
        clip_spacing_m: setting.clip_spacing_m,
    };
    Ok(Planned {
        event_data: event::data(wanted, &setting),
        order,
        hooks_in_layer: hung.in_layer,
        hooks_in_layer_if_current_stronger: hung.in_layer_if_stronger,
        hooks: setting.hooks,
        isotherms: water.isotherms(draw_to_m),
        temperature: water.temperature_rows(),
        current: water.current.clone(),
        layer_m: wanted.layer_m,
        draw_to_m,
        needed: stores.needed,
        bait: stores.bait,
        bins: stores.bins,
        bins_short_of_hooks: stores.short,
        track: way.corners(&line),
        radio_buoys: radio_buoys(&line, &way),
        totals: Totals { hooks_by_daylight: by_daylight, ..totals },
        stretches: hung.stretches,
        sky,
        zones,
        warnings,
        doubts,
        setting,
    })
}

fn totals(wanted: &PlanWanted, setting: &gear::Setting, line: &Line, way: &Way) -> Totals {
    let radio_buoys = line.radio_buoys();
    let beside = wanted.buoy_in_place_of_float == Some(false);
    let places = line.places();
    let floats = places.map(|places| if beside { places } else { places.saturating_sub(radio_buoys.unwrap_or(0)) });
    let blank_m = wanted.radio_buoy_blank_m.unwrap_or(0.0) * f64::from(radio_buoys.unwrap_or(0));
    let setting_s = setting.beat_s.zip(line.beats()).map(|(beat_s, beats)| beat_s * beats);
    Totals {
        hooks: setting.hooks,
        baskets: setting.baskets,
        floats,
        radio_buoys,
        main_line_m: setting.main_line_total_m.map(|line_m| line_m + blank_m),
        setting_s,
        ends_at: wanted.start_at.zip(setting_s).map(|(at, s)| at.plus_seconds(s)),
        hooks_by_daylight: None,
        distance_m: way.length_m(),
    }
}

fn radio_buoys(line: &Line, way: &Way) -> Vec<PlannedBuoy> {
    line.buoys
        .iter()
        .map(|(place, at_hook)| {
            let beats = line.beat_of_place(*place);
            let at = way.place_at(beats);
            PlannedBuoy {
                at_hook: *at_hook,
                place: *place,
                latitude_deg: at.map(Position::latitude_deg),
                longitude_deg: at.map(Position::longitude_deg),
                at: way.time_at(beats),
            }
        })
        .collect()
}

fn near_zones(wanted: &PlanWanted, loaded: &[Zone], way: &Way, doubts: &mut Vec<Doubt>) -> Vec<ZoneDistance> {
    let own: Vec<Zone> = wanted
        .zones
        .iter()
        .filter_map(|zone| match Zone::of(&zone.name, &zone.geometry) {
            Ok(zone) => Some(zone),
            Err(error) => {
                doubts.push(Doubt::new("zone_not_read", format!("zone {}", zone.name), error.to_string()));
                None
            }
        })
        .collect();
    let track = way.dense();
    if track.is_empty() && !(own.is_empty() && loaded.is_empty()) {
        let text = "Without a start, a speed and the hooks no distance to the zones is known.";
        doubts.push(Doubt::new("zones_not_measured", "plan", text));
    }
    own.iter()
        .chain(loaded)
        .filter_map(|zone| {
            let near = least_distance(&track, zone)?;
            let beats = way.beat_along(near.piece, near.share);
            let at: Option<UtcInstant> = way.time_at(beats);
            Some(ZoneDistance {
                name: zone.name.clone(),
                least_distance_m: near.least_distance_m,
                inside: near.inside,
                at,
                latitude_deg: near.on_track.latitude_deg(),
                longitude_deg: near.on_track.longitude_deg(),
                leg: way.leg_of(near.piece),
            })
        })
        .collect()
}
