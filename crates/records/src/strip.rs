//! Geometry of the strip: the whole line hanging under one surface, first float left, last right.
//!
//! Plain numbers for any painter: along the strip as a share of its width (0 to 1; every basket takes as much of it as
//! it has clip intervals), downward in metres. Night, twilight and day under it by the height of the sun at the clipping
//! of the hooks above: day from sunrise (centre −50′), night below nautical twilight (−12°).

use std::collections::{BTreeMap, BTreeSet};

use forecast::HookDepth;
use quantity::{Position, UtcInstant, sun};
use serde::Serialize;
use voyage::{Basket, CatchFate, HookFate, SetRecord};

/// Runs of one fate narrower than this share of the strip are joined to their neighbour and only marked.
const THINNEST_RUN: f64 = 0.004;
/// Pieces into which the strip is cut to find night and day.
const LIGHT_STEPS: u32 = 240;

/// The strip of a set.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Strip {
    /// Depth of the deepest hook, metres; none where no depth is known.
    pub deepest_m: Option<f64>,
    /// The line, cut where the fate of its hooks changes.
    pub arcs: Vec<Arc>,
    /// Bars above the surface over the hauled stretches, as shares of the width.
    pub hauled_bars: Vec<(f64, f64)>,
    /// Radio buoys.
    pub flags: Vec<Flag>,
    /// Missing floats, as shares of the width.
    pub missing_floats: Vec<f64>,
    /// Single hooks lost in a stretch that was hauled.
    pub crosses: Vec<(f64, f64)>,
    /// Single hooks of which nobody knows in a stretch that was hauled.
    pub questions: Vec<(f64, f64)>,
    /// Fish where they were hooked.
    pub dots: Vec<Dot>,
    /// Night, twilight and day; empty where times or places are not known.
    pub light: Vec<LightBar>,
    /// Whole hours of clipping in ship time.
    pub hours: Vec<HourTick>,
}

/// A stretch of one basket whose hooks share a fate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Arc {
    /// Its basket.
    pub basket: i64,
    /// What became of its hooks.
    pub fate: HookFate,
    /// The arc: share of the width, depth in metres.
    pub points: Vec<(f64, f64)>,
    /// False where the depth is not known and the arc hangs at a depth for drawing only.
    pub depth_known: bool,
}

/// A radio buoy.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Flag {
    /// Share of the width.
    pub at: f64,
    /// Its painted name.
    pub label: String,
}

/// A fish.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Dot {
    /// Share of the width.
    pub at: f64,
    /// Depth of its hook, metres.
    pub depth_m: f64,
    /// True when it was kept.
    pub kept: bool,
    /// True when its hook is a guess.
    pub guessed: bool,
}

/// How light it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Light {
    /// Sun lower than 12° below the horizon.
    Night,
    /// Between.
    Twilight,
    /// Sun up.
    Day,
}

/// A stretch of one light.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LightBar {
    /// From, share of the width.
    pub from: f64,
    /// To, share of the width.
    pub to: f64,
    /// How light.
    pub light: Light,
}

/// A whole hour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HourTick {
    /// Share of the width.
    pub at: f64,
    /// When, UTC.
    pub at_utc: UtcInstant,
}

/// The strip of a set. `depths` is [`forecast::depths`] of the same set; whole hours are those of `utc_offset_min`.
#[must_use]
pub fn strip(set: &SetRecord, depths: &[HookDepth], utc_offset_min: i64) -> Strip {
    laid_out(set, depths, utc_offset_min, &Layout::of(&set.baskets, 0.0))
}

