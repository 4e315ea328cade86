//! The rail tablet's small projection and the fold, held to the same cases: the same events give the same next float,
//! the same hooks in the water, the same fish, and, by a reckoning of its own here, the same running count.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on should fail loudly"
)]
mod support;

use serde_json::{Value, json};
use support::*;
use voyage::{Book, HookFate, SetRecord, fold};

const CASES: &str = include_str!("../../../web/vectors/haul.json");

/// The journal of one case: the line laid out, then what the rail said.
fn journal_of(case: &Value) -> Vec<Value> {
    let line = &case["line"];
    let (places, hooks) = (line["places"].as_i64().unwrap(), line["hooks"].as_i64().unwrap());
    let mut deck = Deck::default();
    deck.say(
        0.0,
        "gear_described",
        json!({"gear": "deep", "float_line_m": 20.0, "hooks_per_basket": hooks, "clip_spacing_m": 50.0,
            "float_takes_a_beat": true, "radio_buoy": "in_place_of_float", "tag_mode": "fixed",
            "branch_lines": [{"type": "plain", "length_m": 25.0}]}),
    );
    deck.say(100.0, "setting_started", json!({"gear": "deep"}));
    deck.say(
        100.0,
        "beat",
        json!({"basket": 1, "position": 0, "at": at(100.0).to_string(), "beat_s": 1.0, "hooks_per_basket": hooks,
            "float_takes_a_beat": true}),
    );
    let mut second_s = 100.0;
    for place in 1..=places {
        let tag =
            line["tags"].get(usize::try_from(place - 1).unwrap()).cloned().unwrap_or(json!((40 + place).to_string()));
        match line["buoys"].get(place.to_string()) {
            Some(buoy) => deck.say(second_s, "radio_buoy_launched", json!({"buoy": buoy, "place": place})),
            None => deck.say(second_s, "float_clipped", json!({"place": place, "tag": tag})),
        };
        for _ in 0..=hooks {
            second_s += 1.0;
        }
    }
    for missed in line["missed"].as_array().into_iter().flatten() {
        deck.say(second_s, "hook_missed", json!({"basket": missed[0], "position": missed[1]}));
    }
    let after = line["hooks_after"].as_i64().unwrap_or(0);
    deck.say(second_s, "setting_ended", json!({"last_place": places, "hooks_after": after}));
    for (i, said) in case["events"].as_array().unwrap().iter().enumerate() {
        let device = said[3].as_str().unwrap_or("rail");
        deck.say_from(device, said[0].as_f64().unwrap(), said[1].as_str().unwrap(), said[2].clone());
        let event = deck.last();
        event["id"] = json!(format!("e{i}"));
        for (field, value) in said[4].as_object().into_iter().flatten() {
            event[field] = value.clone();
        }
    }
    deck.events
}

fn set_of(book: &Book) -> &SetRecord {
    &book.voyages[0].sets[0]
}

/// Seconds of a list of stops that lie between two moments.
fn stood_s(stops: &[(f64, f64)], from_s: f64, to_s: f64) -> f64 {
    stops.iter().map(|(from, to)| (to.min(to_s) - from.max(from_s)).max(0.0)).sum()
}

/// One float after another of a part, as the fold has them.
struct Rail<'a> {
    set: &'a SetRecord,
    step: i64,
    links: Vec<(i64, f64)>,
    from_place: i64,
    stops: Vec<(f64, f64)>,
    bare: Option<i64>,
}

impl<'a> Rail<'a> {
    /// The part that began last, where it has not ended.
    fn open(set: &'a SetRecord, case: &Value) -> Option<Self> {
        let part = set.parts.last().filter(|part| part.ended_at.is_none())?;
        let step = if part.direction.as_deref() == Some("to_last") { 1 } else { -1 };
        let from_place = part.from_place.unwrap();
        let began_s = second(Some(part.started_at));
        let last = i64::try_from(set.places.len()).unwrap();
        let bare = set.baskets.iter().any(|basket| basket.basket == last && basket.hooks > 0).then_some(last + 1);
        let mut links: Vec<(i64, f64)> = Vec::new();
        if bare == Some(from_place) {
            links.push((from_place, began_s));
        }
        let mut up: Vec<(i64, f64)> = set
            .places
            .iter()
            .filter_map(|place| place.hauled_at.map(|t| (place.place, second(Some(t)))))
            .filter(|(_, t)| *t >= began_s)
            .collect();
        up.sort_by(|a, b| a.1.total_cmp(&b.1));
        for (place, t) in up {
            if links.last().is_none_or(|(before, _)| (place - before) * step > 0) {
                links.push((place, t));
            }
        }
        let mut stops: Vec<(f64, f64)> = Vec::new();
        for said in case["events"].as_array().unwrap() {
            let t = said[0].as_f64().unwrap();
            match said[1].as_str() {
                Some("hauler_stopped") if t >= began_s => stops.push((t, f64::INFINITY)),
                Some("hauler_started") if t >= began_s => stops.last_mut().unwrap().1 = t,
                _ => {}
            }
        }
        Some(Self { set, step, links, from_place, stops, bare })
    }

