//! What is learned from a set, and what is believed of it before: names, units and priors.
//!
//! The widths of the priors are judgements, not measurements: sag ratio 0.02, drag-to-weight ratio 0.25 in its natural
//! logarithm, strength of the current 0.5 in its logarithm, its direction 30°.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::carry::Correction;

/// What the depths of a set depend on beyond the gear as it was written down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Parameters {
    /// To add to the sag ratio of each stretch.
    pub sag_bias: Vec<f64>,
    /// Natural logarithm of what the drag-to-weight ratio is to be multiplied by. Weight and drag each on their own
    /// cannot be seen in a depth.
    pub drag_to_weight_ln: f64,
    /// Natural logarithm of what the current is to be multiplied by. For gear that drifts, only its shear matters.
    pub shear_ln: f64,
    /// The current turned clockwise, degrees.
    pub rotation_deg: f64,
}

/// One parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Which {
    /// Bias of a stretch's sag ratio; stretches count from 0 here.
    SagBias(usize),
    /// Drag-to-weight ratio, logarithm.
    DragToWeight,
    /// Strength of the current, logarithm.
    Shear,
    /// Turn of the current, degrees.
    Rotation,
}

/// How well the current is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CurrentError {
    /// Standard error of the logarithm of its strength; 0.5 when left out (a forecast), some 0.1 for a measured current.
    pub shear_ln: f64,
    /// Standard error of its direction, degrees; 30 when left out.
    pub rotation_deg: f64,
}

impl Default for CurrentError {
    fn default() -> Self {
        Self { shear_ln: 0.5, rotation_deg: 30.0 }
    }
}

/// A sag ratio measured by the positions of radio buoys.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SagFix {
    /// What is to be added to the stated sag ratio to get the measured one.
    pub bias: f64,
    /// Its standard error.
    pub error: f64,
}

/// What is believed before the recorders are read: mean and covariance of the parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// The parameters, in order.
    pub which: Vec<Which>,
    /// Their means.
    pub mean: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// Covariance of (drag-to-weight ratio, sag bias) of the boat with the parameters.
    pub(crate) with_boat: DMatrix<f64>,
    /// Which parameters were measured by other means than recorders: they need not be told apart by these.
    pub(crate) measured: Vec<bool>,
}

impl Prior {
    /// The prior of a set: the boat's correction so far, and what is particular to this set.
    ///
    /// `fixes` has one place for every stretch. In still water only the sag ratio is asked for: `current` is none.
    #[must_use]
    pub fn of_set(boat: &Correction, fixes: &[Option<SagFix>], current: Option<CurrentError>) -> Self {
        let mut which: Vec<Which> = (0..fixes.len()).map(Which::SagBias).collect();
        if current.is_some() {
            which.extend([Which::DragToWeight, Which::Shear, Which::Rotation]);
        }
        let size = which.len();
        let (mut mean, mut covariance) = (DVector::zeros(size), DMatrix::zeros(size, size));
        let mut with_boat = DMatrix::zeros(2, size);
        let [ratio_variance, covariance_both, sag_variance] = boat.variances();
        for (index, one) in which.iter().enumerate() {
            match one {
                Which::SagBias(stretch) => match fixes[*stretch] {
                    // A measured sag ratio takes the place of what the boat is known to do.
                    Some(fix) => {
                        mean[index] = fix.bias;
                        covariance[(index, index)] = fix.error.powi(2);
                    }
                    None => {
                        mean[index] = boat.sag_bias;
                        with_boat[(0, index)] = covariance_both;
                        with_boat[(1, index)] = sag_variance;
                        covariance[(index, index)] = sag_variance + Correction::STRETCH_SPREAD.powi(2);
                        for other in (0..index).filter(|other| fixes[*other].is_none()) {
                            covariance[(index, other)] = sag_variance;
                            covariance[(other, index)] = sag_variance;
                        }
                    }
                },
                Which::DragToWeight => {
                    mean[index] = boat.drag_to_weight_ln;
                    with_boat[(0, index)] = ratio_variance;
                    with_boat[(1, index)] = covariance_both;
                    covariance[(index, index)] = ratio_variance;
                    for other in (0..fixes.len()).filter(|other| fixes[*other].is_none()) {
                        covariance[(index, other)] = covariance_both;
                        covariance[(other, index)] = covariance_both;
                    }
                }
                Which::Shear => covariance[(index, index)] = current.unwrap_or_default().shear_ln.powi(2),
                Which::Rotation => covariance[(index, index)] = current.unwrap_or_default().rotation_deg.powi(2),
            }
        }
        let (stated, forecast) = (current.unwrap_or_default(), CurrentError::default());
        let measured = which
            .iter()
            .map(|one| match one {
                Which::SagBias(stretch) => fixes[*stretch].is_some(),
                Which::DragToWeight => false,
                Which::Shear => stated.shear_ln < forecast.shear_ln,
                Which::Rotation => stated.rotation_deg < forecast.rotation_deg,
            })
            .collect();
        Self { which, mean, covariance, with_boat, measured }
    }

    /// Standard error of a parameter before the recorders are read.
    #[must_use]
    pub fn error(&self, index: usize) -> f64 {
        self.covariance[(index, index)].sqrt()
    }

    /// Values as parameters; what is not in the prior is 0.
    #[must_use]
    pub fn parameters(&self, values: &DVector<f64>) -> Parameters {
        let mut parameters =
            Parameters { sag_bias: Vec::new(), drag_to_weight_ln: 0.0, shear_ln: 0.0, rotation_deg: 0.0 };
        for (one, value) in self.which.iter().zip(values.iter()) {
            match one {
                Which::SagBias(_) => parameters.sag_bias.push(*value),
                Which::DragToWeight => parameters.drag_to_weight_ln = *value,
                Which::Shear => parameters.shear_ln = *value,
                Which::Rotation => parameters.rotation_deg = *value,
            }
        }
        parameters
    }
}

impl Which {
    /// Its name, as it stands in outputs.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::SagBias(_) => "sag_bias",
            Self::DragToWeight => "drag_to_weight_ln",
            Self::Shear => "shear_ln",
            Self::Rotation => "rotation_deg",
        }
    }

    /// Its stretch, from 1, for a sag ratio.
    #[must_use]
    pub fn stretch(self) -> Option<usize> {
        match self {
            Self::SagBias(stretch) => Some(stretch + 1),
            _ => None,
        }
    }

    /// What it is, in words.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::SagBias(stretch) => format!("the sag ratio of stretch {}", stretch + 1),
            Self::DragToWeight => "the gear's drag-to-weight ratio".to_owned(),
            Self::Shear => "the strength of the current".to_owned(),
            Self::Rotation => "the direction of the current".to_owned(),
        }
    }
}
