//! What is not certain about depths in the water, in sentences for the bridge.

use serde::Serialize;

use crate::hang::{EndsHeld, HangOptions, Hung, Rig};
use crate::parts::Water;

/// Something that is not certain.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GearDoubt {
    /// What kind of doubt.
    pub kind: GearDoubtKind,
    /// The doubt in a sentence.
    pub text: String,
}

/// Kinds of doubt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum GearDoubtKind {
    /// A number that was not given was taken from common practice.
    Assumed,
    /// No current was given: the depths are for still water.
    NoCurrent,
    /// The current profile does not reach as deep or as high as the gear: its last value was held.
    ProfileHeld,
    /// The float cannot carry its basket: it goes under, and the hooks hang deeper than told.
    FloatTooSmall,
    /// More and shorter elements were used than asked for.
    FinerElements,
    /// No band: a basket changed by the stated errors has no balanced shape.
    BandUnknown,
    /// How sure settling times are.
    SettlingTimes,
    /// A hook that did not settle within the time followed.
    NotSettled,
    /// A hook that was lifted before it had settled.
    LiftedEarly,
    /// A field of the input that is not known; it was passed over.
    UnknownField,
}

impl GearDoubt {
    /// A doubt of a kind, in a sentence.
    #[must_use]
    pub fn new(kind: GearDoubtKind, text: String) -> Self {
        Self { kind, text }
    }
}

/// What is not certain about a basket that hangs in a current.
#[must_use]
pub fn about(hung: &Hung, rig: &Rig, water: &Water, options: &HangOptions) -> Vec<GearDoubt> {
    let mut doubts = Vec::new();
    let mut doubt = |kind, text: String| doubts.push(GearDoubt::new(kind, text));
    let deepest_m = hung.hooks.iter().map(|hook| hook.depth_m).fold(0.0, f64::max);
    let depths = water.current.iter().map(|level| level.depth_m);
    let highest_m = depths.clone().fold(f64::INFINITY, f64::min);
    let lowest_m = depths.fold(f64::NEG_INFINITY, f64::max);
    if water.current.is_empty() {
        doubt(
            GearDoubtKind::NoCurrent,
            "No current was given: the depths are for still water, the band allows for a current that was left out."
                .to_owned(),
        );
    } else if lowest_m < deepest_m {
        doubt(
            GearDoubtKind::ProfileHeld,
            format!(
                "The current profile ends at {lowest_m:.0} m, the gear hangs down to {deepest_m:.0} m: the current at {lowest_m:.0} m was held below it."
            ),
        );
    }
    if highest_m.is_finite() && highest_m > 1.0 {
        doubt(
            GearDoubtKind::ProfileHeld,
            format!(
                "The current profile begins at {highest_m:.0} m: the current there was held up to the surface, where float and float line are."
            ),
        );
    }
    if let Some(carries_n) = rig.float.and_then(|float| float.net_buoyancy_n)
        && hung.float_load_n > carries_n
    {
        let held = match options.ends {
            EndsHeld::Fixed => "The depths are for ends that are held where they are",
            EndsHeld::Drifting => "The depths are told as if it stayed at the surface",
        };
        doubt(
            GearDoubtKind::FloatTooSmall,
            format!(
                "A float has {:.1} N to carry and can carry {carries_n:.1} N: it goes under. {held}; hooks will hang deeper until something else carries the line.",
                hung.float_load_n
            ),
        );
    }
    if hung.elements_per_interval > options.elements_per_interval {
        doubt(
            GearDoubtKind::FinerElements,
            format!(
                "{} elements for each clip interval have no balanced shape in this current; {} were used.",
                options.elements_per_interval, hung.elements_per_interval
            ),
        );
    }
    if hung.hooks.iter().any(|hook| hook.band_m.is_none()) {
        doubt(
            GearDoubtKind::BandUnknown,
            "No band could be told: with its input changed by the stated errors the basket has no balanced shape."
                .to_owned(),
        );
    }
    doubts
}
