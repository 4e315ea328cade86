//! The line as it was set: places, baskets, hooks, their times, and which positions were missed.

use std::collections::{BTreeMap, BTreeSet};

use quantity::UtcInstant;

use super::beats::{Beats, MOST_HOOKS, MOST_PLACES, incomplete, to_f64, to_micros};
use super::{Fact, SetWork};
use crate::beat::Silence;
use crate::doubt::Doubt;
use crate::kind::{Data, Kind};
use crate::loose::{time, whole};
use crate::state::{Basket, Gear, Hook, HookFate, Place};

/// The line of one set.
#[derive(Default)]
pub(crate) struct Line {
    pub places: Vec<Place>,
    pub baskets: Vec<Basket>,
    pub hooks: Vec<Hook>,
    /// Places after which the line was parted while setting.
    pub gaps: BTreeSet<i64>,
    /// Where each radio buoy was launched.
    pub buoy_place: BTreeMap<String, i64>,
    pub main_line_total_m: Option<f64>,
    /// Times without tones.
    pub silences: Vec<Silence>,
}

impl Line {
    pub fn last_place(&self) -> i64 {
        i64::try_from(self.places.len()).unwrap_or(i64::MAX)
    }

    pub fn place(&self, place: i64) -> Option<&Place> {
        usize::try_from(place - 1).ok().and_then(|index| self.places.get(index))
    }

    pub fn place_mut(&mut self, place: i64) -> Option<&mut Place> {
        usize::try_from(place - 1).ok().and_then(|index| self.places.get_mut(index))
    }

    pub fn basket(&self, basket: i64) -> Option<&Basket> {
        usize::try_from(basket - 1).ok().and_then(|index| self.baskets.get(index))
    }

    /// Indices of a basket's hooks, in setting order.
    pub fn hooks_of(&self, basket: i64) -> std::ops::Range<usize> {
        self.basket(basket).map_or(0..0, |b| b.first_hook..b.first_hook + usize::try_from(b.hooks).unwrap_or(0))
    }

    /// Index of one hook.
    pub fn hook(&self, basket: i64, position: i64) -> Option<usize> {
        let range = self.hooks_of(basket);
        let index = range.start.checked_add(usize::try_from(position - 1).ok()?)?;
        range.contains(&index).then_some(index)
    }

    /// True when hooks were set beyond the last float.
    pub fn has_bare_end(&self) -> bool {
        self.basket(self.last_place()).is_some_and(|basket| basket.hooks > 0)
    }
}

#[derive(Clone)]
struct Tap {
    at: UtcInstant,
    tag: Option<String>,
    buoy: Option<String>,
}

