//! What is not certain about depths in the water, in sentences for the bridge.

use serde::Serialize;

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