/// The strip of a set whose baskets take the places of `layout`.
pub(crate) fn laid_out(set: &SetRecord, depths: &[HookDepth], utc_offset_min: i64, layout: &Layout) -> Strip {
    let deepest_m = depths.iter().filter_map(|depth| depth.depth_m).reduce(f64::max);
    let drawn_m = 0.5 * deepest_m.unwrap_or(100.0);
    let depth_at = |index: usize| depths.get(index).and_then(|depth| depth.depth_m);
    let mut strip = Strip { deepest_m, ..Strip::default() };
    for (basket, (from, to)) in set.baskets.iter().zip(&layout.spans) {
        basket_arcs(&mut strip, set, basket, (*from, *to), &depth_at, drawn_m);
    }
    let mut flagged: BTreeMap<i64, &str> = BTreeMap::new();
    for place in &set.places {
        if let Some(buoy) = &place.radio_buoy {
            flagged.insert(place.place, buoy);
        }
        if place.missing {
            strip.missing_floats.extend(layout.place_at(place.place));
        }
    }
    for buoy in &set.radio_buoys {
        if let Some(place) = buoy.place {
            flagged.entry(place).or_insert(&buoy.buoy);
        }
    }
    strip.flags = flagged
        .into_iter()
        .filter_map(|(place, label)| Some(Flag { at: layout.place_at(place)?, label: label.to_owned() }))
        .collect();
    let hooks: BTreeMap<(i64, i64), usize> =
        set.hooks.iter().enumerate().map(|(index, hook)| ((hook.basket, hook.position), index)).collect();
    for fish in &set.fish {
        let Some(number) = fish.basket else { continue };
        let Some((basket, span)) = set.baskets.iter().zip(&layout.spans).find(|(basket, _)| basket.basket == number)
        else {
            continue;
        };
        let depth = fish.position.and_then(|position| depth_at(*hooks.get(&(number, position))?));
        let at = fish.position.map_or(0.5, |position| share_in_basket(basket, position));
        strip.dots.push(Dot {
            at: span.0 + at * (span.1 - span.0),
            depth_m: depth.unwrap_or(drawn_m),
            kept: fish.fate == CatchFate::Retained,
            guessed: fish.position.is_none() || fish.uncertainty_hooks > 0.0,
        });
    }
    let times = clip_times(set, layout);
    strip.light = light_bars(set, &times);
    strip.hours = hour_ticks(&times, utc_offset_min);
    strip
}

/// Where each basket lies along the strip.
pub(crate) struct Layout {
    pub(crate) spans: Vec<(f64, f64)>,
    places: BTreeMap<i64, f64>,
}

impl Layout {
    /// Baskets one after the other; `more` clip intervals to their right stay free.
    pub(crate) fn of(baskets: &[Basket], more: f64) -> Self {
        let total: f64 = (baskets.iter().map(intervals).sum::<f64>() + more).max(1.0);
        let mut at = 0.0;
        let mut places = BTreeMap::new();
        let spans = baskets
            .iter()
            .map(|basket| {
                let from = at;
                at += intervals(basket) / total;
                places.entry(basket.basket).or_insert(from);
                places.insert(basket.basket + 1, at);
                (from, at)
            })
            .collect();
        Self { spans, places }
    }

    pub(crate) fn place_at(&self, place: i64) -> Option<f64> {
        self.places.get(&place).copied()
    }
}

#[expect(clippy::cast_precision_loss, reason = "hooks in a basket are few")]
pub(crate) fn intervals(basket: &Basket) -> f64 {
    basket.hooks.max(0) as f64 + if basket.float_takes_a_beat { 1.0 } else { 0.0 }
}

#[expect(clippy::cast_precision_loss, reason = "hooks in a basket are few")]
pub(crate) fn share_in_basket(basket: &Basket, position: i64) -> f64 {
    let lead = if basket.float_takes_a_beat { 0.0 } else { 0.5 };
    ((position as f64 - lead) / intervals(basket).max(1.0)).clamp(0.0, 1.0)
}