/// Lays the line out from taps, beats and counts.
pub(crate) fn lay_out(work: &SetWork<'_>, gear: &Gear, beats: &Beats, doubts: &mut Vec<Doubt>) -> Line {
    let mut line = Line::default();
    let ended: Option<&Fact<'_>> = work.facts().filter(|fact| fact.kind() == Kind::SettingEnded).last();
    // Nobody said that setting ended: it did when hauling began, else it still goes on.
    let haul_began = work.set.parts.first().map(|part| work.facts[part.started].t);
    let end_t = ended.map_or_else(|| haul_began.map_or(work.now, |t| t.min(work.now)), |fact| fact.t);
    if ended.is_none()
        && let Some(t) = haul_began
    {
        doubts.push(Doubt::new(
            "setting_not_ended",
            "set",
            format!("Nobody said when setting ended; it is taken to have ended when hauling began, {t}."),
        ));
    }
    let taps = gather_taps(work, gear, beats, &mut line, doubts);
    let (stated_last, hooks_after) = match ended.map(|fact| fact.data.as_ref()) {
        Some(Data::SettingEnded(data)) => (whole(data.last_place), whole(data.hooks_after)),
        _ => (None, None),
    };
    let stated_last = stated_last.filter(|last| (0..=MOST_PLACES).contains(last));
    let last_place = stated_last.unwrap_or_else(|| {
        let mut last = taps.keys().next_back().copied().unwrap_or(0);
        while last < MOST_PLACES && beats.due(last + 1, 0).is_some_and(|due| due <= end_t) {
            last += 1;
        }
        last
    });
    for place in taps.keys().filter(|place| **place > last_place) {
        doubts.push(Doubt::new("beyond_the_end", format!("place {place}"), format!(
            "A float was tapped at place {place}, but setting ended at place {last_place}. It is kept and not in the line."
        )));
    }
    line.places = (1..=last_place)
        .map(|place| {
            let tap = taps.get(&place);
            Place {
                place,
                tag: tap.and_then(|tap| tap.tag.clone()),
                radio_buoy: tap.and_then(|tap| tap.buoy.clone()),
                clipped_at: tap.map(|tap| tap.at).or_else(|| beats.due(place, 0)),
                tapped: tap.is_some(),
                position: None,
                along_line_m: None,
                hauled_at: None,
                missing: false,
            }
        })
        .collect();
    apply_tag_list(work, gear, &mut line);
    if !beats.has_anchors() {
        stand_evenly(work, beats, &mut line, doubts);
    }
    say_what_taps_say(gear, beats, &line, doubts);
    let gaps = gather_gaps(work, &line, doubts);
    line.gaps = gaps.keys().copied().collect();
    let mut hooks = Vec::new();
    for basket in 1..=last_place {
        let cut = gaps.get(&basket);
        let is_last = basket == last_place;
        let has_end_float = !is_last && cut.is_none();
        let (n, until) = if let Some((t, stated)) = cut {
            (open_ended(beats, basket, *stated, *t), *t)
        } else if is_last {
            (open_ended(beats, basket, hooks_after, end_t), end_t)
        } else {
            (beats.hooks_in(basket), end_t)
        };
        if is_last && n == 0 {
            break;
        }
        let takes_a_beat = beats.float_takes_a_beat(basket);
        line.baskets.push(Basket {
            basket,
            hooks: n,
            first_hook: hooks.len(),
            has_end_float,
            float_takes_a_beat: takes_a_beat,
            main_line_m: None,
            clip_spacing_m: None,
            sag_ratio: None,
            sag_basis: None,
            float_line_m: None,
            branch_type: None,
            branch_line_m: None,
            empty_line_m: 0.0,
            tangled: false,
        });
        for position in 1..=n {
            hooks.push(Hook {
                number: None,
                basket,
                position,
                clipped_at: hook_time(&line, beats, basket, position, n, has_end_float, takes_a_beat, until),
                place: None,
                along_line_m: None,
                lifted_at: None,
                fate: HookFate::InWater,
                fish: Vec::new(),
                doubts: Vec::new(),
            });
        }
    }
    line.hooks = hooks;
    mark_missed(work, beats, &mut line, doubts);
    mark_silence(work, beats, &mut line, doubts);
    let mut number = 0;
    for hook in &mut line.hooks {
        if hook.fate != HookFate::Missed {
            number += 1;
            hook.number = Some(number);
        }
    }
    line
}

/// Hooks of a basket without an end float: counted, stated, else due by `until`.
fn open_ended(beats: &Beats, basket: i64, stated: Option<i64>, until: UtcInstant) -> i64 {
    let by_beat = || {
        let n = beats.hooks_in(basket);
        (1..=n).rev().find(|&j| beats.due(basket, j).is_some_and(|due| due <= until)).unwrap_or(0)
    };
    beats.counted(basket).or(stated.filter(|hooks| (0..=MOST_HOOKS).contains(hooks))).unwrap_or_else(by_beat)
}

