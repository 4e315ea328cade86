//! The strip for a screen: the same line as on paper, with what is still going on: the basket being hung, the baskets
//! still to come, and the way of the haul.
//!
//! Baskets to come hang as the ship would hang them if she went on as she does ([`forecast::to_come`]).

use forecast::{HookDepth, RestsOn, ToCome, hang};
use serde::Serialize;
use voyage::{Basket, HookFate, SetRecord, VoyageRecord};

use crate::strip::{Arc, Dot, Flag, HourTick, Layout, LightBar, intervals, laid_out, share_in_basket};

/// The strip of a set for a screen. Along it everything is a share of its width, 0 to 1; downward metres.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ScreenStrip {
    /// Deepest of all hooks in it, those to come included, m; null where no depth is known.
    pub deepest_m: Option<f64>,
    /// Down to where the picture should reach, m.
    pub draw_to_m: f64,
    /// The line, in pieces of one state.
    pub arcs: Vec<StripArc>,
    /// Floats, those to come included.
    pub floats: Vec<StripFloat>,
    /// Baskets that have been begun.
    pub baskets_set: i64,
    /// Baskets that are to follow the one being hung.
    pub baskets_to_come: i64,
    /// What their number rests on.
    pub rests_on: RestsOn,
    /// Where the line ends now, share of the width.
    pub line_ends_at: f64,
    /// The haul that goes on; null while none does.
    pub haul: Option<HaulArrow>,
    /// Bars above the surface over the hauled stretches: from, to.
    pub hauled_bars: Vec<[f64; 2]>,
    /// Radio buoys.
    pub flags: Vec<Flag>,
    /// Missing floats.
    pub missing_floats: Vec<f64>,
    /// Single hooks lost in a stretch that was hauled: share, m.
    pub crosses: Vec<[f64; 2]>,
    /// Single hooks of which nobody knows in a stretch that was hauled: share, m.
    pub questions: Vec<[f64; 2]>,
    /// Fish where they were hooked.
    pub dots: Vec<Dot>,
    /// Night, twilight and day; empty where times or places are not known.
    pub light: Vec<LightBar>,
    /// Whole hours of clipping in ship time.
    pub hours: Vec<HourTick>,
}

/// What a piece of the line is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum ArcState {
    /// Hangs and fishes.
    InWater,
    /// The basket that is being hung, as far as it is out.
    BeingSet,
    /// Not out yet.
    ToCome,
    /// Back aboard.
    Hauled,
    /// Not coming back.
    Lost,
    /// Nobody knows.
    Unknown,
}

/// A piece of one basket.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StripArc {
    /// Its basket.
    pub basket: i64,
    /// What it is doing.
    pub state: ArcState,
    /// The arc: share of the width, depth in metres.
    pub points: Vec<[f64; 2]>,
    /// False where the depth is not known and the arc hangs at a depth for drawing only.
    pub depth_known: bool,
}

/// A float.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StripFloat {
    /// Its place.
    pub place: i64,
    /// Share of the width.
    pub at: f64,
    /// What is painted on it; null where nobody said.
    pub tag: Option<String>,
    /// True when it is not out yet.
    pub to_come: bool,
}

/// Which way the line comes in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Towards {
    /// The first float: to the left.
    First,
    /// The last float: to the right.
    Last,
}

/// The haul that goes on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HaulArrow {
    /// Where the rail is, share of the width.
    pub at: f64,
    /// Towards which end.
    pub towards: Towards,
}

