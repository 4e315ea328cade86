//! The section for a screen: any basket of a set hanging in its water, the one being hung and those to come included.
//!
//! Depths and shapes are [`forecast`]'s; a hook counts as in the wanted layer by its computed depth, and surely so when
//! its whole band lies in it.

use forecast::{HookDepth, hang};
use serde::Serialize;
use voyage::{Basket, Doubt, HookFate, SetRecord};

use crate::section::{clean_profile, isotherms, steps, tick_step_m, typical};

/// One basket in section; depth downward from the surface.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ScreenSection {
    /// The basket.
    pub basket: i64,
    /// What it is doing.
    pub state: BasketState,
    /// The float that it begins with, as painted; null where nobody said.
    pub from_tag: Option<String>,
    /// The float that it ends with, as painted; null where nobody said or it is not out.
    pub to_tag: Option<String>,
    /// Distance between its floats, m; null where its shape is not known.
    pub span_m: Option<f64>,
    /// Down to where the picture should reach, m: a round depth below the deepest band and the wanted layer.
    pub draw_to_m: f64,
    /// The main line: metres from the first float along the course, depth in metres; empty where it is not known.
    pub main_line: Vec<[f64; 2]>,
    /// Whether a current was counted.
    pub in_current: bool,
    /// Every hook position.
    pub hooks: Vec<SectionHook>,
    /// Depths between which the hooks are wanted, m: upper, lower; null where nobody said.
    pub wanted_layer_m: Option<[f64; 2]>,
    /// Hooks with a computed depth in the wanted layer; null without a layer or a depth.
    pub hooks_in_layer: Option<usize>,
    /// Of these, with their whole band in it.
    pub hooks_surely_in_layer: Option<usize>,
    /// Hooks that it has, empty positions not counted.
    pub hooks_counted: usize,
    /// Water temperature by depth, downward.
    pub levels: Vec<SectionLevel>,
    /// Depths of even degrees.
    pub isotherms: Vec<SectionLevel>,
    /// Depths for the axis, m.
    pub depth_ticks_m: Vec<f64>,
    /// Float line, m.
    pub float_line_m: Option<f64>,
    /// Branch line, m.
    pub branch_line_m: Option<f64>,
    /// Float span ÷ main line.
    pub sag_ratio: Option<f64>,
    /// What that rests on: `measured` or `plan`.
    pub sag_basis: Option<String>,
    /// What is not sure of its depths.
    pub doubts: Vec<Doubt>,
}

/// What a basket is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum BasketState {
    /// Being hung.
    BeingSet,
    /// Not out yet.
    ToCome,
    /// All of it is out, or was.
    Set,
}

/// What a hook is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum HookState {
    /// Clipped and in the water.
    Clipped,
    /// The one that is clipped next.
    Next,
    /// Not out yet.
    Coming,
    /// An empty position.
    Missed,
    /// Back aboard.
    Hauled,
    /// Not coming back.
    Lost,
    /// Nobody knows.
    Unknown,
}

/// A hook position in section.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SectionHook {
    /// Its position, setting order.
    pub position: i64,
    /// What it is doing.
    pub state: HookState,
    /// Metres from the first float; null where the shape is not known.
    pub along_m: Option<f64>,
    /// Depth of its clip on the main line, m.
    pub clip_depth_m: Option<f64>,
    /// Computed depth of the hook, m.
    pub depth_m: Option<f64>,
    /// Half-width of its band, m.
    pub band_m: Option<f64>,
    /// Whether its computed depth lies in the wanted layer; null without a layer or a depth.
    pub in_layer: Option<bool>,
}

/// Temperature at a depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SectionLevel {
    /// Below the surface, m.
    pub depth_m: f64,
    /// °C.
    pub temperature_c: f64,
}

/// The section of a basket: of `wanted`, else of the one being hung, else of the set's typical one. `coming` baskets
/// follow the one being hung. None when there is no such basket. `depths` is [`forecast::depths`] of the same set.
#[must_use]
pub fn screen_section(
    set: &SetRecord,
    depths: &[HookDepth],
    wanted: Option<i64>,
    coming: i64,
) -> Option<ScreenSection> {
    let being = set.outgoing.being_set.as_ref();
    let number = wanted
        .or(being.map(|being| being.basket))
        .or_else(|| typical(set, depths).map(|basket| basket.basket))
        .or_else(|| set.baskets.first().map(|basket| basket.basket))
        .or((coming > 0).then_some(1))?;
    let stands = set.baskets.iter().find(|basket| basket.basket == number);
    let begun = being.map_or(0, |being| being.basket);
    let state = match stands {
        _ if being.is_some() && begun == number => BasketState::BeingSet,
        Some(_) => BasketState::Set,
        None if number > begun && number - begun <= coming => BasketState::ToCome,
        None => return None,
    };
    let basket = match stands {
        Some(basket) => forecast::to_come::as_when_full(set, basket).into_owned(),
        None => forecast::to_come::basket_to_come(set, number),
    };
    Some(drawn(set, depths, &basket, state))
}

