//! Fish: what came to the rail, what later taps said of it, and which two were one.

use std::collections::{BTreeMap, BTreeSet};

use super::haul::Hauled;
use super::line::Line;
use super::{Fact, SetWork};
use crate::data::{FishMeasured, Landed};
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::time;
use crate::state::{CatchFate, Fish};

/// True for an event that is itself a fish.
pub(crate) fn begins_a_fish(fact: &Fact<'_>) -> bool {
    match fact.data.as_ref() {
        Data::Landed(_) | Data::LostAtRail(_) | Data::Bitten(_) => true,
        Data::Released(data) => data.fish.is_none(),
        _ => false,
    }
}

/// What later taps say of fish begun elsewhere.
pub(crate) struct Later<'a> {
    /// By the fish's own id, in ship order.
    words: BTreeMap<String, Vec<&'a Fact<'a>>>,
    /// Second fish of a pair to the first.
    same_as: BTreeMap<String, String>,
}

impl Later<'_> {
    fn root<'s>(&'s self, id: &'s str) -> &'s str {
        let mut root = id;
        let mut seen = BTreeSet::new();
        while let Some(next) = self.same_as.get(root) {
            if !seen.insert(root) {
                break;
            }
            root = next;
        }
        root
    }
}

/// Gathers later taps in ship order.
pub(crate) fn later_words<'a>(facts: &'a [Fact<'a>]) -> Later<'a> {
    let mut later = Later { words: BTreeMap::new(), same_as: BTreeMap::new() };
    let mut in_ship_order: Vec<&Fact<'_>> = facts
        .iter()
        .filter(|fact| {
            matches!(fact.kind(), Kind::FishMeasured | Kind::Released | Kind::FishStep | Kind::SameFish | Kind::Stowed)
        })
        .collect();
    in_ship_order.sort_by_key(|fact| fact.ship_seq);
    for fact in &in_ship_order {
        if let Data::SameFish(pair) = fact.data.as_ref()
            && let (Some(a), Some(b)) = (&pair.a, &pair.b)
            && later.root(a) != b
            && a != b
        {
            later.same_as.insert(b.clone(), a.clone());
        }
    }
    for fact in in_ship_order {
        let ids: Vec<String> = match fact.data.as_ref() {
            Data::FishMeasured(data) => data.fish.iter().cloned().collect(),
            Data::Released(data) => data.fish.iter().cloned().collect(),
            Data::FishStep(data) => data.fish.iter().flat_map(|fish| fish.all().to_vec()).collect(),
            Data::Stowed(data) => data.fish.iter().flat_map(|fish| fish.all().to_vec()).collect(),
            _ => continue,
        };
        for id in ids {
            let root = later.root(&id).to_owned();
            later.words.entry(root).or_default().push(fact);
        }
    }
    later
}

/// The fish of one set, in the order they came to the rail.
pub(crate) fn gather(
    work: &SetWork<'_>,
    later: &Later<'_>,
    hauled: &Hauled,
    line: &mut Line,
    doubts: &mut Vec<Doubt>,
) -> Vec<Fish> {
    let mut begun: BTreeMap<&str, &Fact<'_>> = BTreeMap::new();
    for fact in work.facts().filter(|fact| begins_a_fish(fact)) {
        begun.insert(fact.id(), fact);
    }
    let mut fish = Vec::new();
    for fact in work.facts().filter(|fact| begins_a_fish(fact)) {
        let root = later.root(fact.id());
        if root != fact.id() && work.facts.iter().any(|other| other.id() == root) {
            // This one is the other half of a pair that stands under its first id.
            continue;
        }
        let mut one = begin(fact, hauled, line, doubts);
        for (second, _) in later.same_as.iter().filter(|(b, _)| later.root(b) == fact.id()) {
            if let Some(twin) = begun.get(second.as_str()) {
                let mut ignored = Vec::new();
                join(&mut one, begin(twin, hauled, line, &mut ignored));
            }
        }
        for word in later.words.get(fact.id()).into_iter().flatten() {
            hear(&mut one, word, doubts);
        }
        match one.species.as_deref() {
            None => doubts.push(Doubt::new("species_missing", &one.id, "A fish has no species yet.")),
            Some(code) if code.len() != 3 || !code.bytes().all(|byte| byte.is_ascii_uppercase()) => {
                doubts.push(Doubt::new(
                    "species_unknown",
                    &one.id,
                    format!("\"{code}\" is not a three-letter species code. It is kept as it came."),
                ));
            }
            Some(_) => {}
        }
        fish.push(one);
    }
    fish
}

fn begin(fact: &Fact<'_>, hauled: &Hauled, line: &Line, doubts: &mut Vec<Doubt>) -> Fish {
    let empty = Landed::default();
    let (began_as, data): (&'static str, &Landed) = match fact.data.as_ref() {
        Data::Landed(data) => ("landed", data),
        Data::LostAtRail(data) => ("lost_at_rail", data),
        Data::Bitten(data) => ("bitten", data),
        Data::Released(data) => ("released", data),
        _ => ("landed", &empty),
    };
    let fate = match began_as {
        "lost_at_rail" => CatchFate::Lost,
        "bitten" if data.kept == Some(true) => CatchFate::Retained,
        "bitten" => CatchFate::Lost,
        "released" => CatchFate::Released,
        _ => read_fate(data.fate.as_deref(), fact.id(), doubts).unwrap_or(CatchFate::Retained),
    };
    let spot = hauled.spots.get(fact.id()).cloned().unwrap_or_default();
    Fish {
        id: fact.id().to_owned(),
        number: 0,
        began_as,
        at: fact.t,
        species: data.species.clone(),
        fate,
        bitten: began_as == "bitten",
        condition: data.condition.clone(),
        length_cm: data.length_cm,
        length_kind: data.length_kind.clone(),
        weight_kg: data.weight_kg,
        weight_form: data.weight_form.clone(),
        sex: None,
        tie: data.tie.as_ref().map(|tie| tie.0.clone()),
        form: None,
        grade: BTreeMap::new(),
        haul: spot.haul,
        basket: spot.basket,
        position: spot.hook.map(|index| line.hooks[index].position),
        uncertainty_hooks: spot.uncertainty_hooks,
        between: spot.between,
        steps: Vec::new(),
    }
}

/// The fish stays `one`; what it lacks comes from its twin, its place on the line too.
fn join(one: &mut Fish, twin: Fish) {
    if one.position.is_none() && (twin.position.is_some() || one.basket.is_none()) {
        one.haul = twin.haul.or(one.haul.take());
        one.basket = twin.basket.or(one.basket);
        one.position = twin.position;
        one.uncertainty_hooks = twin.uncertainty_hooks;
        one.between = twin.between.or(one.between);
    }
    one.species = one.species.take().or(twin.species);
    one.condition = one.condition.take().or(twin.condition);
    if one.length_cm.is_none() {
        (one.length_cm, one.length_kind) = (twin.length_cm, twin.length_kind);
    }
    if one.weight_kg.is_none() {
        (one.weight_kg, one.weight_form) = (twin.weight_kg, twin.weight_form);
    }
    one.tie = one.tie.take().or(twin.tie);
}

fn read_fate(fate: Option<&str>, id: &str, doubts: &mut Vec<Doubt>) -> Option<CatchFate> {
    match fate? {
        "retained" => Some(CatchFate::Retained),
        "released" => Some(CatchFate::Released),
        "discarded" => Some(CatchFate::Discarded),
        "lost" => Some(CatchFate::Lost),
        other => {
            doubts.push(Doubt::new(
                "fate_unknown",
                id,
                format!("The fate \"{other}\" of a fish is not known here; it counts as before."),
            ));
            None
        }
    }
}

fn hear(fish: &mut Fish, word: &Fact<'_>, doubts: &mut Vec<Doubt>) {
    match word.data.as_ref() {
        Data::FishMeasured(data) => measure(fish, data, doubts),
        Data::Released(data) => {
            fish.fate = CatchFate::Released;
            if data.condition.is_some() {
                fish.condition.clone_from(&data.condition);
            }
        }
        Data::FishStep(data) => {
            let at = time(data.at.as_ref()).map_or(word.t, |at| word.moved(at));
            fish.steps.push((at, data.step.clone().unwrap_or_default(), data.medium.clone()));
        }
        _ => {}
    }
}

fn measure(fish: &mut Fish, data: &FishMeasured, doubts: &mut Vec<Doubt>) {
    fn put<T: Clone>(held: &mut Option<T>, said: &Option<T>) {
        if said.is_some() {
            held.clone_from(said);
        }
    }
    put(&mut fish.species, &data.species);
    put(&mut fish.condition, &data.condition);
    put(&mut fish.length_cm, &data.length_cm);
    put(&mut fish.length_kind, &data.length_kind);
    put(&mut fish.weight_kg, &data.weight_kg);
    put(&mut fish.weight_form, &data.weight_form);
    put(&mut fish.sex, &data.sex);
    put(&mut fish.form, &data.form);
    if let Some(tie) = &data.tie {
        fish.tie = Some(tie.0.clone());
    }
    for (field, value) in data.grade.iter().flatten() {
        fish.grade.insert(field.clone(), value.clone());
    }
    if let Some(fate) = read_fate(data.fate.as_deref(), &fish.id, doubts) {
        fish.fate = fate;
    }
}
