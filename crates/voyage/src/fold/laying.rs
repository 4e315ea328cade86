//! What the fold keeps of the line that is being laid, beside its record: the beat, tags, radio buoys and bins to come.

use std::collections::{BTreeMap, BTreeSet};

use super::SetWork;
use super::beats::Beats;
use super::line::Line;
use crate::beat::{Bins, Laying, Stop};
use crate::kind::{Data, Kind};
use crate::loose::whole;
use crate::state::Gear;

/// Names of the plan's part that may hold how often a radio buoy hangs.
const PLAN_PARTS: [&str; 3] = ["setting", "counts", "gear"];
/// How many bins that follow are told.
const BINS_AHEAD: usize = 3;

/// The line with its beat, while it goes out; none once setting has ended or hauling has begun.
pub(crate) fn of_set(work: &SetWork<'_>, gear: &Gear, beats: Beats, line: &Line) -> Option<Laying> {
    let ended = work.facts().any(|fact| fact.kind() == Kind::SettingEnded);
    if ended || !work.set.open || !work.set.parts.is_empty() {
        return None;
    }
    let mut tags: BTreeMap<i64, String> =
        line.places.iter().filter_map(|place| Some((place.place, place.tag.clone()?))).collect();
    if gear.tag_mode.as_deref() == Some("fixed") {
        for fact in work.facts() {
            let Data::TagsListed(list) = fact.data.as_ref() else { continue };
            for (tag, place) in list.tags.iter().flatten().zip(whole(list.from_place).unwrap_or(1)..) {
                tags.entry(place).or_insert_with(|| tag.as_str().map_or_else(|| tag.to_string(), str::to_owned));
            }
        }
    }
    let buoy_places: BTreeSet<i64> = line.buoy_place.values().copied().collect();
    let plan = super::conditions::plan_of(work);
    let hooks_per_radio_buoy = plan.and_then(|plan| {
        let parts = PLAN_PARTS.iter().filter_map(|part| plan.get(part));
        std::iter::once(&plan).chain(parts).find_map(|part| {
            let each = part.get("hooks_per_radio_buoy")?.as_f64().filter(|each| (1.0..=1e6).contains(each))?;
            #[expect(clippy::cast_possible_truncation, reason = "within a million")]
            let each = each.round() as i64;
            Some(each)
        })
    });
    let stops = beats.stops_told.iter().map(|told| Stop {
        id: told.id.clone(),
        from: told.from,
        to: told.to,
        line_running: told.line_running,
    });
    Some(Laying {
        set: work.set.id.clone(),
        stops: stops.collect(),
        silences: line.silences.clone(),
        bins: bins(work, &beats),
        tags,
        tag_mode: gear.tag_mode.clone(),
        buoy_places,
        hooks_per_radio_buoy,
        beats: beats.going_on(),
    })
}

/// A bundle is the branch lines of one basket: a bin is empty as many baskets on as it has bundles.
fn bins(work: &SetWork<'_>, beats: &Beats) -> Bins {
    let mut described: Vec<(String, i64)> = Vec::new();
    for fact in work.descriptions() {
        let Data::BinDescribed(data) = fact.data.as_ref() else { continue };
        let Some(name) = data.bin.clone() else { continue };
        let bundles = i64::try_from(data.bundles.iter().flatten().count()).unwrap_or(0);
        match described.iter_mut().find(|(known, _)| *known == name) {
            Some(known) => known.1 = bundles,
            None => described.push((name, bundles)),
        }
    }
    let started: Vec<_> = work
        .facts()
        .filter_map(|fact| match fact.data.as_ref() {
            Data::BinStarted(data) => Some((fact.t, data.bin.clone()?)),
            _ => None,
        })
        .collect();
    let now = started.last().map(|(_, bin)| bin.clone());
    let at = now.as_ref().and_then(|now| described.iter().position(|(name, _)| name == now));
    let empty_at = started.last().zip(at).and_then(|((t, _), at)| {
        let bundles = described.get(at).map(|(_, bundles)| *bundles).filter(|bundles| *bundles > 0)?;
        Some(place_begun(beats, *t)? + bundles)
    });
    let from = at.map_or(0, |at| at + 1);
    let rest = described.iter().skip(from).filter(|(name, _)| !started.iter().any(|(_, used)| used == name));
    Bins { now, empty_at, next: rest.take(BINS_AHEAD).map(|(name, _)| name.clone()).collect() }
}

/// The place whose beat time is nearest: in the later half of a basket a man takes up what the next one needs.
fn place_begun(beats: &Beats, t: quantity::UtcInstant) -> Option<i64> {
    let anchor = beats.anchor_at(t).or(beats.anchors.first())?;
    let (basket, position) = beats.last_due_by(anchor, t).unwrap_or((1, 0));
    Some(if 2 * position > beats.hooks_in(basket) { basket + 1 } else { basket })
}
