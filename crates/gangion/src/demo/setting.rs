//! What is written while a set of the script goes out: the beat, the taps at the stern, stops, bins and buoys; and
//! the ship's way meanwhile.

use std::collections::BTreeMap;

use quantity::UtcInstant;
use serde_json::{Value, json};

use super::deck::{Deck, Device};
use super::dice::Dice;
use super::line::Setting;
use super::sea::{Track, Waypoint};

/// One set as it goes out.
pub struct GoingOut<'a> {
    /// When which hook is due.
    pub setting: &'a Setting,
    /// The gear's name.
    pub gear: &'static str,
    /// Target species.
    pub target: &'static str,
    /// Set by night on purpose.
    pub night: bool,
    /// The plan, as the setting command takes it.
    pub plan: Value,
    /// Radio buoys by place.
    pub buoys: &'a BTreeMap<u32, &'static str>,
    /// Whether a buoy hangs where a float would.
    pub buoy_in_place: bool,
    /// Tags by place, as tapped.
    pub tags: &'a BTreeMap<u32, String>,
    /// Places that nobody taps.
    pub untapped: &'a [u32],
    /// Positions that are told as missed by a key at the stern.
    pub told_missed: &'a [(u32, u32)],
    /// What its bins are called, before their number.
    pub bin_name: &'static str,
    /// Baskets of one bin.
    pub bin_baskets: u32,
    /// Heading from a place on.
    pub legs: &'a [(u32, f64)],
    /// Speed through the water, knots.
    pub through_water_kn: f64,
    /// No beat is told between these moments (the screen was down).
    pub silent: Option<(UtcInstant, UtcInstant)>,
}

/// Writes the set; from now on events carry it.
pub fn go_out(deck: &mut Deck, dice: &mut Dice, out: &GoingOut<'_>) {
    let setting = out.setting;
    let wheel = Device::Wheelhouse;
    deck.set = None;
    deck.haul = None;
    let planned = json!({"plan": out.plan, "target": out.target, "night": out.night,
        "start_at": Deck::clock(wheel, setting.start).to_string()});
    deck.tap(wheel, setting.start.plus_seconds(-5400.0), "set_planned", planned);
    let begin = setting.start.plus_seconds(-1.0);
    let started = json!({"gear": out.gear, "target": out.target, "night": out.night, "plan": out.plan});
    let id = deck.tap(wheel, begin, "setting_started", started);
    deck.set = Some(id);
    beats(deck, out);
    for place in 1..=setting.last_place() {
        tap_place(deck, dice, out, place);
    }
    for (basket, position) in out.told_missed {
        let at = setting.hook_at(*basket, *position).plus_seconds(1.2);
        deck.tap(Device::Stern, at, "hook_missed", json!({"basket": basket, "position": position}));
    }
    for (index, stop) in setting.stops.iter().enumerate() {
        let at = setting.stop_start(index);
        deck.tap(Device::Stern, at, "stop_started", json!({}));
        let ended = at.plus_seconds(stop.lasts_s);
        deck.tap(Device::Stern, ended, "stop_ended", json!({"line_running": stop.line_running}));
    }
    for (place, heading) in out.legs {
        let at = setting.place_at(*place).plus_seconds(2.0);
        deck.tap(wheel, at, "course_leg", json!({"course_deg_true": heading}));
    }
    bins(deck, out);
    let end = setting.place_at(setting.last_place()).plus_seconds(40.0);
    deck.tap(wheel, end, "setting_ended", json!({"last_place": setting.last_place(), "hooks_after": 0}));
}

fn beats(deck: &mut Deck, out: &GoingOut<'_>) {
    let setting = out.setting;
    let every = (setting.baskets / 20).max(1);
    for basket in (1..=setting.baskets).step_by(usize::try_from(every).unwrap_or(1)) {
        let at = setting.place_at(basket);
        if out.silent.is_some_and(|(from, to)| from <= at && at <= to) {
            continue;
        }
        let anchor = json!({"basket": basket, "position": 0, "at": Deck::clock(Device::Wheelhouse, at).to_string(),
            "beat_s": setting.beat_s, "hooks_per_basket": setting.hooks_per_basket,
            "float_takes_a_beat": setting.float_takes_a_beat});
        deck.beat(Device::Wheelhouse, at, "beat", anchor);
    }
}

fn tap_place(deck: &mut Deck, dice: &mut Dice, out: &GoingOut<'_>, place: u32) {
    let late_s = dice.between(-0.8, 1.6).max(if place == 1 { 0.2 } else { -0.8 });
    let at = out.setting.place_at(place).plus_seconds(late_s);
    if let Some(buoy) = out.buoys.get(&place) {
        deck.tap(Device::Stern, at, "radio_buoy_launched", json!({"buoy": buoy, "place": place}));
        if out.buoy_in_place {
            return;
        }
    }
    if !out.untapped.contains(&place) {
        let at = at.plus_seconds(0.1);
        deck.tap(Device::Stern, at, "float_clipped", json!({"place": place, "tag": out.tags.get(&place)}));
    }
}

fn bins(deck: &mut Deck, out: &GoingOut<'_>) {
    let setting = out.setting;
    let mut number = 0;
    let mut basket = 1;
    while basket <= setting.baskets {
        number += 1;
        let bin = format!("{} {number}", out.bin_name);
        let at = setting.place_at(basket).plus_seconds(3.0);
        deck.tap(Device::Stern, at, "bin_started", json!({"bin": bin}));
        basket += out.bin_baskets;
        // What was missed is still in the tub when the last one is empty of whole bundles.
        let hooks_left = if basket > setting.baskets { setting.missed.len() } else { 0 };
        let done = setting.place_at(basket.min(setting.last_place())).plus_seconds(2.4);
        deck.tap(Device::Stern, done, "bin_ended", json!({"bin": bin, "hooks_left": hooks_left}));
    }
}

/// Sails the set; she goes slow while the shooter is stopped. Returns where each place went in.
pub fn sail(track: &mut Track, dice: &mut Dice, out: &GoingOut<'_>) -> Vec<Waypoint> {
    let setting = out.setting;
    let end = setting.place_at(setting.last_place());
    let mut now = track.end().at;
    while now < end {
        let step_s = 30.0_f64.min(end.seconds_since(now));
        let heading = out.legs.iter().rfind(|(place, _)| setting.place_at(*place) <= now).map_or(90.0, |(_, way)| *way);
        let stopped = setting.stops.iter().enumerate().any(|(index, stop)| {
            let from = setting.stop_start(index);
            !stop.line_running && from <= now && now < from.plus_seconds(stop.lasts_s)
        });
        let speed_kn = if stopped { 1.5 } else { out.through_water_kn * (1.0 + 0.012 * dice.bell()) };
        track.sail(heading, speed_kn, step_s);
        now = track.end().at;
    }
    (1..=setting.last_place()).map(|place| track.motion(setting.place_at(place)).here).collect()
}
