//! Which voyage, set and haul part each event belongs to, judged at its time of happening.

use std::collections::BTreeMap;

use quantity::UtcInstant;

use super::Fact;
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};

/// One haul part: indices of its facts.
pub(crate) struct PartFacts {
    pub started: usize,
    pub ended: Option<usize>,
    pub facts: Vec<usize>,
}

/// One set: indices of its facts in order of happening.
pub(crate) struct SetFacts {
    pub id: String,
    pub voyage: usize,
    pub started: usize,
    pub facts: Vec<usize>,
    pub parts: Vec<PartFacts>,
    pub open: bool,
}

/// Where everything belongs.
pub(crate) struct Belonging {
    /// Index of each voyage's `voyage_opened`; none where events came without one.
    pub voyages: Vec<Option<usize>>,
    /// When each voyage begins (the first takes everything before it too).
    pub begins: Vec<UtcInstant>,
    pub sets: Vec<SetFacts>,
    doubts: Vec<(usize, Doubt)>,
}

impl Belonging {
    /// The voyage at a moment.
    pub fn voyage_at(&self, t: UtcInstant) -> usize {
        self.begins.iter().rposition(|begin| *begin <= t).unwrap_or(0)
    }

    /// Doubts met while sorting that concern one set.
    pub fn doubts_of(&self, set: &SetFacts) -> Vec<Doubt> {
        self.doubts.iter().filter(|(index, _)| *index == set.started).map(|(_, doubt)| doubt.clone()).collect()
    }
}

/// Events that must belong to a set.
fn needs_a_set(kind: Kind) -> bool {
    use Kind::*;
    matches!(
        kind,
        SettingEnded
            | BasketCounted
            | Beat
            | StopStarted
            | StopEnded
            | BeatSilent
            | LineCounter
            | GearChanged
            | FloatClipped
            | RadioBuoyLaunched
            | HookMissed
            | SettingParted
            | EndsJoined
            | HaulStarted
            | HaulEnded
            | FloatHauled
            | FloatMissing
            | HooksCounted
            | RadioBuoyRecovered
            | Tangle
            | BranchLineLost
            | GearLost
            | GearRecovered
            | Landed
            | LostAtRail
            | Bitten
            | Released
    )
}

/// Events that may belong to a set.
fn may_have_a_set(kind: Kind) -> bool {
    use Kind::*;
    needs_a_set(kind)
        || matches!(
            kind,
            ShooterSpeed
                | CourseLeg
                | BinStarted
                | BinEnded
                | BirdLine
                | LightStick
                | HookBait
                | BuoyFixed
                | HaulerStopped
                | HaulerStarted
                | BundleStowed
                | BundleUsed
                | Weather
                | WaterProfile
                | Observer
                | TagsListed
                | BinDescribed
                | SettingStarted
        )
}

/// Events that happen at the rail, in a haul part.
fn is_of_the_haul(kind: Kind) -> bool {
    use Kind::*;
    matches!(
        kind,
        FloatHauled
            | FloatMissing
            | HooksCounted
            | RadioBuoyRecovered
            | BranchLineLost
            | Landed
            | LostAtRail
            | Bitten
            | Released
            | HaulerStopped
            | HaulerStarted
            | Tangle
            | HaulEnded
    )
}

/// A release told of a fish that came to the rail before.
fn is_about_a_fish(fact: &Fact<'_>) -> bool {
    matches!(fact.data.as_ref(), Data::Released(data) if data.fish.is_some())
}

