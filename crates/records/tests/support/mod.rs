//! A deep set made by hand beside the 180° meridian: 12 baskets of 10 hooks, with the things that go wrong.
#![allow(dead_code, reason = "each test file uses its own part")]
#![allow(clippy::unwrap_used, clippy::cast_precision_loss, reason = "a fixture that cannot be made must fail loudly")]

use std::collections::BTreeMap;

use quantity::{Position, UtcInstant};
use serde_json::json;
use voyage::state::{BranchLineType, Conditions, RadioBuoy};
use voyage::{Basket, CatchFate, Doubt, Fish, Gear, HaulPart, Hook, HookFate, Place, SetRecord, VoyageRecord};

pub const HOOKS: i64 = 10;

pub fn at(hours: f64) -> UtcInstant {
    UtcInstant::from_ymd(2031, 3, 2).unwrap().plus_seconds(hours * 3600.0)
}

/// Along the line from 179.7° E over the meridian to 179.7° W.
pub fn spot(share: f64) -> Position {
    Position::new(-14.5 + 0.35 * share, 179.7 + 0.6 * share).unwrap()
}

fn share(basket: i64, position: i64, baskets: i64) -> f64 {
    ((basket - 1) as f64 + position as f64 / (HOOKS + 1) as f64) / baskets as f64
}

/// `baskets` baskets set from 14:00 to 19:00 UTC, hauled from the last float.
pub fn set_of(baskets: i64) -> SetRecord {
    let clipped = |share: f64| at(14.0 + 5.0 * share);
    let lifted = |share: f64| at(24.5 + 11.0 * (1.0 - share));
    let line_m = 495.0;
    let mut set = SetRecord {
        number: 12,
        id: "set-12".into(),
        gear: Gear {
            name: Some("deep <gear> & \"line\"".into()),
            float_line_m: Some(28.0),
            branch_lines: vec![BranchLineType {
                name: Some("long".into()),
                length_m: Some(25.0),
                hook: Some("circle 16/0".into()),
                leader: Some("monofilament".into()),
                lead_g: Some(45.0),
                lead_to_hook_m: Some(1.0),
                ..BranchLineType::default()
            }],
            hooks_per_basket: Some(HOOKS),
            clip_spacing_m: Some(45.0),
            float_takes_a_beat: Some(true),
            ..Gear::default()
        },
        target: Some(json!("BET")),
        night: None,
        plan: None,
        open: false,
        started_at: at(14.0),
        ended_at: Some(at(19.0)),
        start: Some(spot(0.0)),
        end: Some(spot(1.0)),
        places: Vec::new(),
        baskets: Vec::new(),
        hooks: Vec::new(),
        parts: vec![
            HaulPart {
                haul: "haul-1".into(),
                direction: Some("to_first".into()),
                from_place: Some(baskets + 1),
                started_at: at(24.5),
                start: Some(spot(1.0)),
                ended_at: Some(at(30.0)),
                end: Some(spot(0.5)),
                reason: Some("parted".into()),
            },
            HaulPart {
                haul: "haul-2".into(),
                direction: Some("to_first".into()),
                from_place: Some(baskets / 2),
                started_at: at(31.0),
                start: Some(spot(0.5)),
                ended_at: Some(at(35.5)),
                end: Some(spot(0.0)),
                reason: Some("end_of_line".into()),
            },
        ],
        fish: Vec::new(),
        main_line_total_m: Some(line_m * baskets as f64),
        radio_buoys: Vec::new(),
        outgoing: voyage::Outgoing::default(),
        bait: vec![(1, "squid".into()), (baskets / 2 + 1, "sardine".into())],
        light_sticks: Vec::new(),
        bird_line: vec![(at(17.2), "out".into())],
        conditions: Conditions {
            water_temperature_c: Some(27.9),
            wind_speed_m_s: Some(5.7),
            wind_from_deg_true: Some(95.0),
            sea_state: Some(json!(3)),
        },
        observer: None,
        hooks_by_bins: Some(HOOKS * baskets - 11),
        temperature_profile: vec![(0.0, 28.1), (60.0, 27.6), (110.0, 24.0), (170.0, 18.2), (240.0, 12.5), (400.0, 8.1)],
        current_profile: Vec::new(),
        buoy_fixes: Vec::new(),
        setting_track: Vec::new(),
        hauling_track: (0..=60)
            .map(|step| (at(24.5 + 0.18 * f64::from(step)), spot(1.0 - f64::from(step) / 60.0)))
            .map(|(when, there)| {
                (
                    when,
                    Position::new(
                        there.latitude_deg() + 0.03 + 0.03 * (there.latitude_deg() * 20.0).sin(),
                        there.longitude_deg() + 0.02,
                    )
                    .unwrap(),
                )
            })
            .collect(),
        branch_lines_lost: 0,
        doubts: vec![
            Doubt::new(
                "gear_lost",
                "basket 7",
                "Basket 7 was lost <script>: not found after the line parted on Tue 4 March 19:30.",
            ),
            Doubt::new("bins_against_beat", "set", "The bins counted 109 hooks, the beat 120."),
        ],
    };
    for place in 1..=baskets + 1 {
        let share = share(place, 0, baskets);
        let buoy = (place == 1 || place == baskets + 1 || place % 25 == 1).then(|| format!("Buoy {place}"));
        if let Some(buoy) = &buoy {
            set.radio_buoys.push(RadioBuoy {
                buoy: buoy.clone(),
                place: Some(place),
                launched_at: clipped(share),
                recovered_at: None,
            });
        }
        set.places.push(Place {
            place,
            tag: Some(place.to_string()),
            radio_buoy: buoy,
            clipped_at: Some(clipped(share)),
            tapped: true,
            position: Some(spot(share)),
            along_line_m: Some(line_m * (place - 1) as f64),
            hauled_at: (place != 7).then(|| lifted(share)),
            missing: place == 7,
        });
    }
    let mut number = 0;
    for basket in 1..=baskets {
        set.baskets.push(Basket {
            basket,
            hooks: HOOKS,
            first_hook: set.hooks.len(),
            has_end_float: true,
            float_takes_a_beat: true,
            main_line_m: Some(line_m),
            clip_spacing_m: Some(45.0),
            sag_ratio: Some(0.75 + 0.04 * (basket as f64 * 0.21).sin()),
            sag_basis: Some("measured"),
            float_line_m: Some(28.0),
            branch_type: Some("long".into()),
            branch_line_m: Some(25.0),
            empty_line_m: if basket == 5 { 90.0 } else { 0.0 },
            tangled: basket == 9,
        });
        for position in 1..=HOOKS {
            let share = share(basket, position, baskets);
            let fate = match (basket, position) {
                (2, 4) => HookFate::Missed,
                (7, _) | (3, 5) | (8, 2) => HookFate::Lost,
                (10, 3..=8) => HookFate::Unknown,
                _ => HookFate::Hauled,
            };
            if fate != HookFate::Missed {
                number += 1;
            }
            set.hooks.push(Hook {
                number: (fate != HookFate::Missed).then_some(number),
                basket,
                position,
                clipped_at: Some(clipped(share)),
                place: Some(spot(share)),
                along_line_m: Some(line_m * (basket - 1) as f64 + 45.0 * position as f64),
                lifted_at: (fate == HookFate::Hauled).then(|| lifted(share)),
                fate,
                fish: Vec::new(),
                doubts: Vec::new(),
            });
        }
    }
    set.branch_lines_lost = 2;
    for (nth, (basket, position, species, fate, weight)) in [
        (1, 5, "BET", CatchFate::Retained, Some(54.0)),
        (1, 8, "YFT", CatchFate::Retained, Some(31.0)),
        (4, 3, "BET", CatchFate::Retained, Some(62.0)),
        (4, 6, "ALB", CatchFate::Retained, None),
        (6, 9, "BSH", CatchFate::Released, None),
        (8, 5, "BET", CatchFate::Lost, None),
        (9, 4, "SWO", CatchFate::Retained, Some(40.0)),
        (11, 1, "LKV", CatchFate::Released, None),
        (12, 10, "ALB", CatchFate::Discarded, None),
    ]
    .into_iter()
    .enumerate()
    {
        let id = format!("fish-{}", nth + 1);
        let hook = set.hooks.iter_mut().find(|hook| (hook.basket, hook.position) == (basket, position)).unwrap();
        hook.fish.push(id.clone());
        set.fish.push(fish(&id, nth + 1, species, fate, weight, Some((basket, position))));
    }
    set.fish.push(fish("fish-10", 10, "BET", CatchFate::Retained, Some(48.0), None));
    set
}

