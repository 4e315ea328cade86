//! The haul: which places came up when, which hooks with them, and where on the line each rail count lies.
//!
//! At the rail the line comes up float by float; a count says so many branch lines since the last float.
//! Only here is a count turned into a position, which always runs in setting order.

use std::collections::{BTreeMap, BTreeSet};

use quantity::UtcInstant;

use super::beats::{incomplete, to_f64};
use super::fish::begins_a_fish;
use super::hauler::Hauler;
use super::line::Line;
use super::{Fact, SetWork};
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::whole;
use crate::state::{HaulPart, HookFate, RadioBuoy};

/// Where a rail event lies on the line.
#[derive(Debug, Clone, Default)]
pub(crate) struct Spot {
    pub haul: Option<String>,
    pub basket: Option<i64>,
    /// Index into the line's hooks.
    pub hook: Option<usize>,
    pub uncertainty_hooks: f64,
    pub between: Option<(i64, i64)>,
}

/// What the haul parts add up to.
#[derive(Default)]
pub(crate) struct Hauled {
    pub parts: Vec<HaulPart>,
    /// Index of a hook to the time it was lifted.
    pub lifted: BTreeMap<usize, UtcInstant>,
    /// Rail events by id.
    pub spots: BTreeMap<String, Spot>,
    /// Branch lines lost: the event's id.
    pub branch_lost: Vec<(String, UtcInstant)>,
    pub radio_buoys: Vec<RadioBuoy>,
    pub branch_lines_lost: usize,
}

/// One float after another in a part.
struct Link {
    place: i64,
    at: UtcInstant,
    /// Index of its fact; none for a bare end.
    fact: Option<usize>,
}

/// The line between two links, or beyond the last.
struct Stretch {
    from_place: i64,
    from_at: UtcInstant,
    to: Option<(i64, UtcInstant)>,
    /// The part began here: its start is not itself a hauled place.
    unhauled_start: bool,
    /// Hooks in the order they come up, missed positions skipped.
    seen: Vec<usize>,
    facts: Vec<usize>,
}

/// Works through every haul part of a set.
pub(crate) fn haul(work: &SetWork<'_>, line: &mut Line, doubts: &mut Vec<Doubt>) -> Hauled {
    let mut hauled = Hauled::default();
    let in_place: BTreeSet<i64> =
        line.places.iter().filter(|place| place.radio_buoy.is_some()).map(|place| place.place).collect();
    gather_radio_buoys(work, line, &mut hauled);
    let declared_missing: BTreeSet<i64> = work
        .facts()
        .filter_map(|fact| match fact.data.as_ref() {
            Data::FloatMissing(data) => whole(data.place),
            _ => None,
        })
        .collect();
    for place in &declared_missing {
        match line.place_mut(*place) {
            Some(place) => place.missing = true,
            None => doubts.push(Doubt::new(
                "float_never_set",
                format!("place {place}"),
                format!(
                    "Place {place} was called missing at the rail, but no such place was set. It is kept and not used."
                ),
            )),
        }
    }
    for part in &work.set.parts {
        let begin = &work.facts[part.started];
        let Data::HaulStarted(data) = begin.data.as_ref() else { continue };
        let ended = part.ended.map(|index| &work.facts[index]);
        let reason = ended.and_then(|fact| match fact.data.as_ref() {
            Data::HaulEnded(data) => data.reason.clone(),
            _ => None,
        });
        let until = ended.map_or(work.now.max(begin.t), |fact| fact.t);
        hauled.parts.push(HaulPart {
            haul: begin.id().to_owned(),
            direction: data.direction.clone(),
            from_place: whole(data.from_place),
            started_at: begin.t,
            start: work.track.at(begin.t).map(|fixed| fixed.place),
            ended_at: ended.map(|fact| fact.t),
            end: ended.and_then(|fact| work.track.at(fact.t)).map(|fixed| fixed.place),
            reason: reason.clone(),
        });
        let step = match data.direction.as_deref() {
            Some("to_first") => -1,
            Some("to_last") => 1,
            other => {
                doubts.push(Doubt::new(
                    "direction_unknown",
                    begin.id(),
                    format!("A haul part has the direction {}; it counts as to_first.", other.unwrap_or("(none)")),
                ));
                -1
            }
        };
        let from_place =
            whole(data.from_place).or_else(|| data.buoy.as_ref().and_then(|buoy| line.buoy_place.get(buoy)).copied());
        if from_place.is_none() {
            doubts.push(incomplete(begin.id(), "A haul part lacks the place where it began."));
        }
        let hauler = Hauler::gather(work.facts, &part.facts, until);
        let bare = line.has_bare_end().then(|| line.last_place() + 1);
        let mut links: Vec<Link> = Vec::new();
        if from_place.is_some() && from_place == bare {
            links.push(Link { place: line.last_place() + 1, at: begin.t, fact: None });
        }
        gather_links(work, &part.facts, line, step, from_place, &declared_missing, &in_place, &mut links, doubts);
        if let (Some(bare), Some(end), 1, Some("all_up")) = (bare, ended, step, reason.as_deref())
            && links.last().is_some_and(|link| link.place < bare)
        {
            links.push(Link { place: bare, at: end.t, fact: None });
        }
        say_what_was_passed(line, &links, &declared_missing, doubts);
        let stretches = cut_into_stretches(work, &part.facts, line, step, from_place, begin.t, &links);
        for stretch in &stretches {
            count_up(work, line, stretch, &hauler, begin.id(), &mut hauled, doubts);
        }
    }
    for fact in work.facts().filter(|fact| fact.kind() == Kind::BranchLineLost) {
        hauled.branch_lost.push((fact.id().to_owned(), fact.t));
    }
    hauled
}

