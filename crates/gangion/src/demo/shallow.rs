//! The shallow swordfish set of the script: 180 baskets of 5 hooks at dusk, squid and light sticks, fixed tags in the
//! order of the rack, the line leaving at the ship's own speed; some baskets cut off by a stranger and found again in
//! part, a turtle let go, a fish that two tablets entered.

use std::collections::BTreeMap;

use quantity::UtcInstant;
use serde_json::json;

use super::deck::{Deck, Device};
use super::dice::Dice;
use super::hauling::{Haul, Surprise};
use super::line::{Setting, Stop};
use super::opening;
use super::sea::{self, Track, Waypoint};
use super::setting::{self, GoingOut};
use super::{Account, way_home};

/// Hooks that were missed and told by the key.
pub const TOLD_MISSED: [(u32, u32); 3] = [(17, 4), (88, 1), (141, 5)];
/// The places between which the line was cut off by a stranger.
pub const CUT_OFF: (u32, u32) = (150, 153);
/// What another boat brought back of it.
pub const BROUGHT_BACK: (u32, u32) = (151, 153);

/// Three branch lines bitten off, and the one basket of the three cut off that was not brought back.
const LOST: usize = 3 + 5;

/// The clockwork of the set.
pub fn clockwork(start: UtcInstant) -> Setting {
    let mut setting = Setting {
        start,
        beat_s: 12.0,
        hooks_per_basket: 5,
        baskets: 180,
        float_takes_a_beat: false,
        stops: Vec::new(),
        missed: TOLD_MISSED.into_iter().collect(),
    };
    setting.stops = vec![Stop { after_s: setting.hook_beat_s(104, 2) + 3.7, lasts_s: 140.0, line_running: false }];
    setting
}

/// Painted letters and numbers, in the order in which the rack happened to be filled.
fn tags() -> BTreeMap<u32, String> {
    (1..=181_u32)
        .map(|place| {
            let rack = (place * 67) % 181;
            let letter = ["A", "B", "C"][usize::try_from(rack % 3).unwrap_or(0)];
            (place, format!("{letter}{:02}", rack / 3 + 1))
        })
        .collect()
}

/// Writes the whole set and sails it. `start` is the first float.
pub fn play(deck: &mut Deck, dice: &mut Dice, track: &mut Track, start: UtcInstant) -> Account {
    let setting = clockwork(start);
    let buoys: BTreeMap<u32, &'static str> = (0..4).map(|n| 1 + 60 * n).zip(opening::BUOYS).collect();
    let tags = tags();
    let out = GoingOut {
        setting: &setting,
        gear: opening::SHALLOW_GEAR,
        target: "SWO",
        night: true,
        plan: json!({"vessel_speed_through_water_kn": 8.0, "sag_ratio": 0.92, "beat_s": 12.0, "clip_spacing_m": 49.4,
            "hooks_per_basket": 5, "baskets": 180, "float_takes_a_beat": false, "hooks_per_radio_buoy": 300}),
        buoys: &buoys,
        buoy_in_place: false,
        tags: &tags,
        untapped: &[],
        told_missed: &TOLD_MISSED,
        bin_name: "tub",
        bin_baskets: 45,
        legs: &[(1, 248.0), (96, 231.0)],
        through_water_kn: 8.0,
        silent: None,
    };
    setting::go_out(deck, dice, &out);
    let places = setting::sail(track, dice, &out);
    let wheel = Device::Wheelhouse;
    let first = setting.start;
    let listed: Vec<&String> = tags.values().collect();
    deck.tap(wheel, first.plus_seconds(2.0), "tags_listed", json!({"from_place": 1, "tags": listed}));
    deck.tap(wheel, first.plus_seconds(5.0), "hook_bait", json!({"from_place": 1, "bait": "squid"}));
    deck.tap(wheel, first.plus_seconds(7.0), "light_stick", json!({"from_place": 1, "every": 2, "colour": "green"}));
    deck.tap(
        wheel,
        setting.place_at(91).plus_seconds(4.0),
        "light_stick",
        json!({"from_place": 91, "every": 2, "colour": "blue"}),
    );
    deck.tap(wheel, first.plus_seconds(9.0), "bird_line", json!({"state": "out"}));
    deck.tap(wheel, setting.place_at(181).plus_seconds(70.0), "bird_line", json!({"state": "in"}));
    let mut account = Account::new(&setting, LOST, 0);
    soak(deck, dice, &setting, &places, &buoys);
    haul(deck, dice, track, &setting, &buoys, &tags, &places, &mut account);
    deck.set = None;
    account
}