/// The strip of a set for a screen. `depths` is [`forecast::depths`] of the same set.
#[must_use]
pub fn screen_strip(voyage: &VoyageRecord, set: &SetRecord, depths: &[HookDepth], utc_offset_min: i64) -> ScreenStrip {
    let coming = forecast::to_come::to_come(voyage, set);
    let set = &begun(set);
    let to_come = baskets_to_come(set, coming);
    let more: f64 = to_come.iter().map(intervals).sum();
    let layout = Layout::of(&set.baskets, more);
    let paper = laid_out(set, depths, utc_offset_min, &layout);
    let being_set = set.outgoing.being_set.as_ref().map(|being| being.basket);
    let mut arcs: Vec<StripArc> = paper.arcs.iter().map(|arc| arc_of(arc, being_set)).collect();
    let drawn_m = 0.5 * paper.deepest_m.unwrap_or(100.0);
    arcs.retain(|arc| arc.points.len() > 1);
    arcs.extend(rest_of_the_basket(set, &layout, &arcs, drawn_m));
    let line_ends_at = line_ends_at(set, &layout, &arcs);
    let mut floats: Vec<StripFloat> = Vec::new();
    for place in &set.places {
        if let Some(at) = layout.place_at(place.place) {
            floats.push(StripFloat { place: place.place, at: share(at), tag: place.tag.clone(), to_come: false });
        }
    }
    let mut at = layout.spans.last().map_or(0.0, |span| span.1);
    let width = if more > 0.0 { (1.0 - at) / more } else { 0.0 };
    if being_set.is_some() {
        floats.extend(coming_float(set, set.baskets.last(), at));
    }
    let mut hung = None;
    for basket in &to_come {
        let span = (at, at + width * intervals(basket));
        arcs.push(arc_to_come(set, basket, span, &mut hung, drawn_m));
        at = span.1;
        floats.extend(coming_float(set, Some(basket), at));
    }
    let deepest_m =
        arcs.iter().filter(|arc| arc.depth_known).flat_map(|arc| &arc.points).map(|point| point[1]).reduce(f64::max);
    let pairs = |points: &[(f64, f64)]| points.iter().map(|(at, depth_m)| [share(*at), metres(*depth_m)]).collect();
    ScreenStrip {
        deepest_m,
        draw_to_m: metres(deepest_m.unwrap_or(2.0 * drawn_m) * 1.05),
        baskets_set: i64::try_from(set.baskets.len()).unwrap_or(i64::MAX),
        baskets_to_come: coming.baskets,
        rests_on: coming.rests_on,
        line_ends_at: share(line_ends_at),
        haul: haul_arrow(set, &layout),
        hauled_bars: paper.hauled_bars.iter().map(|(from, to)| [share(*from), share(*to)]).collect(),
        crosses: pairs(&paper.crosses),
        questions: pairs(&paper.questions),
        flags: paper.flags,
        missing_floats: paper.missing_floats.iter().map(|at| share(*at)).collect(),
        dots: paper.dots,
        light: paper.light,
        hours: paper.hours,
        arcs,
        floats,
    }
}

/// The set with the basket that is being hung as wide as it will be.
fn begun(set: &SetRecord) -> SetRecord {
    let mut set = set.clone();
    let Some(being) = set.outgoing.being_set.clone() else { return set };
    if set.baskets.last().is_none_or(|last| last.basket < being.basket) {
        // Its float is out and no hook yet.
        let coming = forecast::to_come::basket_to_come(&set, being.basket);
        set.baskets.push(Basket { has_end_float: false, ..coming });
    }
    if let Some(last) = set.baskets.last_mut() {
        last.hooks = being.hooks.max(last.hooks);
    }
    set
}

fn baskets_to_come(set: &SetRecord, coming: ToCome) -> Vec<Basket> {
    let after = set.outgoing.being_set.as_ref().map_or(0, |being| being.basket);
    (1..=coming.baskets)
        .map(|nth| {
            let mut basket = forecast::to_come::basket_to_come(set, after + nth);
            if nth == coming.baskets {
                basket.hooks = coming.hooks_in_last.unwrap_or(basket.hooks);
            }
            basket
        })
        .collect()
}

fn arc_of(arc: &Arc, being_set: Option<i64>) -> StripArc {
    let state = match arc.fate {
        HookFate::InWater | HookFate::Missed if being_set == Some(arc.basket) => ArcState::BeingSet,
        HookFate::InWater | HookFate::Missed => ArcState::InWater,
        HookFate::Hauled => ArcState::Hauled,
        HookFate::Lost => ArcState::Lost,
        HookFate::Unknown => ArcState::Unknown,
    };
    let points = arc.points.iter().map(|(at, depth_m)| [share(*at), metres(*depth_m)]).collect();
    StripArc { basket: arc.basket, state, points, depth_known: arc.depth_known }
}

