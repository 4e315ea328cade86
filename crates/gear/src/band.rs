//! How sure a depth is: the band that errors of the input give each hook, and which of them most of it comes from.
//!
//! Each input is changed by its standard error, up and down, and the basket solved anew (so that the square of the
//! current and the steepness near a taut line count in full); the larger change of the two is that input's part, and the
//! parts add as squares. The errors of the current at the surface and at the deepest hook are taken as independent and
//! linear between: half their difference and their mean then each have the stated error ÷ √2. The difference is a shear
//! along and one across the line; the mean moves a drifting gear as a whole and counts only for held ends.

use serde::{Deserialize, Serialize};

use crate::catenary::HookPlace;
use crate::error::{GearError, from_up_to};
use crate::hang::{EndsHeld, Ready, Start};
use crate::shape::Shape;

/// Standard errors of the input.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct InputErrors {
    /// Of the sag ratio; 0.02 when left out (a judgement: 0.01 with positions of the floats, 0.02 to 0.03 without).
    pub sag_ratio: f64,
    /// Of the weights in water, as a share; 0.20 when left out (a judgement, for gear that was not weighed).
    pub weight_share: f64,
    /// Of the drag, as a share; 0.15 when left out (a judgement).
    pub drag_share: f64,
    /// Of the current at each level, m/s; 0.07 when left out (a judgement, for a profile out of a model).
    pub current_m_s: f64,
}

impl Default for InputErrors {
    fn default() -> Self {
        Self { sag_ratio: 0.02, weight_share: 0.20, drag_share: 0.15, current_m_s: 0.07 }
    }
}

impl InputErrors {
    pub(crate) fn check(&self) -> Result<(), GearError> {
        from_up_to("errors.sag_ratio", self.sag_ratio, (0.0, 0.5), "", "from 0 to 0.5")?;
        from_up_to("errors.weight_share", self.weight_share, (0.0, 0.9), "", "from 0 to 0.9")?;
        from_up_to("errors.drag_share", self.drag_share, (0.0, 0.9), "", "from 0 to 0.9")?;
        from_up_to("errors.current_m_s", self.current_m_s, (0.0, 1.0), " m/s", "from 0 to 1 m/s")?;
        Ok(())
    }
}

/// What a band mostly comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The sag ratio.
    SagRatio,
    /// The weights in water.
    Weight,
    /// The drag of the lines.
    Drag,
    /// The current.
    Current,
}

impl Cause {
    /// In words, as in "± 31 m, mostly current".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::SagRatio => "sag ratio",
            Self::Weight => "weights",
            Self::Drag => "drag",
            Self::Current => "current",
        }
    }
}

/// Half-width of the band of each hook, metres, and its main cause. None when a changed basket cannot be solved.
pub(crate) fn bands(
    ready: &Ready,
    start: &Start,
    hooks: &[HookPlace],
    errors: &InputErrors,
) -> Option<Vec<(f64, Cause)>> {
    let mut squares = vec![[0.0_f64; 4]; hooks.len()];
    for (cause, pair) in changes(ready, hooks, errors) {
        let mut most = vec![0.0_f64; hooks.len()];
        for changed in pair {
            let (solved, _) = changed.solve(Some(start)).ok()?;
            let shape = Shape::of(&changed.strand, &changed.profile, &solved.ends, &solved.pull);
            for ((most, hook), moved) in most.iter_mut().zip(hooks).zip(changed.hooks(&shape, &solved.ends)) {
                *most = most.max((moved.depth_m - hook.depth_m).abs());
            }
        }
        for (square, most) in squares.iter_mut().zip(most) {
            square[cause as usize] += most * most;
        }
    }
    let causes = [Cause::SagRatio, Cause::Weight, Cause::Drag, Cause::Current];
    let band = |parts: &[f64; 4]| {
        let mut mostly = causes[0];
        for cause in causes {
            if parts[cause as usize] > parts[mostly as usize] {
                mostly = cause;
            }
        }
        (parts.iter().sum::<f64>().sqrt(), mostly)
    };
    Some(squares.iter().map(band).collect())
}

/// The basket with each input changed up and down.
fn changes(ready: &Ready, hooks: &[HookPlace], errors: &InputErrors) -> Vec<(Cause, Vec<Ready>)> {
    let mut all = Vec::new();
    let mut add = |cause, error: f64, change: &dyn Fn(&mut Ready, f64)| {
        if error > 0.0 {
            let pair = [error, -error].map(|error| {
                let mut changed = ready.clone();
                change(&mut changed, error);
                changed
            });
            all.push((cause, Vec::from(pair)));
        }
    };
    add(Cause::SagRatio, errors.sag_ratio, &|changed, error| {
        let most = 1.0 - 0.1 * (1.0 - ready.basket.sag_ratio);
        let least = 0.1 * ready.basket.sag_ratio;
        changed.basket.sag_ratio = (ready.basket.sag_ratio + error).clamp(least, most);
    });
    add(Cause::Weight, errors.weight_share, &|changed, error| changed.strand = ready.strand.scaled(1.0 + error, 1.0));
    add(Cause::Drag, errors.drag_share, &|changed, error| {
        changed.strand = ready.strand.scaled(1.0, 1.0 + error);
        changed.tether = ready.tether.scaled(1.0 + error);
    });
    let current_m_s = errors.current_m_s * std::f64::consts::FRAC_1_SQRT_2;
    let deepest_m = hooks.iter().map(|hook| hook.depth_m).fold(1.0, f64::max);
    for axis in 0..2 {
        let on_axis = |value: f64| if axis == 0 { [value, 0.0] } else { [0.0, value] };
        add(Cause::Current, current_m_s, &|changed, error| {
            changed.profile = ready.profile.with_added(deepest_m, on_axis(error), on_axis(-error));
        });
        if ready.options.ends == EndsHeld::Fixed {
            add(Cause::Current, current_m_s, &|changed, error| {
                changed.profile = ready.profile.with_added(deepest_m, on_axis(error), on_axis(error));
            });
        }
    }
    all
}