fn gather_radio_buoys(work: &SetWork<'_>, line: &Line, hauled: &mut Hauled) {
    for fact in work.facts() {
        match fact.data.as_ref() {
            Data::RadioBuoyLaunched(data) => {
                let buoy = data.buoy.clone().unwrap_or_default();
                let place = line.buoy_place.get(&buoy).copied();
                hauled.radio_buoys.push(RadioBuoy { buoy, place, launched_at: fact.t, recovered_at: None });
            }
            Data::RadioBuoyRecovered(data) => {
                let buoy = data.buoy.as_deref().unwrap_or_default();
                if let Some(known) = hauled.radio_buoys.iter_mut().find(|known| known.buoy == buoy) {
                    known.recovered_at = known.recovered_at.or(Some(fact.t));
                }
            }
            _ => {}
        }
    }
}

#[expect(clippy::too_many_arguments, reason = "all that names a float at the rail")]
fn gather_links(
    work: &SetWork<'_>,
    indices: &[usize],
    line: &mut Line,
    step: i64,
    from_place: Option<i64>,
    missing: &BTreeSet<i64>,
    in_place: &BTreeSet<i64>,
    links: &mut Vec<Link>,
    doubts: &mut Vec<Doubt>,
) {
    for &index in indices {
        let fact = &work.facts[index];
        let next = || {
            let mut next = links.last().map_or(from_place, |link| Some(link.place + step))?;
            while missing.contains(&next) && line.place(next).is_some() {
                next += step;
            }
            Some(next)
        };
        let place = match fact.data.as_ref() {
            Data::FloatHauled(data) => whole(data.place)
                .or_else(|| {
                    let tag = data.tag.as_ref()?;
                    let mut bearing = line.places.iter().filter(|place| place.tag.as_ref() == Some(&tag.0));
                    match (bearing.next(), bearing.next()) {
                        (Some(only), None) => Some(only.place),
                        _ => None,
                    }
                })
                .or_else(next),
            Data::RadioBuoyRecovered(data) => {
                let at = data.buoy.as_ref().and_then(|buoy| line.buoy_place.get(buoy)).copied().or(whole(data.place));
                match at {
                    Some(place) if in_place.contains(&place) => Some(place),
                    Some(_) => continue,
                    None => {
                        doubts.push(Doubt::new("buoy_never_launched", fact.id(), format!(
                            "Radio buoy {} was recovered, but it was not launched in this set. It is kept and not used.",
                            data.buoy.as_deref().unwrap_or("(no name)")
                        )));
                        continue;
                    }
                }
            }
            _ => continue,
        };
        let Some(place) = place else {
            doubts.push(incomplete(fact.id(), "A float was hauled and nothing says which."));
            continue;
        };
        let (t, last) = (fact.t, line.last_place());
        let Some(known) = line.place_mut(place) else {
            doubts.push(Doubt::new(
                "float_never_set",
                format!("place {place}"),
                format!(
                    "Place {place} was hauled at {t}, but the line has places 1 to {last}. It is kept and not used."
                ),
            ));
            continue;
        };
        if let Some(first) = known.hauled_at {
            doubts.push(Doubt::new(
                "hauled_twice",
                format!("place {place}"),
                format!("Place {place} was hauled twice, at {first} and {t}. The earlier stands."),
            ));
            continue;
        }
        known.hauled_at = Some(t);
        if known.missing {
            known.missing = false;
            doubts.push(Doubt::new(
                "missing_but_hauled",
                format!("place {place}"),
                format!("Place {place} was called missing and was hauled at {t}. It counts as hauled."),
            ));
        }
        if known.clipped_at.is_some_and(|clipped| t < clipped) {
            doubts.push(Doubt::new("hauled_before_set", format!("place {place}"), format!(
                "Place {place} was hauled at {t}, before it was clipped. Both times are kept as they came; correct one of the two."
            )));
        }
        if links.last().is_some_and(|link| (place - link.place) * step <= 0) {
            doubts.push(Doubt::new("hauled_out_of_order", format!("place {place}"), format!(
                "Place {place} was hauled at {t}, against the direction of the haul. Its float counts as hauled; no hooks rest on it."
            )));
            continue;
        }
        links.push(Link { place, at: t, fact: Some(index) });
    }
}

