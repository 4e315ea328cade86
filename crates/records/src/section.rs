//! Geometry of the section: one basket hanging in the water, depth downward, temperature by depth behind it.
//!
//! Plain numbers in metres for any painter. The basket drawn is the one whose deepest hook is the middle one of all
//! regular baskets; its shape is [`forecast::shape`]'s.

use forecast::HookDepth;
use serde::Serialize;
use voyage::{Basket, HookFate, SetRecord};

/// The section of a basket.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Section {
    /// The basket drawn.
    pub basket: i64,
    /// Distance between its floats, metres.
    pub span_m: f64,
    /// Lower edge of the picture, metres: a round depth below the deepest band.
    pub floor_m: f64,
    /// The main line: metres from the first float, depth in metres.
    pub main_line: Vec<(f64, f64)>,
    /// Whether a current was counted.
    pub in_current: bool,
    /// Its hooks.
    pub discs: Vec<Disc>,
    /// Water temperature by depth: (metres, °C), downward.
    pub profile: Vec<(f64, f64)>,
    /// Depths of whole degrees: (°C, metres).
    pub isotherms: Vec<(f64, f64)>,
    /// Depths for the axis, metres.
    pub depth_ticks_m: Vec<f64>,
}

/// A hook.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Disc {
    /// Its position in the basket.
    pub position: i64,
    /// Metres from the first float.
    pub along_m: f64,
    /// Depth of its clip on the main line, metres.
    pub clip_depth_m: f64,
    /// Depth of the hook, metres.
    pub depth_m: f64,
    /// Half-width of its band, metres.
    pub band_m: f64,
}

/// The section of a set's middle basket; none where no basket has all that its depth needs.
#[must_use]
pub fn section(set: &SetRecord, depths: &[HookDepth]) -> Option<Section> {
    let basket = typical(set, depths)?;
    let shape = forecast::shape(set, basket)?;
    let discs: Vec<Disc> = shape
        .clips
        .iter()
        .enumerate()
        .filter_map(|(place, (along_m, clip_depth_m))| {
            let index = basket.first_hook + place;
            let hook = set.hooks.get(index).filter(|hook| hook.fate != HookFate::Missed)?;
            let depth = depths.get(index)?;
            Some(Disc {
                position: hook.position,
                along_m: *along_m,
                clip_depth_m: *clip_depth_m,
                depth_m: depth.depth_m?,
                band_m: depth.band_m.unwrap_or(0.0),
            })
        })
        .collect();
    let lowest_m = discs.iter().map(|disc| disc.depth_m + disc.band_m).fold(0.0, f64::max);
    let step_m = tick_step_m(lowest_m);
    let floor_m = ((lowest_m * 1.04) / step_m).ceil() * step_m;
    let profile = clean_profile(&set.temperature_profile);
    Some(Section {
        basket: basket.basket,
        span_m: shape.span_m,
        floor_m,
        main_line: shape.main_line,
        in_current: shape.in_current,
        discs,
        isotherms: isotherms(&profile, floor_m),
        profile,
        depth_ticks_m: steps(floor_m, step_m),
    })
}

/// The basket whose deepest hook is the middle one of all regular baskets.
pub(crate) fn typical<'a>(set: &'a SetRecord, depths: &[HookDepth]) -> Option<&'a Basket> {
    let mut regular: Vec<(f64, &Basket)> = set
        .baskets
        .iter()
        .filter(|basket| basket.has_end_float && !basket.tangled && basket.empty_line_m <= 0.0)
        .filter_map(|basket| Some((deepest_m(basket, depths)?, basket)))
        .collect();
    regular.sort_by(|a, b| a.0.total_cmp(&b.0));
    regular.get(regular.len() / 2).map(|(_, basket)| *basket)
}

fn deepest_m(basket: &Basket, depths: &[HookDepth]) -> Option<f64> {
    let count = usize::try_from(basket.hooks).ok()?;
    depths.iter().skip(basket.first_hook).take(count).filter_map(|depth| depth.depth_m).reduce(f64::max)
}

pub(crate) fn tick_step_m(lowest_m: f64) -> f64 {
    [5.0, 10.0, 20.0, 50.0, 100.0].into_iter().find(|step| lowest_m / step <= 6.0).unwrap_or(200.0)
}

pub(crate) fn steps(floor_m: f64, step_m: f64) -> Vec<f64> {
    let mut ticks = Vec::new();
    let mut at_m = 0.0;
    while at_m <= floor_m + 1e-6 {
        ticks.push(at_m);
        at_m += step_m;
    }
    ticks
}

/// Downward, finite, one value a depth.
pub(crate) fn clean_profile(profile: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut clean: Vec<(f64, f64)> = profile
        .iter()
        .copied()
        .filter(|(depth_m, celsius)| depth_m.is_finite() && celsius.is_finite() && *depth_m >= 0.0)
        .collect();
    clean.sort_by(|a, b| a.0.total_cmp(&b.0));
    clean.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9);
    clean
}

/// The shallowest crossing of each even degree above `floor_m`, by proportion between the points of the profile.
pub(crate) fn isotherms(profile: &[(f64, f64)], floor_m: f64) -> Vec<(f64, f64)> {
    let mut lines = Vec::new();
    for half in -1..=18 {
        let celsius = f64::from(half) * 2.0;
        let crossing = profile.windows(2).find_map(|pair| {
            let [(upper_m, above), (lower_m, below)] = pair else { return None };
            let (low, high) = (above.min(*below), above.max(*below));
            if celsius < low || celsius > high {
                return None;
            }
            let whole = below - above;
            let share = if whole.abs() > 0.0 { (celsius - above) / whole } else { return None };
            Some(upper_m + share * (lower_m - upper_m))
        });
        if let Some(depth_m) = crossing.filter(|depth_m| *depth_m < floor_m) {
            lines.push((celsius, depth_m));
        }
    }
    lines.sort_by(|a, b| a.1.total_cmp(&b.1));
    lines
}