/// Sorts facts (already in order of happening) into voyages, sets and parts.
pub(crate) fn sort_out(facts: &[Fact<'_>], doubts: &mut Vec<Doubt>) -> Belonging {
    let opened: Vec<usize> = (0..facts.len()).filter(|&i| facts[i].kind() == Kind::VoyageOpened).collect();
    let voyages: Vec<Option<usize>> =
        if opened.is_empty() { vec![None] } else { opened.iter().map(|&i| Some(i)).collect() };
    let begins = if opened.is_empty() {
        vec![UtcInstant::from_micros_clamped(i64::MIN)]
    } else {
        opened.iter().map(|&i| facts[i].t).collect()
    };
    let mut all = Belonging { voyages, begins, sets: Vec::new(), doubts: Vec::new() };
    for (index, fact) in facts.iter().enumerate() {
        if fact.kind() == Kind::SettingStarted {
            let voyage = all.voyage_at(fact.t);
            all.sets.push(SetFacts {
                id: fact.id().to_owned(),
                voyage,
                started: index,
                facts: Vec::new(),
                parts: Vec::new(),
                open: true,
            });
        }
    }
    let set_of_id: BTreeMap<String, usize> = all.sets.iter().enumerate().map(|(i, set)| (set.id.clone(), i)).collect();
    let part_of_id = place_parts(facts, &mut all, &set_of_id, doubts);
    for (index, fact) in facts.iter().enumerate() {
        if fact.kind() != Kind::HaulStarted && !may_have_a_set(fact.kind()) {
            continue;
        }
        if fact.kind() == Kind::HaulStarted {
            if let Some(&(set, _)) = part_of_id.get(fact.id()) {
                all.sets[set].facts.push(index);
            }
            continue;
        }
        let named_part = fact.haul_id().and_then(|haul| part_of_id.get(haul).copied());
        let set = match fact.kind() {
            Kind::SettingStarted => set_of_id.get(fact.id()).copied(),
            _ => choose_set(facts, &all, &set_of_id, fact, named_part.map(|(set, _)| set)),
        };
        let Some(set) = set else {
            if needs_a_set(fact.kind()) && !is_about_a_fish(fact) {
                doubts.push(Doubt::new(
                    "no_set",
                    fact.id(),
                    format!(
                        "{} at {} belongs to no set that is known. It is kept; say which set it is of.",
                        fact.kind().name(),
                        fact.t
                    ),
                ));
            }
            continue;
        };
        all.sets[set].facts.push(index);
        if !is_of_the_haul(fact.kind()) || is_about_a_fish(fact) {
            continue;
        }
        let part = named_part
            .filter(|(of, _)| *of == set)
            .map(|(_, part)| part)
            .or_else(|| open_part(facts, &all.sets[set], fact));
        match part {
            Some(part) => {
                if fact.kind() == Kind::HaulEnded {
                    continue;
                }
                all.sets[set].parts[part].facts.push(index);
            }
            None if matches!(fact.kind(), Kind::HaulerStopped | Kind::HaulerStarted | Kind::Tangle) => {}
            None => {
                let started = all.sets[set].started;
                all.doubts.push((
                    started,
                    Doubt::new(
                        "no_haul_part",
                        fact.id(),
                        format!(
                            "{} at {} lies in no stretch of hauling. It is kept, without a place on the line.",
                            fact.kind().name(),
                            fact.t
                        ),
                    ),
                ));
            }
        }
    }
    all
}

/// Walks the starts and ends of haul parts in order of happening; leaves each set open or closed.
fn place_parts(
    facts: &[Fact<'_>],
    all: &mut Belonging,
    set_of_id: &BTreeMap<String, usize>,
    doubts: &mut Vec<Doubt>,
) -> BTreeMap<String, (usize, usize)> {
    let mut part_of_id: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    for (index, fact) in facts.iter().enumerate() {
        match fact.kind() {
            Kind::HaulStarted => {
                let Some(set) = choose_set(facts, all, set_of_id, fact, None) else {
                    doubts.push(Doubt::new(
                        "no_set",
                        fact.id(),
                        format!(
                            "Hauling began at {} for no set that is known. It is kept; say which set it is of.",
                            fact.t
                        ),
                    ));
                    continue;
                };
                part_of_id.insert(fact.id().to_owned(), (set, all.sets[set].parts.len()));
                if fact.t < facts[all.sets[set].started].t {
                    let started = all.sets[set].started;
                    all.doubts.push((started, Doubt::new("haul_before_set", fact.id(), format!(
                        "Hauling began at {}, before its set began at {}. Both are kept as they came; correct one of the two.",
                        fact.t, facts[started].t
                    ))));
                }
                all.sets[set].parts.push(PartFacts { started: index, ended: None, facts: Vec::new() });
            }
            Kind::HaulEnded => {
                let named = fact.haul_id().and_then(|haul| part_of_id.get(haul).copied());
                let place = named.or_else(|| {
                    let set = choose_set(facts, all, set_of_id, fact, None)?;
                    open_part(facts, &all.sets[set], fact).map(|part| (set, part))
                });
                if let Some((set, part)) = place
                    && all.sets[set].parts[part].ended.is_none()
                {
                    all.sets[set].parts[part].ended = Some(index);
                }
            }
            _ => {}
        }
    }
    for set in &mut all.sets {
        set.open = open_at(facts, set, None);
    }
    part_of_id
}

/// Whether a set is open at `t` (none: at the end of all that is known).
fn open_at(facts: &[Fact<'_>], set: &SetFacts, t: Option<UtcInstant>) -> bool {
    let by_then = |index: usize| {
        t.is_none_or(|t| facts[index].t < t || (facts[index].t == t && facts[index].kind() == Kind::HaulStarted))
    };
    if t.is_some_and(|t| facts[set.started].t > t) {
        return false;
    }
    let begun: Vec<&PartFacts> = set.parts.iter().filter(|part| by_then(part.started)).collect();
    if begun.is_empty() {
        return true;
    }
    let ends: Vec<usize> = begun.iter().filter_map(|part| part.ended.filter(|&end| by_then(end))).collect();
    if ends.len() < begun.len() {
        return true;
    }
    let Some(&last) = ends.iter().max_by(|a, b| facts[**a].order().cmp(&facts[**b].order())) else { return true };
    let Data::HaulEnded(ended) = facts[last].data.as_ref() else { return true };
    !matches!(ended.reason.as_deref(), Some("all_up" | "left_in_water" | "given_up"))
}

fn choose_set(
    facts: &[Fact<'_>],
    all: &Belonging,
    set_of_id: &BTreeMap<String, usize>,
    fact: &Fact<'_>,
    of_part: Option<usize>,
) -> Option<usize> {
    if let Some(id) = fact.set_id() {
        return set_of_id.get(id).copied();
    }
    if of_part.is_some() {
        return of_part;
    }
    let voyage = all.voyage_at(fact.t);
    let in_voyage = || all.sets.iter().enumerate().filter(|(_, set)| set.voyage == voyage);
    let mut open = in_voyage().filter(|(_, set)| open_at(facts, set, Some(fact.t)));
    if let (Some((only, _)), None) = (open.next(), open.next()) {
        return Some(only);
    }
    let mut every = in_voyage();
    match (every.next(), every.next()) {
        (Some((only, _)), None) => Some(only),
        _ => None,
    }
}

/// The part of a set that is open when `fact` happens; of several the one begun last.
fn open_part(facts: &[Fact<'_>], set: &SetFacts, fact: &Fact<'_>) -> Option<usize> {
    set.parts.iter().rposition(|part| {
        facts[part.started].order() <= fact.order() && part.ended.is_none_or(|end| facts[end].order() >= fact.order())
    })
}
