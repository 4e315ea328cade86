//! How deep every hook of a basket hangs in still water: the closed-form catenary.
//!
//! Model: the main line between two floats is an inextensible line of uniform weight; float and branch lines hang
//! plumb; no current. The depth of hook j (Yoshihara 1951, 1954; Suzuki, Warashina & Kishida 1977; SOURCE NOT CHECKED
//! in wording, derived again from the catenary; the digits agree with MoorPy 1.3.0 and SciPy 1.17.1 `solve_bvp`):
//!
//! `D = h_f + h_b + (L/2) [√(1 + cot² φ) − √((1 − 2 s/L)² + cot² φ)]`, `k = S/L = asinh(tan φ) / tan φ`
//!
//! with s the arc from the first float line, L the main line of the basket, S the span between the floats and φ the
//! angle of the main line below the horizontal at a float line. Range: 0 < k ≤ 1; k = 1 is a line drawn taut.

use serde::{Deserialize, Deserializer, Serialize};

use crate::error::{GearError, above_up_to, from_up_to};

/// Name of the model, as it stands in every output.
pub const MODEL: &str = "uniform catenary, still water";

/// A basket as it was set: what decides its shape in still water. Unknown fields of the input are passed over.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Basket {
    /// Hooks between the two floats, 1 to 1,000.
    #[serde(deserialize_with = "whole_hooks")]
    pub hooks: u32,
    /// Main line between two clips, metres.
    pub clip_spacing_m: f64,
    /// Span between the floats ÷ main line of the basket, above 0 and up to 1 (small is slack and deep).
    pub sag_ratio: f64,
    /// Length of the float lines, metres.
    pub float_line_m: f64,
    /// Length of the branch lines, metres.
    pub branch_line_m: f64,
    /// True: the float line has a clip beat of its own, hook j is j spacings from it (hooks + 1 intervals).
    /// False: the float is clipped half-way between two beats, hook j is j − ½ spacings from it (as many intervals as hooks).
    #[serde(default = "yes")]
    pub float_takes_a_beat: bool,
}

impl Basket {
    /// Refuses what a basket cannot be.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] with the field and its value.
    pub fn check(&self) -> Result<(), GearError> {
        from_up_to("hooks", f64::from(self.hooks), (1.0, 1000.0), "", "a whole number from 1 to 1000")?;
        above_up_to("clip_spacing_m", self.clip_spacing_m, (0.0, 2000.0), " m", "above 0 and up to 2000 m")?;
        above_up_to(
            "sag_ratio",
            self.sag_ratio,
            (1e-6, 1.0),
            "",
            "above 0 and up to 1 (span between floats ÷ main line)",
        )?;
        from_up_to("float_line_m", self.float_line_m, (0.0, 1000.0), " m", "from 0 to 1000 m")?;
        from_up_to("branch_line_m", self.branch_line_m, (0.0, 1000.0), " m", "from 0 to 1000 m")?;
        Ok(())
    }
}

/// A basket hanging in the water.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Hanging {
    /// The model that these numbers come from.
    pub model: String,
    /// Angle of the main line below the horizontal at the float lines, degrees.
    pub sag_angle_deg: f64,
    /// Main line between the two float lines, metres.
    pub main_line_per_basket_m: f64,
    /// Horizontal distance between the two floats, metres.
    pub float_span_m: f64,
    /// From the lower end of the float lines down to the deepest point of the main line, metres.
    pub sag_m: f64,
    /// Every hook in setting order.
    pub hooks: Vec<HookPlace>,
}

/// One hook of a hanging basket.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HookPlace {
    /// Hook position in setting order, from 1.
    pub position: u32,
    /// Unstretched main line from the first float line to this hook's clip, metres.
    pub along_m: f64,
    /// Horizontal distance from the first float towards the next, metres.
    pub horizontal_m: f64,
    /// Horizontal distance across the line between the floats, metres, right positive; 0 in still water.
    pub across_m: f64,
    /// Depth of the hook below the surface, metres.
    pub depth_m: f64,
    /// Half-width of the band that the stated errors of the input give it, metres; none where it was not asked for.
    pub band_m: Option<f64>,
    /// What most of the band comes from.
    pub band_mostly: Option<crate::band::Cause>,
}

/// Where every hook of a basket hangs.
///
/// # Errors
/// [`GearError::OutOfRange`] when a number of the basket is outside what gear can be.
pub fn hook_depths(basket: &Basket) -> Result<Hanging, GearError> {
    let shape = Shape::of(basket)?;
    let lines_m = basket.float_line_m + basket.branch_line_m;
    let lead = if basket.float_takes_a_beat { 0.0 } else { 0.5 };
    let hooks = (1..=basket.hooks)
        .map(|position| {
            let along_m = (f64::from(position) - lead) * basket.clip_spacing_m;
            let (horizontal_m, drop_m) = shape.at(along_m);
            HookPlace {
                position,
                along_m,
                horizontal_m,
                across_m: 0.0,
                depth_m: lines_m + drop_m,
                band_m: None,
                band_mostly: None,
            }
        })
        .collect();
    Ok(Hanging {
        model: MODEL.to_owned(),
        sag_angle_deg: shape.tangent.atan().to_degrees(),
        main_line_per_basket_m: shape.line_m,
        float_span_m: shape.line_m * basket.sag_ratio,
        sag_m: shape.at(shape.line_m / 2.0).1,
        hooks,
    })
}

