//! Learning from depth recorders: what a set's gear and current really were, and the boat's own correction.
//!
//! [`calibrate()`] does all of it for one set. [`fit()`] estimates a set's parameters from observed depths with priors; `separate` refuses what the places of the
//! recorders cannot tell apart; [`Correction`] carries what was learned from set to set; `model` is the gear itself.
//! Anything that answers depths for parameters can stand in for the gear: [`DepthModel`].

pub mod calibrate;
pub mod carry;
pub mod fit;
pub mod model;
pub mod parameters;
pub mod report;
pub mod separate;

pub use calibrate::{CalibrateError, LearningSet, RecorderFile, Stretch, calibrate};
pub use carry::Correction;
pub use fit::{DepthModel, Fit, LearnError, Observation, fit, sigma_m};
pub use model::{SetModel, Spot, StretchModel};
pub use parameters::{CurrentError, Parameters, Prior, SagFix, Which};
pub use report::{Calibration, FitReport, ParameterReport, RecorderReport};
pub use separate::{Placed, Refusal, Separated, separate};
