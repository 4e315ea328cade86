//! The fold: from events to voyages. A pure function; fold at any moment, get the same.
//!
//! Order of work: corrections, clocks, belonging (voyage, set, haul part), then each set on its own:
//! the line as set, its lengths, the haul, the fish.

mod aboard;
pub(crate) mod beats;
mod belong;
mod clock;
mod conditions;
mod corrections;
mod fates;
mod fish;
mod haul;
mod hauler;
mod laying;
mod lengths;
mod line;
mod outgoing;
mod track;
mod work;

use std::borrow::Cow;

use quantity::UtcInstant;

use crate::beat::Laying;
use crate::doubt::Doubt;
use crate::envelope::{Envelope, Event};
use crate::kind::{Data, Kind};
use crate::state::{Book, SetRecord, VoyageRecord};

/// An event with its place in the journal.
#[derive(Debug, Clone, PartialEq)]
pub struct Logged {
    /// The ship's sequence.
    pub ship_seq: i64,
    /// The event.
    pub event: Event,
}

/// An event as it stands after corrections, with its time of happening.
pub(crate) struct Fact<'a> {
    pub ship_seq: i64,
    pub envelope: &'a Envelope,
    pub data: Cow<'a, Data>,
    /// Time of happening, ship's UTC.
    pub t: UtcInstant,
    /// What is added to a time in `data` to make it ship's UTC, microseconds.
    pub shift_us: i64,
    pub set: Option<&'a str>,
    pub haul: Option<&'a str>,
    pub set_amended: Option<String>,
    pub haul_amended: Option<String>,
}

impl Fact<'_> {
    pub fn id(&self) -> &str {
        &self.envelope.id
    }

    pub fn kind(&self) -> Kind {
        self.envelope.kind
    }

    /// A time in the data, as ship's UTC.
    pub fn moved(&self, at: UtcInstant) -> UtcInstant {
        UtcInstant::from_micros_clamped(at.micros().saturating_add(self.shift_us))
    }

    pub fn set_id(&self) -> Option<&str> {
        self.set_amended.as_deref().or(self.set)
    }

    pub fn haul_id(&self) -> Option<&str> {
        self.haul_amended.as_deref().or(self.haul)
    }

    /// Starts of sets and parts first, ends of parts last, then device and its sequence.
    pub fn order(&self) -> (UtcInstant, u8, &str, u64) {
        let rank = match self.kind() {
            Kind::SettingStarted | Kind::HaulStarted => 0,
            Kind::HaulEnded => 2,
            _ => 1,
        };
        (self.t, rank, &self.envelope.device, self.envelope.device_seq)
    }
}

/// Folds a journal's events. `now` is the moment up to which an open set is judged; without it, the time
/// of the last event.
#[must_use]
pub fn fold(events: &[Logged], now: Option<UtcInstant>) -> Book {
    fold_facts(events, now, false)
}

/// The same as it stood at a moment: what happened later, by the ship's time, is left out. Corrections count whenever
/// they were made.
#[must_use]
pub fn fold_until(events: &[Logged], at: UtcInstant) -> Book {
    fold_facts(events, Some(at), true)
}

fn fold_facts(events: &[Logged], now: Option<UtcInstant>, leave_out_later: bool) -> Book {
    let mut in_ship_order: Vec<&Logged> = events.iter().collect();
    if !in_ship_order.is_sorted_by_key(|logged| logged.ship_seq) {
        in_ship_order.sort_by_key(|logged| logged.ship_seq);
    }
    let mut doubts = Vec::new();
    let corrected = corrections::apply(&in_ship_order, &mut doubts);
    let mut facts = clock::place_in_time(corrected, &mut doubts);
    if let Some(at) = now.filter(|_| leave_out_later) {
        facts.retain(|fact| fact.t <= at);
    }
    facts.sort_by(|a, b| a.order().cmp(&b.order()));
    let now = now.or_else(|| facts.iter().map(|fact| fact.t).max()).unwrap_or(UtcInstant::from_micros_clamped(0));
    let belonging = belong::sort_out(&facts, &mut doubts);
    let mut voyages: Vec<VoyageRecord> = belonging
        .voyages
        .iter()
        .enumerate()
        .map(|(i, opened)| conditions::voyage(i + 1, *opened, i, &belonging, &facts))
        .collect();
    let tracks = track::by_voyage(&facts, &belonging);
    let descriptions: Vec<usize> = (0..facts.len())
        .filter(|&index| {
            matches!(
                facts[index].kind(),
                Kind::GearDescribed | Kind::SetPlanned | Kind::BinDescribed | Kind::WaterProfile
            )
        })
        .collect();
    let later = fish::later_words(&facts);
    let mut laying = None;
    for set in &belonging.sets {
        let work = SetWork {
            facts: &facts,
            descriptions: &descriptions,
            set,
            now,
            track: &tracks[set.voyage],
            fold_doubts: &doubts,
        };
        let (record, now_laid) = fold_set(&work, &later, &belonging);
        laying = now_laid.or(laying);
        if let Some(voyage) = voyages.get_mut(set.voyage) {
            voyage.sets.push(record);
        }
    }
    for voyage in &mut voyages {
        number_fish(voyage, &facts);
        for (index, set) in voyage.sets.iter_mut().enumerate() {
            set.number = index + 1;
        }
    }
    for (index, voyage) in voyages.iter_mut().enumerate() {
        voyage.aboard = aboard::aboard(&facts, &belonging, index, &mut voyage.sets, &mut doubts);
    }
    let tables = aboard::tables(&facts, &mut doubts);
    doubts.sort();
    doubts.dedup();
    Book { voyages, doubts, tables, laying, judged_at: now }
}

