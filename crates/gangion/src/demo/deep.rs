//! The deep tuna set of the script: 100 baskets of 25 hooks by day, a stop of each kind, seven hooks missed and told,
//! a screen that fell silent for six hooks' time, a tangle, a line that parts in the haul and is taken up from its
//! other end, two floats never found.

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
pub const TOLD_MISSED: [(u32, u32); 7] = [(4, 11), (12, 3), (29, 24), (44, 8), (58, 19), (77, 1), (90, 16)];
/// Hooks that the silence swallowed: due 14th and 15th of basket 50, never clipped.
pub const SILENT_MISSED: [(u32, u32); 2] = [(50, 14), (50, 15)];
/// Floats never found.
pub const MISSING: [u32; 2] = [72, 23];
/// The basket in which the line parts.
pub const PARTED_BASKET: u32 = 40;

/// Five branch lines told as lost, and 17 cut out of the tangle.
const LOST: usize = 5 + 17;
/// Two of the tangle's 50, and one of the 25 of the basket that parted.
const UNKNOWN: usize = 2 + 1;

/// The clockwork of the set.
pub fn clockwork(start: UtcInstant) -> Setting {
    let mut setting = Setting {
        start,
        beat_s: 7.0,
        hooks_per_basket: 25,
        baskets: 100,
        float_takes_a_beat: true,
        stops: Vec::new(),
        missed: TOLD_MISSED.into_iter().chain(SILENT_MISSED).collect(),
    };
    setting.stops = vec![
        Stop { after_s: setting.hook_beat_s(30, 10) + 2.1, lasts_s: 260.0, line_running: false },
        Stop { after_s: setting.hook_beat_s(67, 4) + 4.2, lasts_s: 95.0, line_running: true },
    ];
    setting
}

/// Tags as painted and tapped: 1, 2, 3 … on the floats, two of them in the wrong order.
fn tags(buoys: &BTreeMap<u32, &'static str>) -> BTreeMap<u32, String> {
    let floats = (1..=101).filter(|place| !buoys.contains_key(place));
    let mut tags: BTreeMap<u32, String> =
        floats.zip(1..).map(|(place, tag): (u32, u32)| (place, tag.to_string())).collect();
    if let (Some(a), Some(b)) = (tags.get(&33).cloned(), tags.get(&34).cloned()) {
        tags.insert(33, b);
        tags.insert(34, a);
    }
    tags
}

/// Writes the whole set and sails it. `start` is the first float.
pub fn play(deck: &mut Deck, dice: &mut Dice, track: &mut Track, start: UtcInstant) -> Account {
    let setting = clockwork(start);
    let buoys: BTreeMap<u32, &'static str> = (0..6).map(|n| 1 + 20 * n).zip(opening::BUOYS).collect();
    let tags = tags(&buoys);
    let silent_from = setting.hook_at(50, 9).plus_seconds(2.0);
    let silent_to = setting.hook_at(50, 15).plus_seconds(2.0);
    deck.starts(Device::Wheelhouse, silent_to.plus_seconds(-6.0));
    let out = GoingOut {
        setting: &setting,
        gear: opening::DEEP_GEAR,
        target: "BET",
        night: false,
        plan: json!({"vessel_speed_through_water_kn": 7.6, "shooter_speed_m_s": 5.9, "beat_s": 7.0,
            "hooks_per_basket": 25, "baskets": 100, "float_takes_a_beat": true, "hooks_per_radio_buoy": 500}),
        buoys: &buoys,
        buoy_in_place: true,
        tags: &tags,
        untapped: &[75],
        told_missed: &TOLD_MISSED,
        bin_name: "bin",
        bin_baskets: 10,
        legs: &[(1, 74.0), (52, 96.0)],
        through_water_kn: 7.6,
        silent: Some((silent_from, silent_to)),
    };
    setting::go_out(deck, dice, &out);
    let places = setting::sail(track, dice, &out);
    around_the_setting(deck, &setting, silent_from, silent_to);
    let end = setting.place_at(101);
    let last = places[100];
    let mut account = Account::new(&setting, LOST, UNKNOWN);
    soak(deck, dice, &places, &buoys, end);
    haul(deck, dice, track, &setting, &buoys, &tags, &places, last, &mut account);
    deck.set = None;
    account
}