pub fn fish(
    id: &str,
    number: usize,
    species: &str,
    fate: CatchFate,
    weight_kg: Option<f64>,
    hook: Option<(i64, i64)>,
) -> Fish {
    Fish {
        id: id.into(),
        number,
        began_as: "landed",
        at: at(28.0),
        species: Some(species.into()),
        fate,
        bitten: false,
        condition: None,
        length_cm: None,
        length_kind: None,
        weight_kg,
        weight_form: weight_kg.map(|_| "gilled_gutted".into()),
        sex: None,
        tie: None,
        form: None,
        grade: BTreeMap::new(),
        haul: None,
        basket: hook.map(|hook| hook.0),
        position: hook.map(|hook| hook.1),
        uncertainty_hooks: 0.0,
        between: None,
        steps: Vec::new(),
    }
}

pub fn voyage() -> VoyageRecord {
    VoyageRecord {
        aboard: voyage::Aboard::default(),
        number: 1,
        id: Some("voyage-1".into()),
        vessel: BTreeMap::from([("name".to_owned(), "Example <b>ship</b>".to_owned())]),
        port: None,
        opened_at: Some(at(0.0)),
        closed_at: None,
        utc_offsets: vec![(at(0.0), 780)],
        sets: Vec::new(),
        work: Vec::new(),
        days_without_set: Vec::new(),
    }
}
