//! What is wrong with a plan, in sentences for the bridge.

use gear::GearError;
use quantity::PositionError;

/// Why nothing was planned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Numbers of the gear or the setting.
    #[error(transparent)]
    Gear(#[from] GearError),
    /// A number outside what a plan can have.
    #[error("{what} is {value}{unit}; it must be from {least} to {most}{unit}. Nothing was planned.")]
    OutOfRange {
        /// Which number.
        what: String,
        /// As it came.
        value: f64,
        /// Its unit, with the space before it, or nothing.
        unit: &'static str,
        /// The least that is taken.
        least: f64,
        /// The most that is taken.
        most: f64,
    },
    /// A count that is not whole.
    #[error("{what} is {value}; it must be a whole number. Nothing was planned.")]
    NotWhole {
        /// Which number.
        what: String,
        /// As it came.
        value: f64,
    },
    /// The start is no place.
    #[error("the start is no place: {why}. Correct it; nothing was planned.")]
    Start {
        /// What is wrong with it.
        why: PositionError,
    },
    /// A layer that ends above its beginning.
    #[error(
        "the wanted layer runs from {from_m} m down to {to_m} m; the second must be the deeper. Nothing was planned."
    )]
    LayerUpsideDown {
        /// From, metres.
        from_m: f64,
        /// To, metres.
        to_m: f64,
    },
    /// More legs than a set has.
    #[error("{legs} legs are too many; at most 60 are taken. Nothing was planned.")]
    TooManyLegs {
        /// How many came.
        legs: usize,
    },
    /// More hooks than a set has.
    #[error("{hooks} hooks are too many for one set; at most 50000 are taken. Nothing was planned.")]
    TooManyHooks {
        /// How many follow.
        hooks: u32,
    },
    /// A set that no ship sets.
    #[error(
        "the set would be {length_km:.0} km long; at most 2000 km are taken. Check hooks, beat and speed; nothing was planned."
    )]
    TooLong {
        /// Its length, km.
        length_km: f64,
    },
    /// The way runs into a pole.
    #[error("the way of leg {leg} cannot be reckoned: {why}. Nothing was planned.")]
    NoWay {
        /// Which leg.
        leg: u32,
        /// Why.
        why: quantity::geodesic::GeodesicError,
    },
}

/// Refuses a number outside `least ≤ value ≤ most`.
pub(super) fn within(what: &str, value: f64, (least, most): (f64, f64), unit: &'static str) -> Result<(), PlanError> {
    if value >= least && value <= most {
        return Ok(());
    }
    Err(PlanError::OutOfRange { what: what.to_owned(), value, unit, least, most })
}