fn around_the_setting(deck: &mut Deck, setting: &Setting, silent_from: UtcInstant, silent_to: UtcInstant) {
    let wheel = Device::Wheelhouse;
    let at = |place: u32, seconds_s: f64| setting.place_at(place).plus_seconds(seconds_s);
    deck.tap(wheel, at(1, 4.0), "shooter_speed", json!({"shooter_speed_m_s": 5.9, "basis": "counter"}));
    deck.tap(wheel, at(1, 6.0), "hook_bait", json!({"from_place": 1, "bait": "sardine"}));
    deck.tap(wheel, at(1, 9.0), "bird_line", json!({"state": "out"}));
    deck.tap(wheel, at(61, 5.0), "gear_changed", json!({"from_place": 61, "float_line_m": 35}));
    deck.tap(wheel, at(80, 9.0), "bird_line", json!({"state": "fouled"}));
    deck.tap(wheel, at(82, 9.0), "bird_line", json!({"state": "out"}));
    deck.tap(wheel, at(101, 60.0), "bird_line", json!({"state": "in"}));
    // A finger too many, taken back.
    let twice = deck.tap(Device::Stern, at(45, 4.0), "float_clipped", json!({"place": 46, "tag": "44"}));
    deck.tap(Device::Stern, at(45, 11.0), "voided", json!({"target": twice, "why": "tapped twice"}));
    let silence = |clipped: Option<u32>| {
        json!({"from_at": Deck::clock(wheel, silent_from).to_string(), "to_at": Deck::clock(wheel, silent_to).to_string(),
            "hooks_clipped": clipped})
    };
    let silent = deck.beat(wheel, silent_to.plus_seconds(1.0), "beat_silent", silence(None));
    let answer = json!({"target": silent, "data": silence(Some(4)), "why": "asked those who clipped"});
    deck.tap(wheel, at(101, 900.0), "amended", answer);
    for device in [wheel, Device::Stern] {
        deck.clock_measured(device, silent_to.plus_seconds(30.0), 0.1);
    }
}

fn soak(deck: &mut Deck, dice: &mut Dice, places: &[Waypoint], buoys: &BTreeMap<u32, &'static str>, end: UtcInstant) {
    let wheel = Device::Wheelhouse;
    for person in ["person-2", "person-3", "person-4"] {
        deck.tap(wheel, end.plus_seconds(120.0), "work_ended", json!({"person": person, "what": "setting"}));
    }
    for hour in 1..=3_u32 {
        for (place, buoy) in buoys {
            let at = end.plus_seconds(3600.0 * f64::from(hour) + f64::from(*place) * 3.0);
            let Some(where_set) = places.get(usize::try_from(*place).unwrap_or(1) - 1) else { continue };
            let fix = sea::drifted(*where_set, at);
            let data = json!({"buoy": buoy, "at": Deck::clock(wheel, at).to_string(), "uncertainty_m": 120,
                "latitude_deg": rounded(fix.latitude_deg + 0.0004 * dice.bell()),
                "longitude_deg": rounded(quantity::wrap_longitude_deg(fix.longitude_deg + 0.0004 * dice.bell())),
                "source": "buoy receiver"});
            deck.tap(wheel, at.plus_seconds(1.0), "buoy_fixed", data);
        }
    }
    let weather = json!({"wind_speed_m_s": 6.8, "wind_from_deg_true": 118, "sea_state": "3"});
    deck.tap(wheel, end.plus_seconds(5000.0), "weather", weather);
}

/// A ten-thousandth of a degree is 11 m: as fine as a buoy tells.
pub fn rounded(angle_deg: f64) -> f64 {
    (angle_deg * 10_000.0).round() / 10_000.0
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
    last: Waypoint,
    account: &mut Account,
) {
    let begin = setting.start.plus_seconds(9.5 * 3600.0);
    for (device, early_s) in [(Device::Rail, 1500.0), (Device::Table, 1200.0)] {
        deck.starts(device, begin.plus_seconds(-early_s));
        deck.clock_measured(device, begin.plus_seconds(-early_s + 240.0), -0.1);
        deck.clock_measured(device, begin.plus_seconds(6.0 * 3600.0), 0.1);
    }
    deck.comes_late(Device::Rail, begin.plus_seconds(2.5 * 3600.0), begin.plus_seconds(5.5 * 3600.0), 3600.0);
    for person in ["person-2", "person-4"] {
        let data = json!({"person": person, "what": "hauling"});
        deck.tap(Device::Wheelhouse, begin.plus_seconds(-600.0), "work_started", data);
    }
    track.lie(begin.plus_seconds(-2400.0));
    track.to(sea::drifted(last, begin));
    let mut haul = Haul::new(deck, dice, setting, begin, &super::fish::DEEP, buoys, tags);
    haul.missing = MISSING.into_iter().collect();
    haul.surprises = surprises();
    haul.start("to_first", 101);
    haul.place(101);
    for basket in (PARTED_BASKET + 1..=100).rev() {
        if basket == 87 {
            tangle(&mut haul);
        }
        if basket != 87 && basket != 86 {
            for position in setting.live(basket).into_iter().rev() {
                haul.hook(basket, position);
            }
        }
        if basket != 87 {
            haul.place(basket);
        }
        bundle(&mut haul, basket);
    }
    // Twelve hooks of the next basket, then the end comes up with nothing on it.
    for position in setting.live(PARTED_BASKET).into_iter().rev().take(12) {
        haul.hook(PARTED_BASKET, position);
    }
    counted(&mut haul);
    haul.wait(30.0);
    haul.end("parted");
    let from = sea::drifted(places[40], haul.now);
    let to = sea::drifted(places[0], haul.now);
    let north = (to.latitude_deg - from.latitude_deg) * 60.0;
    let east = (to.longitude_deg - from.longitude_deg) * 60.0 * from.latitude_deg.to_radians().cos();
    haul.wait(north.hypot(east) / 9.0 * 3600.0 + 900.0);
    haul.start("to_last", 1);
    for basket in 1..=PARTED_BASKET {
        haul.place(basket);
        let live = setting.live(basket);
        let many = if basket == PARTED_BASKET { 12 } else { live.len() };
        for position in live.into_iter().take(many) {
            haul.hook(basket, position);
        }
        bundle(&mut haul, basket);
    }
    counted(&mut haul);
    haul.wait(60.0);
    haul.end("all_up");
    account.seen = std::mem::take(&mut haul.seen);
    let (way, landed, now) = (std::mem::take(&mut haul.way), std::mem::take(&mut haul.landed), haul.now);
    way_home(track, &way, places);
    track.lie(now.plus_seconds(300.0));
    second_thoughts(deck, &landed, now);
    account.end = now;
}