/// What the fold of one set works on.
pub(crate) struct SetWork<'a> {
    pub facts: &'a [Fact<'a>],
    /// Indices of descriptions: gear, plans, bins, water profiles.
    pub descriptions: &'a [usize],
    pub set: &'a belong::SetFacts,
    pub now: UtcInstant,
    pub track: &'a track::Track,
    pub fold_doubts: &'a [Doubt],
}

impl<'a> SetWork<'a> {
    /// Descriptions of gear, plans, bins and water, of any set, in order of happening.
    pub fn descriptions(&self) -> impl Iterator<Item = &'a Fact<'a>> + '_ {
        self.descriptions.iter().map(|&index| &self.facts[index])
    }

    /// The set's own facts in order of happening.
    pub fn facts(&self) -> impl Iterator<Item = &'a Fact<'a>> + '_ {
        self.set.facts.iter().map(|&index| &self.facts[index])
    }
}

fn fold_set(work: &SetWork<'_>, later: &fish::Later<'_>, belonging: &belong::Belonging) -> (SetRecord, Option<Laying>) {
    let mut doubts: Vec<Doubt> = belonging.doubts_of(work.set);
    let gear = conditions::gear_of(work, belonging, &mut doubts);
    let beats = beats::Beats::gather(work, &gear, &mut doubts);
    let mut line = line::lay_out(work, &gear, &beats, &mut doubts);
    let outgoing = lengths::measure(work, &gear, &beats, &mut line, &mut doubts);
    let mut hauled = haul::haul(work, &mut line, &mut doubts);
    let fish = fish::gather(work, later, &hauled, &mut line, &mut doubts);
    fates::settle_fates(work, &mut line, &mut hauled, &fish, &mut doubts);
    let laying = laying::of_set(work, &gear, beats, &line);
    let mut record = conditions::record(work, gear, line, hauled, fish, outgoing);
    doubts.extend(work.fold_doubts.iter().filter(|doubt| concerns(work, doubt)).cloned());
    record.doubts.extend(doubts);
    record.doubts.sort();
    record.doubts.dedup();
    (record, laying)
}

/// Whether a doubt of the whole journal is also one of this set: a device's clock or sequence only where the
/// device spoke of the set; everything else (an event of no known set, a correction that waits) may be its own.
fn concerns(work: &SetWork<'_>, doubt: &Doubt) -> bool {
    let of_a_device = matches!(doubt.kind.as_str(), "clock_unknown" | "sequence_gap");
    !of_a_device || work.facts().any(|fact| fact.envelope.device == doubt.concerns)
}

fn number_fish(voyage: &mut VoyageRecord, facts: &[Fact<'_>]) {
    let ship_seq: std::collections::BTreeMap<&str, i64> =
        facts.iter().filter(|fact| fish::begins_a_fish(fact)).map(|fact| (fact.id(), fact.ship_seq)).collect();
    let mut order: Vec<(i64, usize, usize)> = Vec::new();
    for (s, set) in voyage.sets.iter().enumerate() {
        for (f, fish) in set.fish.iter().enumerate() {
            order.push((ship_seq.get(fish.id.as_str()).copied().unwrap_or(i64::MAX), s, f));
        }
    }
    order.sort_unstable();
    for (index, (_, s, f)) in order.into_iter().enumerate() {
        voyage.sets[s].fish[f].number = index + 1;
    }
}
