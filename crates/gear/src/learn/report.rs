//! What a calibration answers: every recorder, every parameter, what was refused, and the boat's correction.

use serde::Serialize;

use super::carry::Correction;
use super::separate::Refusal;
use crate::recorder::{Cut, Doubt, HungOn};

/// A set learned from.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Calibration {
    /// The kind of gear.
    pub gear: String,
    /// Every file of a recorder, in order of its name.
    pub recorders: Vec<RecorderReport>,
    /// Every parameter; none when nothing could be learned.
    pub parameters: Vec<ParameterReport>,
    /// What could not be learned or told apart, why, and what would help.
    pub refusals: Vec<Refusal>,
    /// How the depths fit; null when nothing could be learned.
    pub fit: Option<FitReport>,
    /// The boat's correction for this gear after this set. Give it as `prior` with the next set.
    pub correction: Correction,
    /// What is not certain about the set as a whole.
    pub doubts: Vec<Doubt>,
}

/// One recorder's file.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RecorderReport {
    /// The file's name.
    pub file: String,
    /// The basket it hung in.
    pub basket: u32,
    /// The stretch of that basket, from 1; null when it is in none.
    pub stretch: Option<usize>,
    /// What it hung on.
    pub on: HungOn,
    /// Its hook position, if so given.
    pub hook_position: Option<u32>,
    /// Main line from the first float line, if so given.
    pub along_m: Option<f64>,
    /// Whether it was learned from.
    pub used: bool,
    /// Why not; null when it was.
    pub left_out_because: Option<String>,
    /// Readings in the file.
    pub readings: usize,
    /// The usual time from one to the next, seconds.
    pub interval_s: Option<f64>,
    /// Taken off as the level of the surface, at the first and at the last reading, metres.
    pub surface_offset_m: Option<[f64; 2]>,
    /// Its time in the water; null when it was never in it.
    pub cut: Option<Cut>,
    /// Median depth of its soak, metres.
    pub observed_m: Option<f64>,
    /// The model's depth with what was believed before, metres.
    pub modelled_before_m: Option<f64>,
    /// The model's depth with what was learned, metres.
    pub modelled_after_m: Option<f64>,
    /// Standard error of that, metres.
    pub modelled_after_error_m: Option<f64>,
    /// What is not certain about it.
    pub doubts: Vec<Doubt>,
}

/// One parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ParameterReport {
    /// `sag_bias` (to add to the sag ratio), `drag_to_weight_ln` and `shear_ln` (natural logarithms of what drag-to-weight
    /// ratio and current are multiplied by), `rotation_deg` (the current turned clockwise).
    pub name: String,
    /// The stretch, from 1, of a sag ratio; null for the others.
    pub stretch: Option<usize>,
    /// What was believed before.
    pub prior: f64,
    /// Its standard error.
    pub prior_error: f64,
    /// What was learned; null when it was refused.
    pub estimate: Option<f64>,
    /// Its standard error; null when it was refused.
    pub standard_error: Option<f64>,
    /// Standard error after ÷ before: 1 means that nothing was learned.
    pub posterior_to_prior: f64,
    /// The same if all other parameters were known.
    pub posterior_to_prior_alone: f64,
    /// Whether it was known from elsewhere (buoys, a measured current) and need not be found by recorders.
    pub measured: bool,
    /// Whether the recorders could not tell it from others.
    pub refused: bool,
}

/// How depths fit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FitReport {
    /// Windows of 15 minutes that were learned from.
    pub windows: usize,
    /// Root mean square of observed less modelled depth with what was believed before, metres.
    pub off_before_m: f64,
    /// The same with what was learned, metres.
    pub off_after_m: f64,
    /// Correlation of what a window is off with the next one; when above 0 windows were given less weight.
    pub persistence: f64,
    /// Rounds of the estimation.
    pub rounds: u32,
}