fn surprises() -> BTreeMap<(u32, u32), Surprise> {
    let shark = json!({"condition": "alive", "hooked": "mouth", "gear_left_m": 0.3,
        "handling": ["kept in the water", "line cut close to the hook"]});
    let turtle = json!({"condition": "alive", "hooked": "flipper", "gear_left_m": 0,
        "handling": ["dip net", "hook taken out", "rested on deck"]});
    [
        ((97, 20), Surprise::LineLost("bitten")),
        ((93, 13), Surprise::Bitten("YFT", "shark", true)),
        ((81, 7), Surprise::LineLost("bitten")),
        ((70, 18), Surprise::Released("BSH", shark)),
        ((66, 9), Surprise::LostAtRail("BET")),
        ((52, 21), Surprise::LineLost("bitten")),
        ((47, 12), Surprise::Bitten("BET", "toothed whale", false)),
        ((31, 4), Surprise::LineLost("broken")),
        ((18, 24), Surprise::Released("TTL", turtle)),
        ((9, 15), Surprise::LineLost("cut")),
    ]
    .into_iter()
    .collect()
}

/// Baskets 86 and 87 come up as one heap: 31 branch lines saved, 17 cut away, two never accounted for.
fn tangle(haul: &mut Haul<'_>) {
    haul.deck.tap(Device::Rail, haul.now, "hauler_stopped", json!({}));
    haul.wait(1500.0);
    let heap = json!({"from_place": 86, "to_place": 88, "branch_lines_saved": 31, "branch_lines_cut": 17});
    haul.deck.tap(Device::Rail, haul.now, "tangle", heap);
    haul.wait(20.0);
    haul.deck.tap(Device::Rail, haul.now, "hauler_started", json!({}));
    haul.place(87);
    haul.wait(460.0);
}

fn counted(haul: &mut Haul<'_>) {
    haul.wait(2.0);
    haul.deck.tap(Device::Rail, haul.now, "hooks_counted", json!({"count": haul.count}));
}

fn bundle(haul: &mut Haul<'_>, basket: u32) {
    if basket.is_multiple_of(4) {
        let data = json!({"bin": format!("bin {}", 1 + basket / 11), "bundle": format!("h-{basket}"),
            "branch_type": "tuna 25 m", "hooks": 25, "repaired": basket.is_multiple_of(3)});
        haul.deck.tap(Device::Rail, haul.now.plus_seconds(0.4), "bundle_stowed", data);
    }
}

fn second_thoughts(deck: &mut Deck, landed: &[(String, serde_json::Value)], now: UtcInstant) {
    let wheel = Device::Wheelhouse;
    if let Some((id, data)) = landed.get(3) {
        let mut data = data.clone();
        data["species"] = json!("BET");
        deck.tap(
            wheel,
            now.plus_seconds(400.0),
            "amended",
            json!({"target": id, "data": data, "why": "looked again at the table"}),
        );
    }
    if let [(a, _), (b, _), ..] = landed {
        deck.tap(Device::Table, now.plus_seconds(420.0), "cards_exchanged", json!({"a": a, "b": b}));
    }
    for person in ["person-2", "person-4"] {
        deck.tap(wheel, now.plus_seconds(600.0), "work_ended", json!({"person": person, "what": "hauling"}));
    }
    deck.tap(wheel, now.plus_seconds(700.0), "observer", json!({"aboard": true, "hooks_observed": 1450}));
}