fn say_what_was_passed(line: &mut Line, links: &[Link], declared: &BTreeSet<i64>, doubts: &mut Vec<Doubt>) {
    for pair in links.windows(2) {
        let (low, high) = (pair[0].place.min(pair[1].place), pair[0].place.max(pair[1].place));
        for place in low + 1..high {
            if declared.contains(&place) {
                continue;
            }
            if let Some(known) = line.place_mut(place)
                && known.hauled_at.is_none()
            {
                known.missing = true;
                doubts.push(Doubt::new("float_passed", format!("place {place}"), format!(
                    "Place {place} was passed between {} and {} and nobody said what became of its float. It counts as missing.",
                    pair[0].place, pair[1].place
                )));
            }
        }
    }
}

/// Hooks from one place on in the direction of the haul, as far as `to` (none: to the end of the line).
fn seen_from(line: &Line, from: i64, to: Option<i64>, step: i64) -> Vec<usize> {
    let last_basket = i64::try_from(line.baskets.len()).unwrap_or(0);
    let mut seen = Vec::new();
    let mut push = |basket: i64| {
        let range = line.hooks_of(basket);
        let hooks: Vec<usize> = if step < 0 { range.rev().collect() } else { range.collect() };
        seen.extend(hooks.into_iter().filter(|&index| line.hooks[index].fate != HookFate::Missed));
    };
    if step < 0 {
        let (high, low) = ((from - 1).min(last_basket), to.unwrap_or(1).max(1));
        (low..=high).rev().for_each(&mut push);
    } else {
        let (low, high) = (from.max(1), to.map_or(last_basket, |to| to - 1).min(last_basket));
        (low..=high).for_each(&mut push);
    }
    seen
}

fn cut_into_stretches(
    work: &SetWork<'_>,
    indices: &[usize],
    line: &Line,
    step: i64,
    from_place: Option<i64>,
    started: UtcInstant,
    links: &[Link],
) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let first = links.first();
    // Until a float is hauled the part's own start stands in for it.
    let virtual_start = from_place.filter(|place| first.is_none_or(|link| link.place != *place));
    if let Some(place) = virtual_start {
        let to = first.map(|link| (link.place, link.at));
        stretches.push(Stretch {
            from_place: place,
            from_at: started,
            to,
            unhauled_start: true,
            seen: seen_from(line, place, to.map(|to| to.0), step),
            facts: Vec::new(),
        });
    }
    for (index, link) in links.iter().enumerate() {
        let to = links.get(index + 1).map(|next| (next.place, next.at));
        stretches.push(Stretch {
            from_place: link.place,
            from_at: link.at,
            to,
            unhauled_start: false,
            seen: seen_from(line, link.place, to.map(|to| to.0), step),
            facts: Vec::new(),
        });
    }
    let offset = usize::from(virtual_start.is_some());
    for &index in indices {
        let fact = &work.facts[index];
        let passed = links
            .iter()
            .rposition(|link| match link.fact {
                Some(of) => of < index,
                None => link.at < fact.t || link.at == started,
            })
            .map(|link| link + offset);
        let stretch = passed.unwrap_or(0);
        if let Some(stretch) = stretches.get_mut(stretch) {
            stretch.facts.push(index);
        }
    }
    stretches
}

/// What a rail event says of its count.
fn count_of(fact: &Fact<'_>) -> Option<(Option<i64>, f64)> {
    match fact.data.as_ref() {
        Data::Landed(data) | Data::LostAtRail(data) | Data::Bitten(data) | Data::Released(data)
            if begins_a_fish(fact) =>
        {
            Some((whole(data.count_since_float), data.uncertainty_hooks.unwrap_or(0.0).max(0.0)))
        }
        Data::BranchLineLost(data) => Some((whole(data.count_since_float), 0.0)),
        Data::HooksCounted(data) => Some((whole(data.count), 0.0)),
        _ => None,
    }
}

