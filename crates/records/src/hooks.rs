//! The hook table: every position of a set in setting order.

use forecast::HookDepth;
use quantity::UtcInstant;
use serde::Serialize;
use voyage::{Doubt, HookFate, SetRecord};

/// One position of the line. What is not known is null.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HookRow {
    /// Number over the set; null for an empty position.
    pub number: Option<i64>,
    /// Its basket.
    pub basket: i64,
    /// Its position in the basket, setting order, from 1.
    pub position: i64,
    /// When it was clipped.
    pub clipped_utc: Option<UtcInstant>,
    /// Latitude of the ship then, degrees north.
    pub latitude_deg: Option<f64>,
    /// Longitude of the ship then, degrees east, in [−180, 180).
    pub longitude_deg: Option<f64>,
    /// Main line from the first float, metres.
    pub along_line_m: Option<f64>,
    /// Computed depth, metres.
    pub depth_m: Option<f64>,
    /// Half-width of the depth's band, metres.
    pub depth_band_m: Option<f64>,
    /// When it came aboard.
    pub lifted_utc: Option<UtcInstant>,
    /// From clipping to lifting, seconds.
    pub soak_s: Option<f64>,
    /// What became of it.
    pub fate: HookFate,
    /// Ids of the fish it caught.
    pub fish: Vec<String>,
    /// What is not sure of it.
    pub doubts: Vec<Doubt>,
}

/// Every position of a set. `depths` is [`forecast::depths`] of the same set; positions beyond it have no depth.
#[must_use]
pub fn hook_rows(set: &SetRecord, depths: &[HookDepth]) -> Vec<HookRow> {
    set.hooks
        .iter()
        .enumerate()
        .map(|(index, hook)| {
            let depth = depths.get(index);
            let mut doubts = hook.doubts.clone();
            doubts.extend(depth.into_iter().flat_map(|depth| depth.doubts.iter().cloned()));
            HookRow {
                number: hook.number,
                basket: hook.basket,
                position: hook.position,
                clipped_utc: hook.clipped_at,
                latitude_deg: hook.place.map(quantity::Position::latitude_deg),
                longitude_deg: hook.place.map(quantity::Position::longitude_deg),
                along_line_m: hook.along_line_m,
                depth_m: depth.and_then(|depth| depth.depth_m),
                depth_band_m: depth.and_then(|depth| depth.band_m),
                lifted_utc: hook.lifted_at,
                soak_s: hook.lifted_at.zip(hook.clipped_at).map(|(up, down)| up.seconds_since(down)),
                fate: hook.fate,
                fish: hook.fish.clone(),
                doubts,
            }
        })
        .collect()
}

/// The word of a fate, as JSON and CSV write it.
#[must_use]
pub const fn fate_word(fate: HookFate) -> &'static str {
    match fate {
        HookFate::InWater => "in_water",
        HookFate::Hauled => "hauled",
        HookFate::Lost => "lost",
        HookFate::Unknown => "unknown",
        HookFate::Missed => "missed",
    }
}