fn drawn(set: &SetRecord, depths: &[HookDepth], basket: &Basket, state: BasketState) -> ScreenSection {
    let hung = hang(set, basket);
    let shape = hung.shape();
    let layer = set.outgoing.wanted_layer_m;
    let out = match (state, &set.outgoing.being_set) {
        (BasketState::BeingSet, Some(being)) => being.hooks_out,
        (BasketState::ToCome, _) => 0,
        _ => basket.hooks,
    };
    let hooks: Vec<SectionHook> = (1..=basket.hooks)
        .map(|position| {
            let index = usize::try_from(position - 1).unwrap_or(0);
            let clip = shape.as_ref().and_then(|shape| shape.clips.get(index)).copied();
            let at = basket.first_hook + index;
            let clipped = (position <= out).then(|| set.hooks.get(at).zip(depths.get(at))).flatten();
            let state = match (clipped.map(|(hook, _)| hook.fate), state) {
                (Some(HookFate::InWater), _) => HookState::Clipped,
                (Some(HookFate::Missed), _) => HookState::Missed,
                (Some(HookFate::Hauled), _) => HookState::Hauled,
                (Some(HookFate::Lost), _) => HookState::Lost,
                (Some(HookFate::Unknown), _) => HookState::Unknown,
                (None, BasketState::BeingSet) if position == out + 1 => HookState::Next,
                (None, _) => HookState::Coming,
            };
            let depth = match clipped {
                _ if state == HookState::Missed => HookDepth::default(),
                Some((_, depth)) => depth.clone(),
                None => hung.hook(position, None),
            };
            SectionHook {
                position,
                state,
                along_m: clip.map(|clip| clip.0),
                clip_depth_m: clip.map(|clip| clip.1),
                depth_m: depth.depth_m,
                band_m: depth.band_m,
                in_layer: layer.zip(depth.depth_m).map(|((upper_m, lower_m), m)| (upper_m..=lower_m).contains(&m)),
            }
        })
        .collect();
    let lowest = |hook: &SectionHook| hook.depth_m.map(|depth_m| depth_m + hook.band_m.unwrap_or(0.0));
    let lowest_m = hooks.iter().filter_map(lowest).chain(layer.map(|(_, lower_m)| lower_m)).fold(20.0, f64::max);
    let step_m = tick_step_m(lowest_m);
    let draw_to_m = ((lowest_m * 1.04) / step_m).ceil() * step_m;
    let profile = clean_profile(&set.temperature_profile);
    let tag = |place: i64| {
        let place = set.places.iter().find(|at| at.place == place)?;
        place.radio_buoy.clone().or_else(|| place.tag.clone())
    };
    let surely = |hook: &&SectionHook| match (layer, hook.depth_m, hook.band_m) {
        (Some((upper_m, lower_m)), Some(depth_m), Some(band_m)) => {
            depth_m - band_m >= upper_m && depth_m + band_m <= lower_m
        }
        _ => false,
    };
    let counted = |hooks: usize| (layer.is_some() && shape.is_some()).then_some(hooks);
    let levels = |pairs: Vec<(f64, f64)>| -> Vec<SectionLevel> {
        pairs.into_iter().map(|(depth_m, temperature_c)| SectionLevel { depth_m, temperature_c }).collect()
    };
    let even_degrees = isotherms(&profile, draw_to_m).into_iter().map(|(celsius, depth_m)| (depth_m, celsius));
    ScreenSection {
        basket: basket.basket,
        state,
        from_tag: tag(basket.basket),
        to_tag: tag(basket.basket + 1),
        span_m: shape.as_ref().map(|shape| shape.span_m),
        draw_to_m,
        main_line: shape.as_ref().map_or_else(Vec::new, |shape| {
            shape.main_line.iter().map(|(along_m, depth_m)| [*along_m, *depth_m]).collect()
        }),
        in_current: shape.as_ref().is_some_and(|shape| shape.in_current),
        wanted_layer_m: layer.map(|(upper_m, lower_m)| [upper_m, lower_m]),
        hooks_in_layer: counted(hooks.iter().filter(|hook| hook.in_layer == Some(true)).count()),
        hooks_surely_in_layer: counted(hooks.iter().filter(surely).count()),
        hooks_counted: hooks.iter().filter(|hook| hook.state != HookState::Missed).count(),
        hooks,
        isotherms: levels(even_degrees.collect()),
        levels: levels(profile),
        depth_ticks_m: steps(draw_to_m, step_m),
        float_line_m: basket.float_line_m,
        branch_line_m: basket.branch_line_m,
        sag_ratio: basket.sag_ratio,
        sag_basis: basket.sag_basis.map(ToOwned::to_owned),
        doubts: hung.doubts,
    }
}
