//! The boat's own correction, carried from set to set for one kind of gear: a random walk, updated by every set.
//!
//! State: logarithm of the drag-to-weight ratio's multiplier, and the bias common to all stretches' sag ratios. Between
//! two sets both walk a step (Kalman 1960, "A new approach to linear filtering and prediction problems", J. Basic Eng.
//! 82, 35–45). A set's own unknowns (its current, what is particular to a stretch) are shared out by their covariance:
//! x' = x + G(m − m₀), P' = P + G(C − C₀)Gᵀ with G = cov(x, θ) C₀⁻¹ (exact for linear Gaussian models). The steps and
//! the first widths are judgements.

use nalgebra::{Matrix2, Vector2};
use serde::{Deserialize, Serialize};

use super::fit::{Fit, LearnError};
use super::parameters::Prior;

/// What a boat learned of one kind of gear.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Correction {
    /// The kind of gear that it was learned with.
    pub gear: String,
    /// Sets that it rests on.
    pub sets: u32,
    /// Natural logarithm of what the drag-to-weight ratio is multiplied by.
    pub drag_to_weight_ln: f64,
    /// Its standard error.
    pub drag_to_weight_ln_error: f64,
    /// Sets that could tell the drag-to-weight ratio from everything else.
    pub drag_to_weight_sets: u32,
    /// What is added to sag ratios as they were set.
    pub sag_bias: f64,
    /// Its standard error.
    pub sag_bias_error: f64,
    /// Sets that could tell the sag ratio from everything else.
    pub sag_bias_sets: u32,
    /// Covariance of the two.
    pub covariance: f64,
}

impl Correction {
    /// Standard deviation of one stretch's sag ratio about the boat's own bias; with the first width of the bias it makes
    /// the prior of 0.02.
    pub const STRETCH_SPREAD: f64 = 0.012;
    const FIRST_SAG: f64 = 0.016;
    const FIRST_RATIO_LN: f64 = 0.25;
    /// Standard deviation of a step from set to set.
    const SAG_STEP: f64 = 0.005;
    const RATIO_STEP_LN: f64 = 0.05;

    /// Of a boat that has learned nothing yet.
    #[must_use]
    pub fn fresh(gear: &str) -> Self {
        Self {
            gear: gear.to_owned(),
            sets: 0,
            drag_to_weight_ln: 0.0,
            drag_to_weight_ln_error: Self::FIRST_RATIO_LN,
            drag_to_weight_sets: 0,
            sag_bias: 0.0,
            sag_bias_error: Self::FIRST_SAG,
            sag_bias_sets: 0,
            covariance: 0.0,
        }
    }

    /// Refuses a correction that no set can have left.
    ///
    /// # Errors
    /// [`LearnError::Correction`] with what is wrong.
    pub fn check(&self) -> Result<(), LearnError> {
        let [ratio, both, sag] = self.variances();
        let finite = self.drag_to_weight_ln.abs() < 5.0 && self.sag_bias.abs() < 1.0 && ratio < 25.0 && sag < 1.0;
        if finite && self.drag_to_weight_ln_error > 0.0 && self.sag_bias_error > 0.0 && both * both < ratio * sag {
            Ok(())
        } else {
            Err(LearnError::Correction { gear: self.gear.clone() })
        }
    }

    /// One step on: before the next set is learned from. A fresh one stays as it is.
    #[must_use]
    pub fn stepped(&self) -> Self {
        let mut next = self.clone();
        if self.sets > 0 {
            // Never wider than a boat that has learned nothing.
            next.drag_to_weight_ln_error =
                self.drag_to_weight_ln_error.hypot(Self::RATIO_STEP_LN).min(Self::FIRST_RATIO_LN);
            next.sag_bias_error = self.sag_bias_error.hypot(Self::SAG_STEP).min(Self::FIRST_SAG);
            let most = 0.999 * next.drag_to_weight_ln_error * next.sag_bias_error;
            next.covariance = self.covariance.clamp(-most, most);
        }
        next
    }

    /// With what a set taught. `self` is the correction that the set's prior was made from.
    ///
    /// # Errors
    /// [`LearnError::Prior`] when the prior's covariance has no inverse.
    pub fn after_set(&self, prior: &Prior, fit: &Fit, told_apart: [bool; 2]) -> Result<Self, LearnError> {
        let inverse = prior.covariance.clone().cholesky().ok_or(LearnError::Prior)?.inverse();
        let gain = &prior.with_boat * inverse;
        let moved = &gain * (&fit.estimate - &prior.mean);
        let less = &gain * (&fit.covariance - &prior.covariance) * gain.transpose();
        let [ratio, both, sag] = self.variances();
        let state = Vector2::new(self.drag_to_weight_ln + moved[0], self.sag_bias + moved[1]);
        let spread = Matrix2::new(ratio + less[(0, 0)], both + less[(0, 1)], both + less[(1, 0)], sag + less[(1, 1)]);
        let [ratio_told, sag_told] = told_apart;
        Ok(Self {
            gear: self.gear.clone(),
            sets: self.sets.saturating_add(1),
            drag_to_weight_ln: state[0],
            drag_to_weight_ln_error: spread[(0, 0)].max(1e-12).sqrt(),
            drag_to_weight_sets: self.drag_to_weight_sets.saturating_add(u32::from(ratio_told)),
            sag_bias: state[1],
            sag_bias_error: spread[(1, 1)].max(1e-12).sqrt(),
            sag_bias_sets: self.sag_bias_sets.saturating_add(u32::from(sag_told)),
            covariance: f64::midpoint(spread[(0, 1)], spread[(1, 0)]),
        })
    }

    /// Variance of the ratio, covariance, variance of the bias.
    pub(crate) fn variances(&self) -> [f64; 3] {
        [self.drag_to_weight_ln_error.powi(2), self.covariance, self.sag_bias_error.powi(2)]
    }
}