fn basket_arcs(
    strip: &mut Strip,
    set: &SetRecord,
    basket: &Basket,
    (from, to): (f64, f64),
    depth_at: &impl Fn(usize) -> Option<f64>,
    drawn_m: f64,
) {
    let count = usize::try_from(basket.hooks).unwrap_or(0);
    let width = to - from;
    let mut points = vec![(from, 0.0)];
    let mut fates: Vec<HookFate> = Vec::new();
    let mut depth_known = false;
    for (index, hook) in set.hooks.iter().enumerate().skip(basket.first_hook).take(count) {
        let share = share_in_basket(basket, hook.position);
        // A depth for drawing only: a parabola, where none is known.
        let drawn = drawn_m * (1.0 - 0.6 * (2.0 * share - 1.0).powi(2));
        let known = depth_at(index);
        depth_known |= known.is_some();
        if known.is_some() || hook.fate != HookFate::Missed || !depth_known {
            points.push((from + share * width, known.unwrap_or(drawn)));
            let carried = fates.last().copied().unwrap_or(HookFate::Missed);
            fates.push(if hook.fate == HookFate::Missed { carried } else { hook.fate });
        }
    }
    // Empty positions at the front take the fate of the first hook behind them.
    if let Some(first) = fates.iter().copied().find(|fate| *fate != HookFate::Missed) {
        fates.iter_mut().take_while(|fate| **fate == HookFate::Missed).for_each(|fate| *fate = first);
    }
    if basket.has_end_float {
        points.push((to, 0.0));
    }
    let hook_width = width / intervals(basket).max(1.0);
    let runs = joined_runs(&fates, hook_width, |hook, fate| {
        let marks = if fate == HookFate::Lost { &mut strip.crosses } else { &mut strip.questions };
        marks.extend(points.get(hook + 1));
    });
    let last_run = runs.len().saturating_sub(1);
    for (nth, (fate, first, last)) in runs.into_iter().enumerate() {
        // Points are shifted by one against the hooks: point 0 is the float.
        let begin = if nth == 0 { 0 } else { first + 1 };
        let end = if nth == last_run { points.len() } else { (last + 3).min(points.len()) };
        let Some(part) = points.get(begin..end) else { continue };
        if fate == HookFate::Hauled
            && let (Some((left, _)), Some((right, _))) = (part.first(), part.last())
        {
            match strip.hauled_bars.last_mut() {
                Some(bar) if *left - bar.1 < 1e-9 => bar.1 = *right,
                _ => strip.hauled_bars.push((*left, *right)),
            }
        }
        strip.arcs.push(Arc { basket: basket.basket, fate, points: part.to_vec(), depth_known });
    }
}

/// Runs `(fate, first, last)` of one fate; runs too thin to see join their neighbour, and their lost and unknown hooks are told to `mark`.
fn joined_runs(
    fates: &[HookFate],
    hook_width: f64,
    mut mark: impl FnMut(usize, HookFate),
) -> Vec<(HookFate, usize, usize)> {
    let mut runs: Vec<(HookFate, usize, usize)> = Vec::new();
    for (index, fate) in fates.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if run.0 == *fate => run.2 = index,
            _ => runs.push((*fate, index, index)),
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "hooks in a basket are few")]
    let thin = |run: &(HookFate, usize, usize)| (run.2 + 1 - run.1) as f64 * hook_width < THINNEST_RUN;
    while runs.len() > 1 {
        let Some(at) =
            (0..runs.len()).filter(|at| runs.get(*at).is_some_and(thin)).min_by_key(|at| runs[*at].2 - runs[*at].1)
        else {
            break;
        };
        let (fate, first, last) = runs.remove(at);
        if matches!(fate, HookFate::Lost | HookFate::Unknown) {
            (first..=last).filter(|hook| fates.get(*hook) == Some(&fate)).for_each(|hook| mark(hook, fate));
        }
        if at > 0 {
            runs[at - 1].2 = last;
        } else {
            runs[0].1 = first;
        }
        let mut merged: Vec<(HookFate, usize, usize)> = Vec::new();
        for run in runs {
            match merged.last_mut() {
                Some(before) if before.0 == run.0 => before.2 = run.2,
                _ => merged.push(run),
            }
        }
        runs = merged;
    }
    runs
}