    fn next(&self) -> Option<i64> {
        let last = i64::try_from(self.set.places.len()).unwrap();
        let known = |place: i64| usize::try_from(place - 1).ok().and_then(|i| self.set.places.get(i));
        let mut next = self.links.last().map_or(self.from_place, |(place, _)| place + self.step);
        if self.links.is_empty() && known(next).is_some_and(|place| place.hauled_at.is_some()) {
            next += self.step;
        }
        while known(next).is_some_and(|place| place.missing) {
            next += self.step;
        }
        known(next).filter(|place| place.hauled_at.is_none() && (1..=last).contains(&next)).map(|place| place.place)
    }

    /// Branch lines between two places, empty positions not counted.
    fn lines(&self, a: i64, b: i64) -> i64 {
        let baskets = a.min(b)..a.max(b);
        let seen = |hook: &&voyage::Hook| baskets.contains(&hook.basket) && hook.fate != HookFate::Missed;
        i64::try_from(self.set.hooks.iter().filter(seen).count()).unwrap()
    }

    fn running_s(&self, from_s: f64, to_s: f64) -> f64 {
        to_s - from_s - stood_s(&self.stops, from_s, to_s)
    }
}

#[test]
fn verif_the_fold_and_the_tablet_have_one_next_float_one_water_and_one_fish() {
    let cases: Value = serde_json::from_str(CASES).expect("the rail's cases");
    let cases = cases["cases"].as_array().expect("a list");
    assert!(cases.len() >= 30);
    for case in cases {
        let name = case["name"].as_str().unwrap();
        let now = at(case["now_s"].as_f64().unwrap());
        let book = fold(&logged(&journal_of(case)), Some(now));
        let (set, answer) = (set_of(&book), &case["answer"]);
        let rail = Rail::open(set, case);
        let next = rail.as_ref().and_then(Rail::next);
        assert_eq!(next, answer["next"].as_i64(), "{name}: next float");
        if let Some(tag) = answer.get("tag") {
            let known = next.and_then(|next| set.places[usize::try_from(next - 1).unwrap()].tag.clone());
            assert_eq!(known.as_deref(), tag.as_str(), "{name}: tag");
        }
        let count = |fate: HookFate| i64::try_from(set.hooks.iter().filter(|hook| hook.fate == fate).count()).unwrap();
        assert_eq!(Some(count(HookFate::InWater)), answer["in_water"].as_i64(), "{name}: hooks in the water");
        let all = i64::try_from(set.hooks.len()).unwrap() - count(HookFate::Missed);
        assert_eq!(Some(all), answer["set"].as_i64(), "{name}: hooks set");
        for (fish, wanted) in set.fish.iter().zip(answer["fish"].as_array().into_iter().flatten()) {
            assert_eq!(json!([fish.basket, fish.position]), *wanted, "{name}: fish {}", fish.id);
        }
        if let (Some(rail), Some(lines)) = (&rail, answer["lines"].as_i64()) {
            let from = rail.links.last().map_or(rail.from_place, |(place, _)| *place);
            let to = next.or(rail.bare.filter(|_| rail.step > 0)).unwrap_or(from);
            // Where another part has been, its hooks are up.
            let in_water = set.hooks.iter().filter(|hook| hook.fate == HookFate::InWater).count();
            let between = if next.is_none() { i64::try_from(in_water).unwrap() } else { rail.lines(from, to) };
            assert_eq!(between, lines, "{name}: branch lines to the next float");
        }
    }
}