fn gather_taps(
    work: &SetWork<'_>,
    gear: &Gear,
    beats: &Beats,
    line: &mut Line,
    doubts: &mut Vec<Doubt>,
) -> BTreeMap<i64, Tap> {
    let mut taps: BTreeMap<i64, Tap> = BTreeMap::new();
    let mut due_times: Vec<UtcInstant> = Vec::new();
    for fact in work.facts() {
        let (stated, tag, buoy) = match fact.data.as_ref() {
            Data::FloatClipped(data) => (whole(data.place), data.tag.as_ref().map(|tag| tag.0.clone()), None),
            Data::RadioBuoyLaunched(data) => (whole(data.place), None, Some(data.buoy.clone().unwrap_or_default())),
            _ => continue,
        };
        let place = stated.or_else(|| {
            if beats.has_anchors() {
                nearest_place(beats, &mut due_times, fact.t)
            } else if buoy.is_some() && !gear.buoy_in_place_of_float {
                taps.keys().next_back().copied()
            } else {
                Some(taps.keys().next_back().map_or(1, |highest| highest + 1))
            }
        });
        let Some(place) = place.filter(|place| (1..=MOST_PLACES).contains(place)) else {
            doubts.push(incomplete(fact.id(), "A float was tapped at a place that no line has."));
            continue;
        };
        if let Some(buoy) = &buoy {
            line.buoy_place.insert(buoy.clone(), place);
            if !gear.buoy_in_place_of_float {
                continue;
            }
        }
        match taps.get_mut(&place) {
            None => {
                taps.insert(place, Tap { at: fact.t, tag, buoy });
            }
            Some(tap) => {
                if tap.buoy.is_some() == buoy.is_some() {
                    doubts.push(Doubt::new(
                        "place_tapped_twice",
                        format!("place {place}"),
                        format!("Place {place} was tapped twice, at {} and {}. The earlier stands.", tap.at, fact.t),
                    ));
                }
                tap.tag = tap.tag.take().or(tag);
                tap.buoy = tap.buoy.take().or(buoy);
            }
        }
    }
    taps
}

fn nearest_place(beats: &Beats, due_times: &mut Vec<UtcInstant>, t: UtcInstant) -> Option<i64> {
    // Due times are worked out once, as far beyond `t` as could matter.
    let far = t.plus_seconds(6.0 * 3600.0);
    while due_times.last().is_none_or(|last| *last <= far) {
        let place = i64::try_from(due_times.len()).unwrap_or(MOST_PLACES) + 1;
        if place > MOST_PLACES {
            break;
        }
        due_times.push(beats.due(place, 0)?);
    }
    let nearest = due_times.iter().enumerate().min_by_key(|(_, due)| (due.micros() - t.micros()).abs())?.0;
    i64::try_from(nearest).ok().map(|index| index + 1)
}

/// Fixed tags entered in rack order name the places that nobody named.
fn apply_tag_list(work: &SetWork<'_>, gear: &Gear, line: &mut Line) {
    if gear.tag_mode.as_deref() != Some("fixed") {
        return;
    }
    for fact in work.facts() {
        let Data::TagsListed(list) = fact.data.as_ref() else { continue };
        let from = whole(list.from_place).unwrap_or(1);
        for (tag, place) in list.tags.iter().flatten().zip(from..) {
            let text = tag.as_str().map_or_else(|| tag.to_string(), str::to_owned);
            if let Some(place) = line.place_mut(place)
                && place.tag.is_none()
                && place.radio_buoy.is_none()
            {
                place.tag = Some(text);
            }
        }
    }
}

/// Without any beat, untapped places stand evenly between their tapped neighbours.
fn stand_evenly(work: &SetWork<'_>, beats: &Beats, line: &mut Line, doubts: &mut Vec<Doubt>) {
    if let Some(first) = line.places.first_mut()
        && first.clipped_at.is_none()
    {
        first.clipped_at = Some(work.facts[work.set.started].t);
        doubts.push(Doubt::new(
            "time_assumed",
            "place 1",
            "Place 1 was never tapped; it stands at the start of setting.",
        ));
    }
    let known: Vec<usize> = (0..line.places.len()).filter(|&i| line.places[i].clipped_at.is_some()).collect();
    for pair in known.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let (Some(from), Some(to)) = (line.places[a].clipped_at, line.places[b].clipped_at) else { continue };
        for i in a + 1..b {
            let share = share_of(i - a, b - a);
            line.places[i].clipped_at = Some(between(beats, from, to, share));
        }
    }
    for place in line.places.iter().filter(|place| place.clipped_at.is_none()) {
        doubts.push(Doubt::new(
            "time_unknown",
            format!("place {}", place.place),
            format!("Nobody knows when place {} was clipped: no beat, and no tapped place beyond it.", place.place),
        ));
    }
}