/// The same with the band that an error of the sag ratio gives every hook; current is not in it.
///
/// # Errors
/// As [`hook_depths`].
pub fn hook_depths_with_band(basket: &Basket, sag_ratio_error: f64) -> Result<Hanging, GearError> {
    from_up_to("errors.sag_ratio", sag_ratio_error, (0.0, 0.5), "", "from 0 to 0.5")?;
    let mut hanging = hook_depths(basket)?;
    let at = |error: f64| hook_depths(&Basket { sag_ratio: (basket.sag_ratio + error).clamp(1e-5, 1.0), ..*basket });
    let (slack, drawn) = (at(-sag_ratio_error)?, at(sag_ratio_error)?);
    for ((hook, slack), drawn) in hanging.hooks.iter_mut().zip(&slack.hooks).zip(&drawn.hooks) {
        let off = |other: &HookPlace| (other.depth_m - hook.depth_m).abs();
        hook.band_m = Some(off(slack).max(off(drawn)));
        hook.band_mostly = Some(crate::band::Cause::SagRatio);
    }
    Ok(hanging)
}

/// The main line of a basket for drawing: `points` (at least 2) of `(horizontal_m, depth_m)`, evenly along the line
/// from the lower end of one float line to that of the next.
///
/// # Errors
/// As [`hook_depths`].
pub fn main_line_shape(basket: &Basket, points: u32) -> Result<Vec<(f64, f64)>, GearError> {
    let shape = Shape::of(basket)?;
    let steps = points.max(2) - 1;
    Ok((0..=steps)
        .map(|step| {
            let (horizontal_m, drop_m) = shape.at(shape.line_m * f64::from(step) / f64::from(steps));
            (horizontal_m, basket.float_line_m + drop_m)
        })
        .collect())
}

/// How far the main line of a basket hangs below the lower ends of its float lines, metres, `arc_m` metres of unstretched
/// line from the first of them. `sag_ratio` in (0, 1]; 1 is a taut line. For arcs that no even clip spacing gives.
#[must_use]
pub fn drop_at_m(main_line_m: f64, sag_ratio: f64, arc_m: f64) -> f64 {
    Shape { line_m: main_line_m, tangent: tangent_of_sag_angle(sag_ratio) }.at(arc_m).1
}

/// The catenary of one basket.
struct Shape {
    line_m: f64,
    /// tan φ at the float lines.
    tangent: f64,
}

impl Shape {
    fn of(basket: &Basket) -> Result<Self, GearError> {
        basket.check()?;
        let intervals = basket.hooks + u32::from(basket.float_takes_a_beat);
        Ok(Self {
            line_m: f64::from(intervals) * basket.clip_spacing_m,
            tangent: tangent_of_sag_angle(basket.sag_ratio),
        })
    }

    /// `(horizontal, drop)` from the lower end of the first float line after an arc along the main line, metres.
    fn at(&self, along_m: f64) -> (f64, f64) {
        let (half_m, t) = (self.line_m / 2.0, self.tangent);
        let u = 1.0 - along_m / half_m;
        // The difference of the two roots, multiplied out: no digits are lost as the line comes taut (t → 0).
        let drop_m = half_m * t * (1.0 - u * u) / (t.hypot(1.0) + (t * u).hypot(1.0));
        let horizontal_m = if t > 0.0 { half_m * (t.asinh() - (t * u).asinh()) / t } else { half_m * (1.0 - u) };
        (horizontal_m, drop_m)
    }
}

/// tan φ at the float lines for a sag ratio in (0, 1]: the root t of asinh(t) = k t.
pub(crate) fn tangent_of_sag_angle(sag_ratio: f64) -> f64 {
    let slack = 1.0 - sag_ratio;
    if slack <= 0.0 {
        return 0.0;
    }
    if slack < 1e-3 {
        return taut_tangent(slack);
    }
    // asinh(t)/t falls steadily from 1, so a bracket in ln t always holds the root.
    let (mut low, mut high) = (1e-2_f64.ln(), 1e9_f64.ln());
    let mut log_t = (6.0 * slack).sqrt().max((1.0 / sag_ratio) * (2.0 / sag_ratio).ln()).ln().clamp(low, high);
    for _ in 0..100 {
        let t = log_t.exp();
        let excess = t.asinh() / t - sag_ratio;
        if excess > 0.0 {
            low = log_t
        } else {
            high = log_t
        }
        // d(asinh(t)/t) / d(ln t)
        let slope = 1.0 / t.hypot(1.0) - t.asinh() / t;
        let newton = log_t - excess / slope;
        let next = if newton > low && newton < high { newton } else { f64::midpoint(low, high) };
        let step = (next - log_t).abs();
        log_t = next;
        if step < 1e-16 * log_t.abs().max(1.0) {
            break;
        }
    }
    log_t.exp()
}

/// The root for a nearly taut line: 1 − asinh(t)/t = x/6 − 3x²/40 + 5x³/112 − 35x⁴/1152 + 63x⁵/2816 with x = t².
fn taut_tangent(slack: f64) -> f64 {
    let series =
        |x: f64| x * (1.0 / 6.0 - x * (3.0 / 40.0 - x * (5.0 / 112.0 - x * (35.0 / 1152.0 - x * 63.0 / 2816.0))));
    let slope = |x: f64| 1.0 / 6.0 - x * (3.0 / 20.0 - x * (15.0 / 112.0 - x * (35.0 / 288.0 - x * 315.0 / 2816.0)));
    let mut x = 6.0 * slack;
    for _ in 0..6 {
        x -= (series(x) - slack) / slope(x);
    }
    x.max(0.0).sqrt()
}

const fn yes() -> bool {
    true
}

/// A number of hooks, also when it is written 25.0.
fn whole_hooks<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u32, D::Error> {
    let value = f64::deserialize(deserializer)?;
    if value.fract() == 0.0 && (1.0..=1000.0).contains(&value) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and within 1 to 1000")]
        return Ok(value as u32);
    }
    Err(serde::de::Error::custom(format!("hooks is {value}; it must be a whole number from 1 to 1000")))
}