#[test]
fn verif_the_running_count_is_the_pace_since_the_last_float() {
    let cases: Value = serde_json::from_str(CASES).expect("the rail's cases");
    let mut compared = 0;
    for case in cases["cases"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let now_s = case["now_s"].as_f64().unwrap();
        let book = fold(&logged(&journal_of(case)), Some(at(now_s)));
        let (Some(rail), Some(wanted)) = (Rail::open(set_of(&book), case), case["answer"]["count"].as_f64()) else {
            continue;
        };
        // What was counted by hand, or a fish with an exact count, since the last float; the pace goes on from there.
        let (mut from_s, mut counted) = (rail.links.last().map_or(0.0, |link| link.1), 0.0);
        for said in case["events"].as_array().unwrap() {
            let exact = said[2]["uncertainty_hooks"].as_f64().unwrap_or(0.0) <= 0.0;
            let amended = case["events"].as_array().unwrap().iter().any(|other| other[1] == "amended");
            let count = if amended {
                &json!(7)
            } else if exact {
                said[2].get("count").unwrap_or(&said[2]["count_since_float"])
            } else {
                &Value::Null
            };
            if let (Some(count), true) = (count.as_f64(), said[0].as_f64().unwrap() >= from_s) {
                (from_s, counted) = (said[0].as_f64().unwrap(), count);
            }
        }
        let mut links = rail.links.clone();
        if links.len() < 2 {
            // This part has no pace yet: the part before gives it, by its own floats.
            links = rail
                .set
                .places
                .iter()
                .filter_map(|place| place.hauled_at.map(|t| (place.place, second(Some(t)))))
                .collect();
            links.sort_by(|a, b| a.1.total_cmp(&b.1));
            from_s =
                if rail.links.is_empty() { second(Some(rail.set.parts.last().unwrap().started_at)) } else { from_s };
        }
        let (mut time_s, mut beats) = (0.0, 0);
        for pair in links.windows(2).rev().take(5) {
            time_s += rail.running_s(pair[0].1, pair[1].1);
            beats += rail.lines(pair[0].0, pair[1].0) + 1;
        }
        let since = if beats > 0 {
            (rail.running_s(from_s, now_s) * f64::from(i32::try_from(beats).unwrap()) / time_s + 1e-9).floor()
        } else {
            0.0
        };
        let most = case["answer"]["lines"].as_f64().unwrap_or(f64::INFINITY);
        let ours = (counted + since).min(most).max(counted);
        assert!((ours - wanted).abs() < 0.5, "{name}: {ours} for {wanted}");
        compared += 1;
    }
    assert!(compared >= 20, "{compared} counts compared");
}

/// A small generator of numbers that are as good as random, the same at every run (Park and Miller 1988, "Random number
/// generators: good ones are hard to find", Communications of the ACM 31(10): 16807 modulo 2³¹ − 1).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: i64) -> i64 {
        self.0 = self.0 * 16_807 % 2_147_483_647;
        i64::try_from(self.0).unwrap() % n
    }
}

#[test]
fn verif_one_fish_counted_on_a_random_line_is_on_one_hook_whichever_way_it_came_up() {
    let mut dice = Dice(2026);
    for round in 0..120 {
        let (places, hooks) = (3 + dice.below(8), 2 + dice.below(9));
        let fish = (1 + dice.below(places - 1), 1 + dice.below(hooks));
        let missed: Vec<(i64, i64)> = (0..dice.below(4))
            .map(|_| (1 + dice.below(places - 1), 1 + dice.below(hooks)))
            .filter(|hook| *hook != fish)
            .collect();
        // A float between the ends may not be found; the count then runs on into the next basket.
        let lost = (places > 3 && dice.below(2) == 0).then(|| 2 + dice.below(places - 2));
        for direction in ["to_first", "to_last"] {
            let up = direction == "to_last";
            let order: Vec<i64> = if up { (1..=places).collect() } else { (1..=places).rev().collect() };
            let mut said = vec![json!([1000, "haul_started", {"direction": direction, "from_place": order[0]}])];
            let mut count = 0;
            for (i, place) in order.iter().enumerate() {
                let s = 1100 + 100 * i64::try_from(i).unwrap();
                if lost == Some(*place) {
                    said.push(json!([s, "float_missing", {"place": place}]));
                } else {
                    said.push(json!([s, "float_hauled", {"place": place}]));
                    count = 0;
                }
                let basket = if up { *place } else { place - 1 };
                let positions: Vec<i64> = if up { (1..=hooks).collect() } else { (1..=hooks).rev().collect() };
                for position in positions.into_iter().filter(|position| !missed.contains(&(basket, *position))) {
                    count += 1;
                    if (basket, position) == fish {
                        said.push(json!([s + 50, "landed", {"species": "BET", "count_since_float": count}]));
                    }
                }
            }
            said.push(json!([9000, "haul_ended", {"reason": "all_up"}]));
            let case = json!({"line": {"places": places, "hooks": hooks, "missed": missed}, "events": said});
            let book = fold(&logged(&journal_of(&case)), Some(at(9100.0)));
            let set = set_of(&book);
            let found = (set.fish[0].basket.unwrap(), set.fish[0].position.unwrap());
            assert_eq!(
                found, fish,
                "round {round}, {direction}: {places} places of {hooks}, lost {lost:?}, missed {missed:?}"
            );
            assert!(
                set.hooks.iter().all(|hook| matches!(hook.fate, HookFate::Hauled | HookFate::Missed)),
                "round {round}"
            );
        }
    }
}