fn share_of(part: usize, whole: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of places")]
    let share = part as f64 / whole as f64;
    share
}

/// The moment at a share of the running time between two moments.
pub(crate) fn between(beats: &Beats, from: UtcInstant, to: UtcInstant, share: f64) -> UtcInstant {
    let (from_us, to_us) = (beats.running_us(from.micros()), beats.running_us(to.micros()));
    let running = from_us.saturating_add(to_micros(to_f64(to_us - from_us) / 1e6 * share));
    UtcInstant::from_micros_clamped(beats.clock_us(running))
}

fn say_what_taps_say(gear: &Gear, beats: &Beats, line: &Line, doubts: &mut Vec<Doubt>) {
    for pair in line.places.windows(2) {
        let (Some(from), Some(to)) = (pair[0].clipped_at, pair[1].clipped_at) else { continue };
        let basket = pair[0].place;
        if to < from {
            doubts.push(Doubt::new(
                "places_out_of_order",
                format!("basket {basket}"),
                format!(
                    "Place {} was clipped at {to}, before place {basket} at {from}. Both are kept as they came.",
                    basket + 1
                ),
            ));
        }
        if !(pair[0].tapped && pair[1].tapped) {
            continue;
        }
        let Some(anchor) = beats.anchor_for(basket, 1) else { continue };
        let expected = to_f64(beats.hooks_in(basket) + i64::from(anchor.float_takes_a_beat));
        let seen = to_f64(beats.running_us(to.micros()) - beats.running_us(from.micros())) / 1e6 / anchor.beat_s;
        if (seen - expected).abs() > 1.0 + 1e-6 {
            doubts.push(Doubt::new("taps_against_beat", format!("basket {basket}"), format!(
                "Between the floats of basket {basket} went {seen:.1} beats, not {expected:.0}. The count stays {} hooks.",
                beats.hooks_in(basket)
            )));
        }
    }
    let step = match gear.tag_mode.as_deref() {
        Some("sequence_up") => 1,
        Some("sequence_down") => -1,
        _ => return,
    };
    let numbered: Vec<(i64, i64)> = line
        .places
        .iter()
        .filter_map(|place| Some((place.place, place.tag.as_deref()?.trim().parse::<i64>().ok()?)))
        .collect();
    for pair in numbered.windows(2) {
        if (pair[1].1 - pair[0].1) * step <= 0 {
            doubts.push(Doubt::new(
                "tag_out_of_order",
                format!("place {}", pair[1].0),
                format!(
                    "The float at place {} bears {}, after {} at place {}: out of sequence.",
                    pair[1].0, pair[1].1, pair[0].1, pair[0].0
                ),
            ));
        }
    }
}

fn gather_gaps(work: &SetWork<'_>, line: &Line, doubts: &mut Vec<Doubt>) -> BTreeMap<i64, (UtcInstant, Option<i64>)> {
    let mut gaps = BTreeMap::new();
    for fact in work.facts() {
        let Data::SettingParted(data) = fact.data.as_ref() else { continue };
        let after = whole(data.after_place).or_else(|| {
            line.places
                .iter()
                .rev()
                .find(|place| place.clipped_at.is_some_and(|at| at <= fact.t))
                .map(|place| place.place)
        });
        match after.filter(|place| line.place(*place).is_some()) {
            Some(place) => {
                gaps.entry(place).or_insert((fact.t, whole(data.hooks_after)));
            }
            None => doubts.push(incomplete(fact.id(), "The line parted while setting, at a place that is not in it.")),
        }
    }
    gaps
}

#[expect(clippy::too_many_arguments, reason = "all that a hook's time rests on")]
fn hook_time(
    line: &Line,
    beats: &Beats,
    basket: i64,
    position: i64,
    n: i64,
    has_end_float: bool,
    takes_a_beat: bool,
    until: UtcInstant,
) -> Option<UtcInstant> {
    let from = line.place(basket)?.clipped_at?;
    let j = to_f64(position);
    if has_end_float {
        let to = line.place(basket + 1)?.clipped_at?;
        let share = if takes_a_beat { j / to_f64(n + 1) } else { (j - 0.5) / to_f64(n) };
        return Some(between(beats, from, to, share));
    }
    if let Some(anchor) = beats.anchor_for(basket, position) {
        return Some(beats.after_beats(from, if takes_a_beat { j } else { j - 0.5 }, anchor.beat_s));
    }
    (until > from).then(|| between(beats, from, until, j / to_f64(n + 1)))
}