fn soak(deck: &mut Deck, dice: &mut Dice, setting: &Setting, places: &[Waypoint], buoys: &BTreeMap<u32, &'static str>) {
    let end = setting.place_at(181);
    for (place, buoy) in buoys {
        let Some(where_set) = places.get(usize::try_from(*place).unwrap_or(1) - 1) else { continue };
        for hour in [2.0, 6.5] {
            let at = end.plus_seconds(3600.0 * hour + f64::from(*place));
            let fix = sea::drifted(*where_set, at);
            let data = json!({"buoy": buoy, "at": Deck::clock(Device::Wheelhouse, at).to_string(), "uncertainty_m": 120,
                "latitude_deg": super::deep::rounded(fix.latitude_deg + 0.0004 * dice.bell()),
                "longitude_deg": super::deep::rounded(quantity::wrap_longitude_deg(fix.longitude_deg)),
                "source": "buoy receiver"});
            deck.tap(Device::Wheelhouse, at.plus_seconds(1.0), "buoy_fixed", data);
        }
    }
}

#[expect(clippy::too_many_arguments, reason = "one call, in the order in which the haul needs them")]
fn haul(
    deck: &mut Deck,
    dice: &mut Dice,
    track: &mut Track,
    setting: &Setting,
    buoys: &BTreeMap<u32, &'static str>,
    tags: &BTreeMap<u32, String>,
    places: &[Waypoint],
    account: &mut Account,
) {
    let begin = setting.start.plus_seconds(11.3 * 3600.0);
    for (device, early_s) in [(Device::Rail, 1200.0), (Device::Table, 900.0)] {
        deck.starts(device, begin.plus_seconds(-early_s));
        deck.clock_measured(device, begin.plus_seconds(-early_s + 200.0), 0.1);
    }
    track.lie(begin.plus_seconds(-2400.0));
    track.to(sea::drifted(places[180], begin));
    let mut haul = Haul::new(deck, dice, setting, begin, &super::fish::SHALLOW, buoys, tags);
    haul.pace_s = 13.5;
    haul.buoy_in_place = false;
    haul.surprises = surprises();
    haul.start("to_first", 181);
    haul.place(181);
    for basket in (CUT_OFF.1..=180).rev() {
        lift(&mut haul, basket);
    }
    haul.wait(20.0);
    haul.end("parted");
    let lost = json!({"from_place": CUT_OFF.0, "to_place": CUT_OFF.1, "reason": "cut off by a passing stranger"});
    haul.deck.tap(Device::Wheelhouse, haul.now.plus_seconds(120.0), "gear_lost", lost);
    haul.wait(1300.0);
    haul.start("to_first", CUT_OFF.0);
    haul.place(CUT_OFF.0);
    for basket in (1..CUT_OFF.0).rev() {
        lift(&mut haul, basket);
    }
    haul.wait(60.0);
    haul.end("all_up");
    account.seen = std::mem::take(&mut haul.seen);
    let (way, landed, now) = (std::mem::take(&mut haul.way), std::mem::take(&mut haul.landed), haul.now);
    way_home(track, &way, places);
    let found = json!({"from_place": BROUGHT_BACK.0, "to_place": BROUGHT_BACK.1, "by": "another boat"});
    deck.tap(Device::Wheelhouse, now.plus_seconds(2400.0), "gear_recovered", found);
    if let Some((fish, _)) = landed.iter().rfind(|(_, data)| data["species"] == "SWO") {
        // The rail was cut off for a while, so the table began a card of its own for a fish that the rail had too.
        let twin =
            deck.tap(Device::Table, now.plus_seconds(-900.0), "landed", json!({"species": "SWO", "condition": "dead"}));
        deck.tap(Device::Wheelhouse, now.plus_seconds(900.0), "same_fish", json!({"a": fish, "b": twin}));
    }
    track.lie(now.plus_seconds(3600.0));
    account.end = now;
}

fn lift(haul: &mut Haul<'_>, basket: u32) {
    for position in haul.setting.live(basket).into_iter().rev() {
        haul.hook(basket, position);
    }
    haul.place(basket);
}

fn surprises() -> BTreeMap<(u32, u32), Surprise> {
    let turtle = json!({"condition": "alive", "hooked": "mouth", "gear_left_m": 0,
        "handling": ["dip net", "hook taken out", "rested on deck"]});
    [
        ((171, 2), Surprise::LineLost("bitten")),
        ((120, 3), Surprise::LineLost("bitten")),
        ((95, 2), Surprise::Released("LKV", turtle)),
        ((61, 4), Surprise::Bitten("SWO", "shark", true)),
        ((33, 3), Surprise::LostAtRail("SWO")),
        ((12, 2), Surprise::LineLost("bitten")),
    ]
    .into_iter()
    .collect()
}
