//! Who and what is aboard, from the facts of a voyage in order of happening and the sets that they add up to.

use std::collections::BTreeMap;

use quantity::UtcInstant;

use super::Fact;
use super::beats::{incomplete, to_f64};
use super::belong::Belonging;
use crate::aboard::{Aboard, BaitStock, Bin, LoadedTable, Person, RegisteredBuoy, StoreCount};
use crate::data::{BaitMoved, PersonSeen};
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::{time, whole};
use crate::outgoing::{BinRun, BinsAgainstBeat};
use crate::state::{HookFate, SetRecord};

/// Who and what is aboard; the sets of the voyage get their bins.
pub(crate) fn aboard(
    facts: &[Fact<'_>],
    belonging: &Belonging,
    voyage: usize,
    sets: &mut [SetRecord],
    doubts: &mut Vec<Doubt>,
) -> Aboard {
    let own: Vec<(usize, &Fact<'_>)> =
        facts.iter().enumerate().filter(|(_, fact)| belonging.voyage_at(fact.t) == voyage).collect();
    let of_set = |index: usize| {
        let id = belonging.sets.iter().find(|set| set.facts.contains(&index)).map(|set| set.id.as_str())?;
        sets.iter().position(|set| set.id == id)
    };
    let bin_facts: Vec<(&Fact<'_>, Option<usize>)> = own
        .iter()
        .filter(|(_, fact)| is_of_bins(fact.kind()))
        .map(|(index, fact)| {
            (*fact, matches!(fact.kind(), Kind::BinStarted | Kind::BinEnded).then(|| of_set(*index)).flatten())
        })
        .collect();
    let (bins, runs) = bins(&bin_facts, sets.len());
    for (set, runs) in sets.iter_mut().zip(runs) {
        set.outgoing.bins_against_beat = against_beat(set, &runs);
        set.outgoing.next_bins = next_bins(set, &runs, &bins);
        set.outgoing.bins = runs;
    }
    let facts: Vec<&Fact<'_>> = own.iter().map(|(_, fact)| *fact).collect();
    Aboard {
        people: people(&facts, doubts),
        stores: stores(&facts, doubts),
        bait: bait(&facts, sets, doubts),
        bins,
        radio_buoys: radio_buoys(&facts, sets),
    }
}

/// The tables of a journal: of each name the one that was told last to the ship.
pub(crate) fn tables(facts: &[Fact<'_>], doubts: &mut Vec<Doubt>) -> Vec<LoadedTable> {
    let mut tables: BTreeMap<(String, String), (i64, LoadedTable)> = BTreeMap::new();
    for fact in facts {
        let Data::TableLoaded(data) = fact.data.as_ref() else { continue };
        let (Some(what), Some(name)) = (data.what.clone(), data.name.clone()) else {
            doubts.push(incomplete(fact.id(), "A table was loaded without its kind or its name."));
            continue;
        };
        let table =
            LoadedTable { what: what.clone(), name: name.clone(), sha256: data.sha256.clone(), loaded_utc: fact.t };
        let held = tables.entry((what, name)).or_insert_with(|| (fact.ship_seq, table.clone()));
        if fact.ship_seq > held.0 {
            *held = (fact.ship_seq, table);
        }
    }
    tables.into_values().map(|(_, table)| table).collect()
}

/// A field of several statements: the one told last to the ship stands.
fn stands<T: Clone>(field: &mut Option<(i64, T)>, said: Option<&T>, ship_seq: i64) {
    if let Some(said) = said
        && field.as_ref().is_none_or(|(held, _)| ship_seq > *held)
    {
        *field = Some((ship_seq, said.clone()));
    }
}

fn people(facts: &[&Fact<'_>], doubts: &mut Vec<Doubt>) -> Vec<Person> {
    #[derive(Default)]
    struct Said {
        name: Option<(i64, String)>,
        role: Option<(i64, String)>,
        watch: Option<(i64, String)>,
        last: Option<(UtcInstant, bool)>,
    }
    let mut all: BTreeMap<String, Said> = BTreeMap::new();
    let mut hear = |fact: &Fact<'_>, data: &PersonSeen, aboard: bool| {
        let Some(person) = data.person.clone().filter(|id| !id.is_empty()) else {
            doubts.push(incomplete(fact.id(), "Somebody came or went without an id."));
            return;
        };
        let said = all.entry(person).or_default();
        stands(&mut said.name, data.name.as_ref(), fact.ship_seq);
        stands(&mut said.role, data.role.as_ref(), fact.ship_seq);
        stands(&mut said.watch, data.watch.as_ref(), fact.ship_seq);
        // Told again that he is aboard: he came when it was first told.
        if said.last.is_none_or(|(_, was)| was != aboard) {
            said.last = Some((fact.t, aboard));
        }
    };
    for fact in facts {
        match fact.data.as_ref() {
            Data::PersonAdded(data) => hear(fact, data, true),
            Data::PersonLeft(data) => hear(fact, data, false),
            _ => {}
        }
    }
    let text = |said: Option<(i64, String)>| said.map(|(_, text)| text);
    all.into_iter()
        .map(|(person, said)| Person {
            person,
            name: text(said.name),
            role: text(said.role),
            watch: text(said.watch),
            aboard: said.last.is_some_and(|(_, aboard)| aboard),
            since_utc: said.last.map(|(t, _)| t),
        })
        .collect()
}

fn stores(facts: &[&Fact<'_>], doubts: &mut Vec<Doubt>) -> Vec<StoreCount> {
    let mut all: BTreeMap<(String, Option<String>), StoreCount> = BTreeMap::new();
    for fact in facts {
        let Data::StoresCounted(data) = fact.data.as_ref() else { continue };
        let (Some(item), Some(count)) = (data.item.clone(), data.count.filter(|count| sound(*count))) else {
            doubts.push(incomplete(fact.id(), "A count of stores lacks its item or its number."));
            continue;
        };
        let count = StoreCount { item: item.clone(), kind: data.kind.clone(), count, counted_utc: fact.t };
        all.insert((item, data.kind.clone()), count);
    }
    all.into_values().collect()
}

/// A number that something can be counted by.
fn sound(count: f64) -> bool {
    (0.0..=1e9).contains(&count)
}

fn bait(facts: &[&Fact<'_>], sets: &[SetRecord], doubts: &mut Vec<Doubt>) -> Vec<BaitStock> {
    let mut all: BTreeMap<String, BaitStock> = BTreeMap::new();
    // Hooks are baited when setting ends (the set that still goes out: now, after all facts).
    let mut ends: Vec<(UtcInstant, &SetRecord)> = sets
        .iter()
        .filter_map(|set| Some((set.ended_at.or(set.parts.first().map(|part| part.started_at))?, set)))
        .collect();
    ends.sort_by_key(|(at, _)| *at);
    let mut ends = ends.into_iter().peekable();
    for fact in facts {
        while let Some((_, set)) = ends.next_if(|(at, _)| *at < fact.t) {
            use_up(&mut all, set, true);
        }
        let moved = |data: &BaitMoved, doubts: &mut Vec<Doubt>| {
            let known = data.bait.clone().zip(data.boxes.filter(|boxes| sound(*boxes)));
            if known.is_none() {
                doubts.push(incomplete(fact.id(), "Bait was moved without its kind or its boxes."));
            }
            known
        };
        match fact.data.as_ref() {
            Data::StoresCounted(data) if data.item.as_deref() == Some("bait") => {
                let (Some(kind), Some(count)) = (&data.kind, data.count.filter(|count| sound(*count))) else {
                    continue;
                };
                let stock = stock(&mut all, kind, None);
                (stock.boxes_in_freezer, stock.counted_utc) = (Some(count), Some(fact.t));
            }
            Data::BaitTakenOut(data) => {
                let Some((bait, boxes)) = moved(data, doubts) else { continue };
                let stock = stock(&mut all, &bait, data.pieces_per_box);
                stock.boxes_taken_out += boxes;
                stock.boxes_in_freezer = stock.boxes_in_freezer.map(|left| (left - boxes).max(0.0));
                thaw(stock, boxes);
            }
            Data::BaitPutBack(data) => {
                let Some((bait, boxes)) = moved(data, doubts) else { continue };
                let stock = stock(&mut all, &bait, data.pieces_per_box);
                stock.boxes_put_back += boxes;
                stock.boxes_in_freezer = stock.boxes_in_freezer.map(|left| left + boxes);
                thaw(stock, -boxes);
            }
            Data::BaitSpoiled(data) => {
                let Some((bait, boxes)) = moved(data, doubts) else { continue };
                let stock = stock(&mut all, &bait, data.pieces_per_box);
                stock.boxes_spoiled += boxes;
                thaw(stock, -boxes);
            }
            _ => {}
        }
    }
    for (_, set) in ends {
        use_up(&mut all, set, true);
    }
    for set in sets.iter().filter(|set| set.ended_at.is_none() && set.parts.is_empty()) {
        use_up(&mut all, set, false);
    }
    all.into_values().collect()
}

fn stock<'a>(all: &'a mut BTreeMap<String, BaitStock>, bait: &str, pieces_per_box: Option<f64>) -> &'a mut BaitStock {
    let stock =
        all.entry(bait.to_owned()).or_insert_with(|| BaitStock { bait: bait.to_owned(), ..BaitStock::default() });
    if let Some(pieces) = pieces_per_box.filter(|pieces| sound(*pieces) && *pieces > 0.0) {
        stock.pieces_per_box = Some(pieces);
    }
    stock
}

/// Boxes that thaw, or (negative) go away again.
fn thaw(stock: &mut BaitStock, boxes: f64) {
    let pieces = stock.pieces_per_box.map(|pieces| pieces * boxes);
    stock.pieces_thawed = pieces.map(|pieces| (stock.pieces_thawed.unwrap_or(0.0) + pieces).max(0.0));
}

/// Takes what a set's hooks were baited with; once it has ended, the counting for the next begins.
fn use_up(all: &mut BTreeMap<String, BaitStock>, set: &SetRecord, ended: bool) {
    let (hooks, assumed) = baited(all, set);
    for stock in all.values_mut() {
        let own = hooks.get(&stock.bait).copied().unwrap_or(0);
        (stock.hooks_baited, stock.hooks_assumed) = (own, assumed && own > 0);
        stock.pieces_thawed = stock.pieces_thawed.map(|pieces| (pieces - to_f64(own)).max(0.0));
        if ended {
            (stock.boxes_taken_out, stock.boxes_put_back, stock.boxes_spoiled) = (0.0, 0.0, 0.0);
            let boxes = stock.pieces_per_box.map(|pieces| to_f64(own) / pieces).filter(|boxes| *boxes > 0.0);
            stock.sets_left = stock.boxes_in_freezer.zip(boxes).map(|(left, each)| left / each);
        }
    }
}

/// Hooks by bait; true when nobody said which and they were shared out by what was thawed.
fn baited(all: &BTreeMap<String, BaitStock>, set: &SetRecord) -> (BTreeMap<String, i64>, bool) {
    let mut told = set.bait.clone();
    told.sort_by_key(|(from, _)| *from);
    let mut hooks: BTreeMap<String, i64> = BTreeMap::new();
    let clipped = || set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed);
    for hook in clipped() {
        if let Some((_, bait)) = told.iter().rfind(|(from, _)| *from <= hook.basket).or(told.first()) {
            *hooks.entry(bait.clone()).or_insert(0) += 1;
        }
    }
    if !told.is_empty() {
        return (hooks, false);
    }
    let thawed: f64 = all.values().filter_map(|stock| stock.pieces_thawed).sum();
    let all_hooks = to_f64(i64::try_from(clipped().count()).unwrap_or(0));
    if thawed > 0.0 {
        for stock in all.values() {
            #[expect(clippy::cast_possible_truncation, reason = "a share of the hooks")]
            let own = (all_hooks * stock.pieces_thawed.unwrap_or(0.0) / thawed).round() as i64;
            hooks.insert(stock.bait.clone(), own);
        }
    }
    (hooks, true)
}

fn is_of_bins(kind: Kind) -> bool {
    use Kind::*;
    matches!(kind, BinDescribed | BinStarted | BinEnded | BundleStowed | BundleUsed)
}

/// What a bin holds: bundles by name with their hooks, last in last.
#[derive(Default)]
struct Held {
    order: usize,
    bundles: Vec<(String, Option<String>, Option<i64>)>,
    /// As said at its last end, before what was stowed since; none: by its bundles.
    left: Option<i64>,
    branch_types: Vec<String>,
}

impl Held {
    fn hooks(&self) -> Option<i64> {
        let bundles: Option<i64> = self.bundles.iter().map(|(_, _, hooks)| *hooks).sum();
        bundles.map(|hooks| hooks + self.left.unwrap_or(0))
    }

    fn holds(&mut self, branch_type: Option<&String>) {
        if let Some(branch_type) = branch_type
            && !self.branch_types.contains(branch_type)
        {
            self.branch_types.push(branch_type.clone());
        }
    }
}

fn bin_of<'a>(held: &'a mut BTreeMap<String, Held>, name: Option<&String>) -> &'a mut Held {
    let order = held.len();
    held.entry(name.cloned().unwrap_or_default()).or_insert_with(|| Held { order, ..Held::default() })
}

/// The bins as they are at the end of the facts, and for each set those that were emptied into it.
fn bins(facts: &[(&Fact<'_>, Option<usize>)], sets: usize) -> (Vec<Bin>, Vec<Vec<BinRun>>) {
    let mut held: BTreeMap<String, Held> = BTreeMap::new();
    let mut runs: Vec<Vec<BinRun>> = vec![Vec::new(); sets];
    for (fact, set) in facts {
        match fact.data.as_ref() {
            Data::BinDescribed(data) => {
                let bin = bin_of(&mut held, data.bin.as_ref());
                (bin.left, bin.bundles, bin.branch_types) = (None, Vec::new(), Vec::new());
                for bundle in data.bundles.iter().flatten() {
                    let name = bundle.bundle.clone().unwrap_or_default();
                    bin.bundles.push((name, bundle.branch_type.clone(), whole(bundle.hooks)));
                    bin.holds(bundle.branch_type.as_ref());
                }
            }
            Data::BundleStowed(data) => {
                let bin = bin_of(&mut held, data.bin.as_ref());
                bin.bundles.push((
                    data.bundle.clone().unwrap_or_default(),
                    data.branch_type.clone(),
                    whole(data.hooks),
                ));
                bin.holds(data.branch_type.as_ref());
            }
            Data::BundleUsed(data) => {
                let bin = bin_of(&mut held, data.bin.as_ref());
                let named = bin.bundles.iter().rposition(|(name, _, _)| Some(name) == data.bundle.as_ref());
                if let Some(at) = named.or(bin.bundles.len().checked_sub(1)) {
                    bin.bundles.remove(at);
                }
            }
            Data::BinStarted(data) => {
                let hooks = bin_of(&mut held, data.bin.as_ref()).hooks();
                let name = data.bin.clone().unwrap_or_default();
                if let Some(runs) = set.and_then(|set| runs.get_mut(set)) {
                    let begun = BinRun { bin: name, started_at: Some(fact.t), ended_at: None, hooks, hooks_left: None };
                    runs.push(begun);
                }
            }
            Data::BinEnded(data) => {
                let bin = bin_of(&mut held, data.bin.as_ref());
                let (hooks, name) = (bin.hooks(), data.bin.clone().unwrap_or_default());
                let left = whole(data.hooks_left).filter(|left| (0..=1_000_000).contains(left)).unwrap_or(0);
                (bin.left, bin.bundles) = (Some(left), Vec::new());
                let Some(runs) = set.and_then(|set| runs.get_mut(set)) else { continue };
                let at = runs.iter().rposition(|run| run.bin == name && run.ended_at.is_none());
                let at = at.unwrap_or_else(|| {
                    runs.push(BinRun { bin: name, started_at: None, ended_at: None, hooks, hooks_left: None });
                    runs.len() - 1
                });
                (runs[at].ended_at, runs[at].hooks_left) = (Some(fact.t), Some(left));
            }
            _ => {}
        }
    }
    let mut bins: Vec<(usize, Bin)> = held
        .into_iter()
        .map(|(name, held)| (held.order, Bin { bin: name, hooks: held.hooks(), branch_types: held.branch_types }))
        .collect();
    bins.sort_by_key(|(order, _)| *order);
    (bins.into_iter().map(|(_, bin)| bin).collect(), runs)
}

/// Hooks by bins against hooks by beat up to the last bin that is done; none before, and where a bin was not counted.
fn against_beat(set: &SetRecord, runs: &[BinRun]) -> Option<BinsAgainstBeat> {
    let at = runs.iter().filter_map(|run| run.ended_at).max()?;
    let done = runs.iter().filter(|run| run.ended_at.is_some());
    let hooks_by_bins = done.map(|run| Some(run.hooks? - run.hooks_left.unwrap_or(0))).sum::<Option<i64>>()?;
    let clipped = set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed);
    let by_then = clipped.filter(|hook| hook.clipped_at.is_some_and(|clipped| clipped <= at)).count();
    Some(BinsAgainstBeat { at, hooks_by_bins, hooks_by_beat: i64::try_from(by_then).unwrap_or(i64::MAX) })
}

/// The bins that follow: with hooks of the set's gear in them, in the order described, after the one begun last.
fn next_bins(set: &SetRecord, runs: &[BinRun], bins: &[Bin]) -> Vec<String> {
    if set.outgoing.being_set.is_none() {
        return Vec::new();
    }
    let fits = |bin: &&Bin| {
        let types = &set.gear.branch_lines;
        let of_gear = |name: &String| types.iter().any(|branch| branch.name.as_ref() == Some(name));
        (bin.branch_types.is_empty() || types.is_empty() || bin.branch_types.iter().any(of_gear))
            && bin.hooks.is_none_or(|hooks| hooks > 0)
            && !runs.iter().any(|run| run.bin == bin.bin)
    };
    let last = runs.last().and_then(|run| bins.iter().position(|bin| bin.bin == run.bin));
    let (before, after) = bins.split_at(last.map_or(0, |last| last + 1));
    after.iter().chain(before).filter(fits).take(3).map(|bin| bin.bin.clone()).collect()
}

fn radio_buoys(facts: &[&Fact<'_>], sets: &[SetRecord]) -> Vec<RegisteredBuoy> {
    let mut all: BTreeMap<String, (i64, RegisteredBuoy)> = BTreeMap::new();
    for fact in facts {
        let Data::RadioBuoyRegistered(data) = fact.data.as_ref() else { continue };
        let Some(buoy) = data.buoy.clone().filter(|buoy| !buoy.is_empty()) else { continue };
        let entry = RegisteredBuoy {
            buoy: buoy.clone(),
            name: data.name.clone(),
            call: data.call.clone(),
            reflector: data.reflector.clone(),
            light: data.light.clone(),
            battery_date: data.battery_date.clone(),
            checked_utc: time(data.checked_at.as_ref()).map(|at| fact.moved(at)),
            in_set: None,
        };
        let held = all.entry(buoy).or_insert_with(|| (fact.ship_seq, entry.clone()));
        if fact.ship_seq > held.0 {
            *held = (fact.ship_seq, entry);
        }
    }
    // A buoy that nobody registered is known from its launch on.
    let launched = sets.iter().flat_map(|set| set.radio_buoys.iter().map(move |buoy| (set, buoy)));
    for (set, launched) in launched {
        let unregistered = RegisteredBuoy { buoy: launched.buoy.clone(), ..RegisteredBuoy::default() };
        let entry = all.entry(launched.buoy.clone()).or_insert((0, unregistered));
        entry.1.in_set = (launched.recovered_at.is_none()).then_some(set.number);
    }
    all.into_values().map(|(_, buoy)| buoy).collect()
}