fn mark_missed(work: &SetWork<'_>, beats: &Beats, line: &mut Line, doubts: &mut Vec<Doubt>) {
    for fact in work.facts() {
        let Data::HookMissed(data) = fact.data.as_ref() else { continue };
        let found = match (whole(data.basket), whole(data.position)) {
            (Some(basket), Some(position)) => Some((basket, position)),
            (basket, _) => {
                let due = if beats.has_anchors() {
                    beats.last_hook_due(fact.t)
                } else {
                    line.hooks
                        .iter()
                        .rfind(|hook| hook.clipped_at.is_some_and(|at| at <= fact.t))
                        .map(|hook| (hook.basket, hook.position))
                };
                match basket {
                    Some(basket) if due.is_some_and(|due| due.0 != basket) => (1..=beats.hooks_in(basket))
                        .rev()
                        .find(|&j| beats.due(basket, j).is_some_and(|due| due <= fact.t))
                        .map(|position| (basket, position)),
                    _ => due,
                }
            }
        };
        match found.and_then(|(basket, position)| line.hook(basket, position)) {
            Some(index) => {
                let hook = &mut line.hooks[index];
                if hook.fate == HookFate::Missed {
                    doubts.push(Doubt::new("missed_twice", format!("basket {} hook {}", hook.basket, hook.position), format!(
                        "Hook {} of basket {} was called missed twice; it counts once.", hook.position, hook.basket
                    )));
                }
                hook.fate = HookFate::Missed;
            }
            None => doubts.push(Doubt::new("missed_beyond", fact.id(), format!(
                "A missed hook was called at {} for a position that the line does not have. It is kept and not counted.", fact.t
            ))),
        }
    }
}

fn mark_silence(work: &SetWork<'_>, beats: &Beats, line: &mut Line, doubts: &mut Vec<Doubt>) {
    for fact in work.facts() {
        let Data::BeatSilent(data) = fact.data.as_ref() else { continue };
        let (Some(from), Some(to)) = (time(data.from_at.as_ref()), time(data.to_at.as_ref())) else {
            doubts.push(incomplete(fact.id(), "A silence of the beat lacks its two times."));
            continue;
        };
        let (from, to) = (fact.moved(from), fact.moved(to));
        let due: Vec<usize> = line
            .hooks
            .iter()
            .enumerate()
            .filter(|(_, hook)| {
                beats.due(hook.basket, hook.position).or(hook.clipped_at).is_some_and(|at| at > from && at <= to)
            })
            .map(|(index, _)| index)
            .collect();
        let count = i64::try_from(due.len()).unwrap_or(i64::MAX);
        let seconds_s = to.seconds_since(from);
        let hooks_clipped = whole(data.hooks_clipped);
        line.silences.push(Silence { id: fact.id().to_owned(), from, to, hooks_due: count, hooks_clipped });
        match hooks_clipped {
            None => {
                for &index in &due {
                    line.hooks[index].doubts.push(Doubt::new("beat_silent", fact.id(), format!(
                        "The beat was silent for {seconds_s:.0} s; nobody said whether this hook was clipped. It counts as set."
                    )));
                }
                doubts.push(Doubt::new("beat_silent", fact.id(), format!(
                    "The beat was silent for {seconds_s:.0} s from {from}; {count} hooks were due. They count as set until somebody says how many were clipped."
                )));
            }
            Some(clipped) if clipped > count || clipped < 0 => doubts.push(Doubt::new("silence_count", fact.id(), format!(
                "{clipped} hooks were said to be clipped in a silence in which {count} were due. All {count} count as set."
            ))),
            Some(clipped) => {
                let keep = usize::try_from(clipped).unwrap_or(0);
                for &index in due.iter().skip(keep) {
                    line.hooks[index].fate = HookFate::Missed;
                }
            }
        }
    }
}