/// `(share of the width, when, where)` of everything that was clipped, in order.
fn clip_times(set: &SetRecord, layout: &Layout) -> Vec<(f64, UtcInstant, Option<Position>)> {
    let mut times: Vec<(f64, UtcInstant, Option<Position>)> = Vec::new();
    for place in &set.places {
        if let (Some(at), Some(when)) = (layout.place_at(place.place), place.clipped_at) {
            times.push((at, when, place.position));
        }
    }
    for (basket, span) in set.baskets.iter().zip(&layout.spans) {
        let count = usize::try_from(basket.hooks).unwrap_or(0);
        for hook in set.hooks.iter().skip(basket.first_hook).take(count) {
            if let Some(when) = hook.clipped_at {
                times.push((span.0 + share_in_basket(basket, hook.position) * (span.1 - span.0), when, hook.place));
            }
        }
    }
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Time never runs back along the line: what would is a doubtful stamp and is passed over here.
    let mut latest: Option<UtcInstant> = None;
    times.retain(|(_, when, _)| {
        let onward = latest.is_none_or(|before| *when >= before);
        if onward {
            latest = Some(*when);
        }
        onward
    });
    times
}

fn light_bars(set: &SetRecord, times: &[(f64, UtcInstant, Option<Position>)]) -> Vec<LightBar> {
    let mut bars: Vec<LightBar> = Vec::new();
    for step in 0..LIGHT_STEPS {
        let (from, to) = (f64::from(step) / f64::from(LIGHT_STEPS), f64::from(step + 1) / f64::from(LIGHT_STEPS));
        let middle = f64::midpoint(from, to);
        let Some(after) = times.iter().position(|(at, ..)| *at >= middle) else { continue };
        let Some((before, next)) =
            after.checked_sub(1).and_then(|before| Some((times.get(before)?, times.get(after)?)))
        else {
            continue;
        };
        let share = if next.0 > before.0 { (middle - before.0) / (next.0 - before.0) } else { 0.0 };
        let when = before.1.plus_seconds(share * next.1.seconds_since(before.1));
        let Some(at) = before.2.or(next.2).or(set.start) else { continue };
        let Ok(altitude_deg) = sun::altitude_deg(at, when) else { continue };
        let light = if altitude_deg < sun::NAUTICAL_ALTITUDE_DEG {
            Light::Night
        } else if altitude_deg < sun::RISE_ALTITUDE_DEG {
            Light::Twilight
        } else {
            Light::Day
        };
        match bars.last_mut() {
            Some(bar) if bar.light == light && (bar.to - from).abs() < 1e-9 => bar.to = to,
            _ => bars.push(LightBar { from, to, light }),
        }
    }
    bars
}

fn hour_ticks(times: &[(f64, UtcInstant, Option<Position>)], utc_offset_min: i64) -> Vec<HourTick> {
    let (Some(first), Some(last)) = (times.first(), times.last()) else { return Vec::new() };
    #[expect(clippy::cast_precision_loss, reason = "an offset is less than a day")]
    let offset_s = utc_offset_min as f64 * 60.0;
    let past_hour_s = first.1.plus_seconds(offset_s).second_of_day_s().rem_euclid(3600.0);
    let mut when = first.1.plus_seconds(if past_hour_s > 0.0 { 3600.0 - past_hour_s } else { 0.0 });
    let mut ticks = Vec::new();
    let mut seen = BTreeSet::new();
    while when <= last.1 && ticks.len() < 72 {
        let after = times.iter().position(|(_, at, _)| *at >= when).unwrap_or(0);
        if let Some(next) = times.get(after) {
            let before = after.checked_sub(1).and_then(|before| times.get(before)).unwrap_or(next);
            let whole_s = next.1.seconds_since(before.1);
            let share = if whole_s > 0.0 { when.seconds_since(before.1) / whole_s } else { 0.0 };
            if seen.insert(when) {
                ticks.push(HourTick { at: before.0 + share * (next.0 - before.0), at_utc: when });
            }
        }
        when = when.plus_seconds(3600.0);
    }
    ticks
}