fn count_up(
    work: &SetWork<'_>,
    line: &mut Line,
    stretch: &Stretch,
    hauler: &Hauler,
    haul_id: &str,
    hauled: &mut Hauled,
    doubts: &mut Vec<Doubt>,
) {
    let m = i64::try_from(stretch.seen.len()).unwrap_or(i64::MAX);
    let mut counts: Vec<(usize, Option<i64>, f64)> = Vec::new();
    for &index in &stretch.facts {
        let fact = &work.facts[index];
        let Some((count, uncertainty)) = count_of(fact) else { continue };
        if count.is_some_and(|count| count < 0) {
            doubts.push(incomplete(fact.id(), "A count at the rail is below nought."));
        }
        counts.push((index, count.filter(|count| *count >= 0), uncertainty));
    }
    let largest = counts.iter().filter(|(_, _, u)| *u <= 0.0).filter_map(|(_, count, _)| *count).max().unwrap_or(0);
    let scaled = stretch.to.is_some() && largest > m;
    if scaled {
        doubts.push(Doubt::new("counts_scaled", format!("place {}", stretch.from_place), format!(
            "From place {} on {largest} branch lines were counted where {m} came up; the counts of that stretch are drawn together.",
            stretch.from_place
        )));
    }
    let next_basket = |line: &Line| stretch.seen.first().map(|&index| line.hooks[index].basket);
    let mut highest: Option<(i64, UtcInstant)> = None;
    for (index, count, uncertainty) in counts {
        let fact = &work.facts[index];
        let guessed = uncertainty > 0.0 && stretch.to.is_some();
        let resolved = match count {
            Some(count) if count > 0 => {
                if let (true, Some((_, to_at))) = (guessed, stretch.to) {
                    let share = hauler.share(stretch.from_at, to_at, fact.t);
                    (m > 0).then(|| round_half_up(share * to_f64(m + 1)).clamp(1, m))
                } else if scaled && uncertainty <= 0.0 {
                    (m > 0).then(|| round_half_up(to_f64(count) * to_f64(m) / to_f64(largest)).clamp(1, m))
                } else {
                    Some(count)
                }
            }
            _ => None,
        };
        let hook =
            resolved.and_then(|count| usize::try_from(count - 1).ok()).and_then(|i| stretch.seen.get(i)).copied();
        if let (Some(count), None) = (resolved, hook) {
            doubts.push(Doubt::new("count_beyond", fact.id(), format!(
                "{count} branch lines were counted after place {}, more than the line has there. The event is kept without a position.",
                stretch.from_place
            )));
        }
        let at_rail = !matches!(fact.kind(), Kind::BranchLineLost);
        if at_rail
            && let Some(count) = resolved.filter(|count| *count <= m)
            && highest.is_none_or(|(most, _)| count > most)
        {
            highest = Some((count, fact.t));
        }
        if fact.kind() == Kind::HooksCounted {
            continue;
        }
        let basket = hook.map(|index| line.hooks[index].basket).or_else(|| {
            let at = stretch.to.map(|(_, to_at)| hauler.share(stretch.from_at, to_at, fact.t));
            match (fact.kind(), at) {
                (Kind::BranchLineLost, Some(share)) => {
                    let i = round_half_up(share * to_f64(m + 1)).clamp(1, m.max(1)) - 1;
                    usize::try_from(i).ok().and_then(|i| stretch.seen.get(i)).map(|&index| line.hooks[index].basket)
                }
                _ => next_basket(line),
            }
        });
        hauled.spots.insert(
            fact.id().to_owned(),
            Spot {
                haul: Some(haul_id.to_owned()),
                basket,
                hook,
                uncertainty_hooks: uncertainty,
                between: Some((stretch.from_place, stretch.to.map_or_else(|| next_place(line, stretch), |to| to.0))),
            },
        );
    }
    match stretch.to {
        Some((_, to_at)) if !stretch.unhauled_start => {
            for (i, &hook) in stretch.seen.iter().enumerate() {
                let share = to_f64(i64::try_from(i + 1).unwrap_or(0)) / to_f64(m + 1);
                hauled.lifted.entry(hook).or_insert_with(|| hauler.between(stretch.from_at, to_at, share));
            }
        }
        _ => {
            let Some((count, at)) = highest else { return };
            for (i, &hook) in stretch.seen.iter().enumerate().take(usize::try_from(count).unwrap_or(0)) {
                let share = to_f64(i64::try_from(i + 1).unwrap_or(0)) / to_f64(count);
                hauled.lifted.entry(hook).or_insert_with(|| hauler.between(stretch.from_at, at, share));
            }
        }
    }
}

fn next_place(line: &Line, stretch: &Stretch) -> i64 {
    stretch.seen.first().map_or(stretch.from_place, |&index| {
        let basket = line.hooks[index].basket;
        if basket < stretch.from_place { basket } else { basket + 1 }
    })
}

fn round_half_up(value: f64) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "a float cast saturates")]
    let rounded = (value + 0.5).floor() as i64;
    rounded
}
