//! From a voyage's record to the question of which end first.

use std::collections::BTreeMap;

use quantity::{Position, UtcInstant};
use voyage::rest::Span;
use voyage::{HookFate, SetRecord, VoyageRecord};
use water::fixes::{Buoy, Fix};

use super::{EndsAsked, Stretch, Worker};

/// A launch is a fix of the ship, some tens of metres from the buoy: one standard deviation, metres. A judgement.
const LAUNCH_SD_M: f64 = 50.0;

/// What the record does not say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chosen {
    /// Now.
    pub now: UtcInstant,
    /// Where the ship is.
    pub ship: Position,
    /// Her speed to the line, knots.
    pub ship_speed_kn: f64,
    /// The chosen hour for the start of the haul.
    pub start_at: Option<UtcInstant>,
    /// Hooks hauled in an hour; that of this voyage's hauls where not given.
    pub pace_hooks_h: Option<f64>,
}

/// The question for a set of a voyage; none where no pace was given and nothing was hauled yet.
#[must_use]
pub fn of_set(voyage: &VoyageRecord, set: &SetRecord, chosen: &Chosen) -> Option<EndsAsked> {
    let (pace_hooks_h, pace_error_hooks_h) = match chosen.pace_hooks_h {
        Some(pace) => (pace, None),
        None => pace(voyage).map(|(pace, error)| (pace, Some(error)))?,
    };
    Some(EndsAsked {
        now: chosen.now,
        ship_latitude_deg: chosen.ship.latitude_deg(),
        ship_longitude_deg: chosen.ship.longitude_deg(),
        ship_speed_kn: chosen.ship_speed_kn,
        start_at: chosen.start_at,
        buoys: buoys(set),
        stretches: stretches(set),
        pace_hooks_h,
        pace_error_hooks_h,
        wind_from_deg_true: set.conditions.wind_from_deg_true,
        call_before_s: 1_800.0,
        people: people(voyage, chosen.now),
        next_set_s: set.ended_at.map(|ended| ended.seconds_since(set.started_at)).filter(|seconds| *seconds > 0.0),
    })
}

/// Hooks hauled in an hour over the voyage's haul parts, and one standard error of it for the next haul: the spread
/// between parts, a fifth of the pace where there is but one.
#[must_use]
pub fn pace(voyage: &VoyageRecord) -> Option<(f64, f64)> {
    let mut paces = Vec::new();
    for set in &voyage.sets {
        for part in &set.parts {
            let within = |at: &UtcInstant| *at >= part.started_at && part.ended_at.is_none_or(|ended| *at <= ended);
            let lifted: Vec<UtcInstant> = set.hooks.iter().filter_map(|hook| hook.lifted_at).filter(within).collect();
            let Some((first, last)) = lifted.iter().min().zip(lifted.iter().max()) else { continue };
            let hours_h = last.seconds_since(*first) / 3600.0;
            #[expect(clippy::cast_precision_loss, reason = "hooks are few")]
            let count = lifted.len() as f64;
            // A few hooks are no pace.
            if count >= 50.0 && hours_h > 0.1 {
                paces.push((count, count / hours_h));
            }
        }
    }
    let weight: f64 = paces.iter().map(|(count, _)| count).sum();
    let mean = paces.iter().map(|(count, pace)| count * pace).sum::<f64>() / weight;
    #[expect(clippy::cast_precision_loss, reason = "few")]
    let error = match paces.len() {
        0 => return None,
        1 => 0.2 * mean,
        parts => (paces.iter().map(|(_, pace)| (pace - mean).powi(2)).sum::<f64>() / (parts as f64 - 1.0)).sqrt(),
    };
    Some((mean, error.max(0.02 * mean)))
}

/// Radio buoys in setting order with their fixes, the launch among them; the end floats where no buoy went out.
fn buoys(set: &SetRecord) -> Vec<Buoy> {
    let placed = |place: i64| {
        set.places.iter().find(|held| held.place == place).and_then(|held| Some((held.clipped_at?, held.position?)))
    };
    let launch = |(at, position): (UtcInstant, Position)| Fix {
        at,
        latitude_deg: position.latitude_deg(),
        longitude_deg: position.longitude_deg(),
        uncertainty_m: Some(LAUNCH_SD_M),
    };
    let mut order: BTreeMap<(i64, UtcInstant), &str> = BTreeMap::new();
    for buoy in set.radio_buoys.iter().filter(|buoy| buoy.recovered_at.is_none()) {
        order.insert((buoy.place.unwrap_or(i64::MAX), buoy.launched_at), &buoy.buoy);
    }
    if order.is_empty() {
        let ends = [set.places.first(), set.places.last()];
        let ends = ends.into_iter().flatten().filter(|place| place.hauled_at.is_none());
        return ends
            .filter_map(|place| {
                let name = place.tag.clone().unwrap_or_else(|| place.place.to_string());
                Some(Buoy { buoy: name, fixes: vec![launch(placed(place.place)?)] })
            })
            .collect();
    }
    order
        .into_iter()
        .map(|((place, _), name)| {
            let told = set.buoy_fixes.iter().filter(|(buoy, _, _)| buoy == name);
            let mut fixes: Vec<Fix> = told
                .map(|(_, at, position)| Fix {
                    at: *at,
                    latitude_deg: position.latitude_deg(),
                    longitude_deg: position.longitude_deg(),
                    uncertainty_m: None,
                })
                .collect();
            fixes.extend(placed(place).map(launch));
            Buoy { buoy: name.to_owned(), fixes }
        })
        .collect()
}

/// The hooks that are still in the water, basket by basket.
fn stretches(set: &SetRecord) -> Vec<Stretch> {
    let mut by_basket: BTreeMap<i64, Stretch> = BTreeMap::new();
    for hook in set.hooks.iter().filter(|hook| hook.fate == HookFate::InWater) {
        let Some(clipped_at) = hook.clipped_at else { continue };
        let stretch = by_basket.entry(hook.basket).or_insert(Stretch {
            hooks: 0,
            first_clipped_at: clipped_at,
            last_clipped_at: clipped_at,
        });
        stretch.hooks += 1;
        stretch.first_clipped_at = stretch.first_clipped_at.min(clipped_at);
        stretch.last_clipped_at = stretch.last_clipped_at.max(clipped_at);
    }
    by_basket.into_values().collect()
}

fn people(voyage: &VoyageRecord, now: UtcInstant) -> Vec<Worker> {
    let mut people: BTreeMap<&str, Worker> = BTreeMap::new();
    for work in &voyage.work {
        let name = work.name.as_deref().unwrap_or(&work.person);
        let worker =
            people.entry(&work.person).or_insert_with(|| Worker { name: name.to_owned(), intervals: Vec::new() });
        // Work that has not ended goes on until now at least.
        worker.intervals.push(Span { from: work.from, to: work.to.unwrap_or(now).max(work.from) });
    }
    people.into_values().collect()
}
