//! What is wrong with numbers about the gear, in sentences for the bridge.

/// Why gear numbers cannot be used. Nothing is computed when one of these is returned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GearError {
    /// A number outside what the gear can be.
    #[error("{field} is {value}{unit}; it must be {rule}. Nothing was computed.")]
    OutOfRange {
        /// The field's name as in the input.
        field: &'static str,
        /// The value as it came.
        value: f64,
        /// Its unit, with the space before it, or nothing.
        unit: &'static str,
        /// What it must be, in words.
        rule: &'static str,
    },
    /// Two or more numbers that cannot all be true.
    #[error(
        "{field} {value}{unit} contradicts {others}: they give {field} {}{unit}. Correct one of them; nothing was computed.",
        short(*expected)
    )]
    Contradiction {
        /// The field's name as in the input.
        field: &'static str,
        /// The value as it came.
        value: f64,
        /// Its unit, with the space before it, or nothing.
        unit: &'static str,
        /// The other fields, with their values.
        others: String,
        /// What the others give for the field.
        expected: f64,
    },
    /// The ship outruns the line.
    #[error(
        "shooter_speed_m_s {shooter_speed_m_s:.4} m/s is slower than vessel_speed_through_water_kn {vessel_speed_through_water_kn:.4} kn \
         ({vessel_speed_m_s:.4} m/s): the line would be dragged tight. Correct one of them; nothing was computed."
    )]
    LineDraggedTight {
        /// Line speed from the shooter, given or following from what was given.
        shooter_speed_m_s: f64,
        /// The ship's speed through the water, knots.
        vessel_speed_through_water_kn: f64,
        /// The same in metres a second.
        vessel_speed_m_s: f64,
    },
    /// Two currents at one depth.
    #[error("the current is given twice at {depth_m} m. Take one of the two out; nothing was computed.")]
    TwoLevels {
        /// The depth, metres.
        depth_m: f64,
    },
    /// Something without which there is no mechanics.
    #[error("{field} is missing: {why} Nothing was computed.")]
    Missing {
        /// The field's name as in the input.
        field: &'static str,
        /// Why it is needed and what to do, a full sentence.
        why: &'static str,
    },
    /// Line and branch lines together are lighter than the water.
    #[error(
        "the line of a basket with its branch lines weighs {weight_n:.3} N in water: it would float up. \
         Check main_line.density_kg_m3 and branch.weight_in_water_n; nothing was computed."
    )]
    DoesNotSink {
        /// Weight in water of the basket without its floats, N.
        weight_n: f64,
    },
    /// No shape was found in which all forces balance.
    #[error(
        "no shape of the basket was found in which all forces balance: after {iterations} rounds its end was still {gap_m:.3} m off. \
         Check weights, drag areas and the current; nothing was computed."
    )]
    NotConverged {
        /// Rounds spent.
        iterations: u32,
        /// The gap that was left, metres.
        gap_m: f64,
    },
    /// A shape that straight pulled elements cannot take.
    #[error(
        "in this current the main line hangs slack {along_m:.0} m along the basket, and straight elements cannot show that. \
         Nothing was computed; check sag ratio and current, and use more elements_per_interval."
    )]
    HangsSlack {
        /// Unstretched main line from the first end to there, metres.
        along_m: f64,
    },
    /// A chain whose lists do not fit together.
    #[error(
        "a chain of {segments} segments (at least 2) needs one node more than segments, not {nodes}. Nothing was computed."
    )]
    ChainUneven {
        /// Segments given.
        segments: usize,
        /// Nodes given.
        nodes: usize,
    },
    /// Too little to compute anything from.
    #[error(
        "nothing can be computed from what was given; give at least two of vessel_speed_through_water_kn, shooter_speed_m_s, sag_ratio, beat_s and clip_spacing_m, or hooks_per_basket with baskets or hooks"
    )]
    TooLittle,
}

/// Refuses a number outside `low < value ≤ high`.
pub(crate) fn above_up_to(
    field: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
    rule: &'static str,
) -> Result<f64, GearError> {
    if value > low && value <= high { Ok(value) } else { Err(GearError::OutOfRange { field, value, unit, rule }) }
}

/// Refuses a number outside `low ≤ value ≤ high`.
pub(crate) fn from_up_to(
    field: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
    rule: &'static str,
) -> Result<f64, GearError> {
    if value >= low && value <= high { Ok(value) } else { Err(GearError::OutOfRange { field, value, unit, rule }) }
}

/// A number for a sentence: up to four places, without empty zeros.
pub(crate) fn short(value: f64) -> String {
    format!("{value:.4}").trim_end_matches('0').trim_end_matches('.').to_owned()
}
