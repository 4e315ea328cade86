//! The demo voyage: a script of our own with invented people and an invented vessel, beside the 180° meridian in the
//! South Pacific. One seed, one pair of files: the ship's instrument log and the deck's events.
//!
//! Nothing in it was measured. It exists so that every part of the program has a whole voyage to work on: two sets
//! that differ in everything, and the things that go wrong. The same seed gives the same bytes.

mod deck;
mod deep;
mod dice;
mod fish;
mod hauling;
mod line;
mod opening;
mod sea;
mod setting;
mod shallow;
pub mod tables;
#[cfg(test)]
mod tests;
mod wire;

use std::collections::BTreeMap;

use quantity::{InstantError, UtcInstant};
use serde_json::json;

use deck::{Deck, Device};
use dice::Dice;
use line::Setting;
use sea::{Track, Waypoint};

/// The seed of the demo that everybody sees.
pub const SEED: u64 = 180_015;

/// The two files of the demo, and what the script knows of its sets.
pub struct Demo {
    /// NMEA 0183 as it came down the cable.
    pub instruments: Vec<u8>,
    /// One event envelope a line, in the order in which the ship receives them.
    pub deck: Vec<u8>,
    /// The script's own account of each set.
    pub accounts: Vec<Account>,
}

/// What the script itself knows of a set, to be held against what the program makes of the events.
#[derive(Debug, Clone)]
pub struct Account {
    /// Hooks that hung in the water.
    pub hooks_set: usize,
    /// Of these, lost.
    pub hooks_lost: usize,
    /// Of these, neither hauled nor known to be lost.
    pub hooks_unknown: usize,
    /// Fish of every fate by species, as the rail first named them.
    pub seen: BTreeMap<&'static str, u32>,
    /// End of the haul.
    pub end: UtcInstant,
}

impl Account {
    fn new(setting: &Setting, hooks_lost: usize, hooks_unknown: usize) -> Self {
        Self { hooks_set: setting.hooks_set(), hooks_lost, hooks_unknown, seen: BTreeMap::new(), end: setting.start }
    }
}