/// From the hook clipped last to the end of the basket that is being hung.
fn rest_of_the_basket(set: &SetRecord, layout: &Layout, arcs: &[StripArc], drawn_m: f64) -> Option<StripArc> {
    let being = set.outgoing.being_set.as_ref()?;
    let (basket, span) = set.baskets.iter().zip(&layout.spans).next_back()?;
    let whole = Basket { has_end_float: true, main_line_m: None, ..basket.clone() };
    let mut rest = arc_to_come(set, &whole, *span, &mut None, drawn_m);
    let out = usize::try_from(being.hooks_out).unwrap_or(0);
    rest.points.drain(..out.min(rest.points.len().saturating_sub(1)));
    if out > 0
        && let Some(last) = arcs.iter().rfind(|arc| arc.basket == basket.basket).and_then(|arc| arc.points.last())
        && let Some(first) = rest.points.first_mut()
    {
        *first = *last;
    }
    Some(rest)
}

/// The arc of a basket that is not out; a basket like the one before is not hung again.
fn arc_to_come(
    set: &SetRecord,
    basket: &Basket,
    (from, to): (f64, f64),
    before: &mut Option<(Basket, Vec<Option<f64>>)>,
    drawn_m: f64,
) -> StripArc {
    let like = |other: &Basket| Basket { basket: basket.basket, ..other.clone() } == *basket;
    let depths = match before {
        Some((other, depths)) if like(other) => depths.clone(),
        _ => {
            let hung = hang(set, basket);
            let depths: Vec<Option<f64>> = (1..=basket.hooks).map(|hook| hung.hook(hook, None).depth_m).collect();
            *before = Some((basket.clone(), depths.clone()));
            depths
        }
    };
    let depth_known = depths.iter().all(Option::is_some) && !depths.is_empty();
    let mut points = vec![[share(from), 0.0]];
    for (position, depth_m) in (1..).zip(&depths) {
        let along = share_in_basket(basket, position);
        let drawn = drawn_m * (1.0 - 0.6 * (2.0 * along - 1.0).powi(2));
        points.push([share(from + along * (to - from)), metres(depth_m.unwrap_or(drawn))]);
    }
    points.push([share(to), 0.0]);
    StripArc { basket: basket.basket, state: ArcState::ToCome, points, depth_known }
}

fn coming_float(set: &SetRecord, after: Option<&Basket>, at: f64) -> Option<StripFloat> {
    let place = after?.basket + 1;
    let known = set.places.iter().any(|other| other.place == place);
    (!known).then(|| StripFloat { place, at: share(at), tag: None, to_come: true })
}

fn line_ends_at(set: &SetRecord, layout: &Layout, arcs: &[StripArc]) -> f64 {
    let end = layout.spans.last().map_or(0.0, |span| span.1);
    let Some(being) = &set.outgoing.being_set else { return end };
    let out = arcs.iter().rfind(|arc| arc.basket == being.basket && arc.state != ArcState::ToCome);
    let begins = layout.spans.last().map_or(0.0, |span| span.0);
    out.and_then(|arc| arc.points.last()).map_or(begins, |point| point[0])
}

fn haul_arrow(set: &SetRecord, layout: &Layout) -> Option<HaulArrow> {
    let part = set.parts.last().filter(|part| part.ended_at.is_none())?;
    let towards = match part.direction.as_deref() {
        Some("to_first") => Towards::First,
        Some("to_last") => Towards::Last,
        _ => return None,
    };
    let up = set.places.iter().filter(|place| place.hauled_at.is_some_and(|at| at >= part.started_at));
    let last = up.max_by_key(|place| place.hauled_at).map(|place| place.place).or(part.from_place);
    let end = match towards {
        Towards::First => layout.spans.last().map(|span| span.1),
        Towards::Last => layout.spans.first().map(|span| span.0),
    };
    let at = last.and_then(|place| layout.place_at(place)).or(end)?;
    Some(HaulArrow { at: share(at), towards })
}

/// A share with as many places as a wide screen can show.
pub(crate) fn share(at: f64) -> f64 {
    (at * 1e6).round() / 1e6
}

/// A depth to the decimetre.
pub(crate) fn metres(depth_m: f64) -> f64 {
    (depth_m * 10.0).round() / 10.0
}