/// Why the demo could not be made: only a fault of the program itself.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// A date of the script is no date.
    #[error("a date of the demo's script is wrong: {0}")]
    Date(#[from] InstantError),
    /// An event could not be written as JSON.
    #[error("an event of the demo cannot be written: {0}")]
    Event(#[from] serde_json::Error),
}

/// The whole voyage from one seed.
///
/// # Errors
/// [`DemoError`], a fault of the program.
pub fn generate(seed: u64) -> Result<Demo, DemoError> {
    let begin: UtcInstant = "2026-03-09T15:00:00Z".parse()?;
    let first_float: UtcInstant = "2026-03-09T17:00:00Z".parse()?;
    let dusk: UtcInstant = "2026-03-11T06:12:00Z".parse()?;
    let mut deck = Deck::new(seed);
    let mut dice = Dice::new(seed, 0);
    for (device, early_s) in [(Device::Wheelhouse, 60.0), (Device::Stern, -5400.0)] {
        deck.starts(device, begin.plus_seconds(-early_s));
    }
    let mut track = Track::new(Waypoint { at: begin, latitude_deg: -15.21, longitude_deg: 179.33 });
    opening::tell(&mut deck, begin);
    before_the_sets(&mut deck, begin);
    track.sail(70.0, 9.5, first_float.seconds_since(begin) - 600.0);
    track.sail(74.0, 7.6, 600.0);
    let deep = deep::play(&mut deck, &mut dice, &mut track, first_float);
    let to_ground_s = 6.0 * 3600.0;
    track.sail(38.0, 8.5, to_ground_s);
    track.lie(dusk.plus_seconds(-900.0));
    track.sail(248.0, 8.0, 900.0);
    between_the_sets(&mut deck, dusk);
    let shallow = shallow::play(&mut deck, &mut dice, &mut track, dusk);
    let note = json!({"date": "2026-03-12", "activity": "searching", "note": "Looking for the front"});
    deck.typed(
        Device::Wheelhouse,
        shallow.end.plus_seconds(3000.0),
        shallow.end.plus_seconds(2400.0),
        "day_without_set",
        note,
    );
    let spans = [(begin, 10.0), (first_float.plus_seconds(-600.0), 5.0), (first_float.plus_seconds(19_000.0), 10.0)]
        .into_iter()
        .chain([(dusk.plus_seconds(-600.0), 5.0), (dusk.plus_seconds(11_500.0), 10.0)])
        .map(|(from, step_s)| wire::Span { from, step_s })
        .collect::<Vec<_>>();
    let instruments = wire::log(&track, &spans, seed);
    let mut text = Vec::new();
    for (_, line) in deck.lines()? {
        text.extend(line.into_bytes());
        text.push(b'\n');
    }
    Ok(Demo { instruments, deck: text, accounts: vec![deep, shallow] })
}

fn before_the_sets(deck: &mut Deck, begin: UtcInstant) {
    let wheel = Device::Wheelhouse;
    let at = |seconds_s: f64| begin.plus_seconds(seconds_s);
    deck.clock_measured(wheel, at(1500.0), -0.1);
    deck.clock_measured(Device::Stern, at(5700.0), 0.1);
    // Depth, temperature, salinity, current towards east and north.
    let levels: Vec<_> = [
        (0, 28.3, 35.1, -0.20, 0.05),
        (50, 28.1, 35.1, -0.18, 0.05),
        (100, 26.4, 35.4, -0.10, 0.04),
        (150, 23.6, 35.7, -0.03, 0.02),
        (200, 20.9, 35.6, 0.03, 0.0),
        (250, 18.2, 35.3, 0.05, -0.02),
        (300, 15.6, 35.0, 0.05, -0.02),
        (350, 13.4, 34.8, 0.04, -0.02),
        (400, 11.4, 34.7, 0.03, -0.02),
    ]
    .into_iter()
    .map(|(depth_m, temperature_c, salinity, east_m_s, north_m_s)| {
        json!({"depth_m": depth_m, "temperature_c": temperature_c, "salinity": salinity, "east_m_s": east_m_s,
            "north_m_s": north_m_s})
    })
    .collect();
    let profile = json!({"taken_at": Deck::clock(wheel, at(1800.0)).to_string(), "latitude_deg": -15.2,
        "longitude_deg": 179.4, "levels": levels, "source": "expendable probe and current meter"});
    deck.tap(wheel, at(2100.0), "water_profile", profile);
    let weather = json!({"wind_speed_m_s": 7, "wind_from_deg_true": 120, "sea_state": "3", "note": "a few showers"});
    deck.tap(wheel, at(2400.0), "weather", weather);
    deck.tap(wheel, at(2500.0), "bait_taken_out", json!({"bait": "sardine", "boxes": 63, "pieces_per_box": 40}));
    deck.tap(wheel, at(5800.0), "bait_spoiled", json!({"bait": "sardine", "boxes": 1, "pieces_per_box": 40}));
    deck.tap(wheel, at(5900.0), "probe_read", json!({"hold": "fish room 1", "temperature_c": -0.6}));
    let drill = json!({"latitude_deg": -15.16, "longitude_deg": 179.53});
    let alarm = deck.tap(wheel, at(3000.0), "man_overboard", drill);
    deck.tap(wheel, at(3012.0), "man_overboard_false", json!({"target": alarm}));
    deck.tap(
        wheel,
        at(3600.0),
        "place_noted",
        json!({"text": "birds", "latitude_deg": -15.14, "longitude_deg": 179.6}),
    );
    for person in ["person-2", "person-3", "person-4"] {
        deck.tap(wheel, at(6600.0), "work_started", json!({"person": person, "what": "setting"}));
    }
}

fn between_the_sets(deck: &mut Deck, dusk: UtcInstant) {
    let wheel = Device::Wheelhouse;
    let at = |seconds_s: f64| dusk.plus_seconds(seconds_s);
    deck.tap(wheel, at(-9000.0), "bait_put_back", json!({"bait": "sardine", "boxes": 2, "pieces_per_box": 40}));
    deck.tap(wheel, at(-8800.0), "bait_taken_out", json!({"bait": "squid", "boxes": 23, "pieces_per_box": 40}));
    deck.tap(wheel, at(-8600.0), "note", json!({"text": "Water half a degree colder east of the line"}));
    deck.clock_measured(wheel, at(-1200.0), 0.1);
    deck.clock_measured(Device::Stern, at(-1100.0), -0.1);
    let shark = deck.tap(Device::Stern, at(-1000.0), "danger_called", json!({"what": "shark"}));
    deck.tap(Device::Stern, at(-940.0), "danger_over", json!({"target": shark}));
}

/// The ship follows the line as it was hauled; the line has drifted with the current meanwhile.
fn way_home(track: &mut Track, way: &[(UtcInstant, u32)], places: &[Waypoint]) {
    for (at, place) in way {
        let index = usize::try_from(*place).unwrap_or(1).saturating_sub(1);
        if let Some(where_set) = places.get(index) {
            track.to(sea::drifted(*where_set, *at));
        }
    }
}
